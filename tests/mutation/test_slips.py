"""Every kind of slip at every place of clean protocols: it is told, or stands in the table with its reason.

There is no outside source for which slips matter: the language is our own. The reasons in survivors.yaml say, for each
slip that stays unseen, why nobody is harmed or what the language has no word for.
"""

from __future__ import annotations

from collections.abc import Callable
from fnmatch import fnmatchcase

import pytest

from tests.mutation.shares import clean_protocols, is_told, rows_for, share_of, table, told_of
from tests.mutation.slips import KINDS

CHECKS_THEMSELVES = {"need lowered", "fact not asked for", "field ended early"}
"""Kinds that take a check away and do nothing else: nothing in the protocol is left to tell them by."""


def test_the_protocols_are_clean_to_begin_with() -> None:
    assert [whole.id for within, whole in clean_protocols() if is_told(whole, within)] == []


@pytest.mark.parametrize("kind", KINDS)
def test_what_stays_unseen_is_just_what_the_table_says(
    kind: str, record_property: Callable[[str, object], None]
) -> None:
    told = told_of(kind)
    unseen = {place for place, seen in told.items() if not seen}
    assert {place for place in told if rows_for(kind, place)} == unseen
    assert [place for place in unseen if len(rows_for(kind, place)) > 1] == []
    globs = [glob for row in table() if row.kind == kind for glob in row.where]
    assert [glob for glob in globs if not any(fnmatchcase(place, glob) for place in told)] == []
    share = share_of(kind)
    record_property("share found", str(share))
    assert share.tried > 0
    assert (share.found > 0) == (kind not in CHECKS_THEMSELVES)


def test_every_row_is_about_a_kind_that_is_tried_and_says_why() -> None:
    assert {row.kind for row in table()} <= set(KINDS)
    assert all(len(row.because.split()) > 5 for row in table())


def test_there_are_many_kinds() -> None:
    assert len(KINDS) >= 12
