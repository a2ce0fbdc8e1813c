"""What changed since the last approved text of a set: a tag of its history, or a copy that was kept."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from ..language import ProtocolSet, set_of, take_in
from .history import HistoryError, newest_tag, taken_from
from .model import Review
from .review import review_sets

KEPT = "approved"
"""The folder beside the site's settings in which a copy of the approved set is looked for, if nothing is named."""
NEWEST_TAG = "newest-tag"
"""What is named to compare with the newest tag of the history."""


@dataclass(frozen=True, slots=True)
class Since:
    """What changed since an earlier text, called ``named``; ``approved`` says who approved each protocol then."""

    named: str
    review: Review
    approved: Mapping[str, str | None]


def since_approved(
    named: str, home: Path, folder: Path, shown: str, new: ProtocolSet, today: datetime.date
) -> Since | None:
    """Compares a set with its last approved text; None if none is named and none is kept.

    ``named`` is a tag, commit or branch, a folder seen from ``home``, NEWEST_TAG, or empty for the kept copy. Raises
    HistoryError if what is named can't be had.
    """
    kept = home / (named or KEPT)
    if (kept / "clinic.yaml").is_file():
        old, name = set_of(take_in(kept, shown)), named or KEPT
    elif not named:
        return None
    else:
        name = newest_tag(folder) if named == NEWEST_TAG else named
        old = set_of(taken_from(folder, name))
    approved = {
        one.id: None if one.approved is None else f"{one.approved.by}, {one.approved.date.isoformat()}"
        for one in old.protocols
    }
    return Since(name, review_sets(old, new, (name, "now"), today), approved)


__all__ = ["KEPT", "NEWEST_TAG", "HistoryError", "Since", "since_approved"]
