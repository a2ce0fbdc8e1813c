"""A change that changes nothing is never told, and never hides or moves a slip that is there."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import replace

import pytest

from stepfield.checks import check_set
from stepfield.language.model import Protocol, ProtocolSet
from tests.demo.changes import TODAY
from tests.mutation.neutral import changes_of
from tests.mutation.shares import clean_protocols, told_of
from tests.mutation.slips import KINDS

CLEAN = [pytest.param(within, whole, id=whole.id) for within, whole in clean_protocols()]


def findings_of(changed: Protocol, within: ProtocolSet) -> Counter[tuple[str, str | None, str | None, bool]]:
    """Everything found, notes included."""
    found = check_set(replace(within, protocols=(changed,)), TODAY).findings
    return Counter((one.rule, one.step, one.subject, one.always) for one in found)


def in_new_names(
    found: Counter[tuple[str, str | None, str | None, bool]], names: Mapping[str, str]
) -> Counter[tuple[str, str | None, str | None, bool]]:
    return Counter(
        {
            (rule, names.get(str(step), step), names.get(str(subject), subject), always): count
            for (rule, step, subject, always), count in found.items()
        }
    )


@pytest.mark.parametrize(("within", "whole"), CLEAN)
def test_a_neutral_change_of_a_clean_protocol_is_never_told(within: ProtocolSet, whole: Protocol) -> None:
    tried = {what: findings_of(changed, within) for what, changed, _ in changes_of(whole)}
    assert len(tried) > 5
    assert {what: dict(found) for what, found in tried.items() if found != findings_of(whole, within)} == {}


@pytest.mark.parametrize("kind", ["reset dropped", "neighbours swapped", "wrong hands", "glove change skipped"])
@pytest.mark.parametrize(("within", "whole"), CLEAN)
def test_a_slip_is_told_alike_after_a_neutral_change(within: ProtocolSet, whole: Protocol, kind: str) -> None:
    slips = list(KINDS[kind](whole))
    for place, slipped in slips[:: max(1, len(slips) // 3)]:
        found = findings_of(slipped, within)
        for what, changed, names in list(changes_of(slipped))[:5]:
            assert findings_of(changed, within) == in_new_names(found, names), (place, what)


def test_the_comparison_can_fail() -> None:
    """A protocol with a slip is not told as a clean one."""
    within, whole = next(clean_protocols())
    slipped = next(
        slipped for place, slipped in KINDS["reset dropped"](whole) if told_of("reset dropped")[f"{whole.id} {place}"]
    )
    assert findings_of(slipped, within) != findings_of(whole, within)
