"""What can become of an entry of tailoring.yaml: plain data."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum

from ..checks.deviations import FIELDS
from ..language.model import Step
from ..language.names import listed, near
from .entries import Entry

ALL = (*FIELDS, "sterile")
"""Every field of a step but its name."""
WORDS = frozenset({"do", "why"})
REASONS = frozenset({"because", "agreed", "until"})
"""What an entry says of itself, beside what it changes."""
UNSAID = "not said"
SAME = "the baseline says the same now"
CHANGED = "the baseline has changed what this entry sets"


class Fate(Enum):
    """What becomes of an entry."""

    FITS = "fits"
    NEEDLESS = "needless"
    MEETS = "meets a change"
    LOST = "lost"
    LOST_BEFORE = "lost before"


@dataclass(frozen=True, slots=True)
class Row:
    """One field side by side: in the baseline before, in the baseline now, and here; as a file would write it."""

    field: str
    before: str
    now: str
    ours: str


@dataclass(frozen=True, slots=True)
class Met:
    """An entry and what becomes of it.

    ``rows`` are the fields it shares with a change of the baseline, ``beside`` other changes in the same step.
    ``needless`` are those of its fields in which the baseline now says the same.
    """

    entry: Entry
    fate: Fate
    why: str
    rows: tuple[Row, ...] = ()
    beside: tuple[Row, ...] = ()
    needless: tuple[str, ...] = ()
    now: Step | None = None
    """The step it is about, as the newer baseline has it."""

    @property
    def asks(self) -> bool:
        """Whether somebody has to decide."""
        return self.fate in (Fate.MEETS, Fate.LOST)


def nearest(name: str, known: Iterable[str]) -> str:
    """What names come near one that is not there, to go on behind a sentence."""
    close = near(name, set(known))
    return f"; the nearest name is {listed(close)}" if close else ""
