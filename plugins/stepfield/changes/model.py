"""What a change is: plain data, the same for every form a review is written in."""

from __future__ import annotations

from dataclasses import dataclass, field

from ..checks import Finding
from .grades import Grade


@dataclass(frozen=True, slots=True)
class Detail:
    """One field that differs.

    ``lost`` and ``gained`` are the phrases that went and came, ``reason`` says why it has its grade.
    """

    field: str
    grade: Grade
    reason: str
    lost: tuple[str, ...] = ()
    gained: tuple[str, ...] = ()

    @property
    def say(self) -> str:
        """What changed, in a few plain words."""
        told = [f"no longer: {phrase}" for phrase in self.lost] + [f"new: {phrase}" for phrase in self.gained]
        return "; ".join(told)


@dataclass(frozen=True, slots=True)
class Change:
    """Something of one protocol that is there no longer, is new, or differs.

    ``what`` is step, thing, choice, phase, team, requirement or protocol; ``kind`` is added, removed, moved, reworded
    or changed. ``name`` is what it is called now (or was, if removed), ``was`` what it was called if that differs.
    ``own`` are the roles whose own work it is, ``near`` those that wait for it or are handed something.
    ``part`` is the shared text it stands in.
    """

    what: str
    kind: str
    name: str
    details: tuple[Detail, ...]
    was: str | None = None
    title: str = ""
    own: tuple[str, ...] = ()
    near: tuple[str, ...] = ()
    part: str | None = None
    line: int = 1
    path: str = ""

    @property
    def grade(self) -> Grade:
        """The gravest of its details."""
        return max(detail.grade for detail in self.details)


@dataclass(frozen=True, slots=True)
class Duty:
    """What changes for one role: in its own work and in what it waits for; ``must_read`` if not only words changed."""

    role: str
    title: str
    own: tuple[Change, ...]
    near: tuple[Change, ...]

    @property
    def must_read(self) -> bool:
        """Whether whoever has this role must read the protocol again."""
        return any(change.grade >= Grade.WORKING for change in (*self.own, *self.near))


@dataclass(frozen=True, slots=True)
class Version:
    """Whether the version was raised as the grade of the change asks; ``asked`` is patch, minor, major or None."""

    before: str | None
    after: str | None
    asked: str | None
    raised: bool


@dataclass(frozen=True, slots=True)
class PhaseView:
    """One phase that a change touches, as lines of text before and after; numbers count from 0, None if not there."""

    id: str
    title: str
    before: tuple[str, ...]
    after: tuple[str, ...]
    number_before: int | None
    number_after: int | None


@dataclass(frozen=True, slots=True)
class Reviewed:
    """What a change does to one protocol; ``state`` is added, removed, changed, or unreadable (not to be compared)."""

    protocol: str
    title: str
    state: str
    changes: tuple[Change, ...]
    duties: tuple[Duty, ...] = ()
    version: Version = Version(None, None, None, True)
    phases: tuple[PhaseView, ...] = ()

    @property
    def grade(self) -> Grade | None:
        """The gravest of its changes; None if nothing changed that anybody works by."""
        return max((change.grade for change in self.changes), default=None)


@dataclass(frozen=True, slots=True)
class Review:
    """What a change of a protocol set does: to its protocols, and to the findings of a check of it."""

    base: str
    head: str
    protocols: tuple[Reviewed, ...]
    appeared: tuple[Finding, ...]
    vanished: tuple[Finding, ...]
    unraised: tuple[Finding, ...] = ()
    clinic: tuple[Change, ...] = field(default=())

    @property
    def grade(self) -> Grade | None:
        """The gravest change of all protocols; None if nothing changed."""
        found = [one.grade for one in self.protocols] + [change.grade for change in self.clinic]
        return max((grade for grade in found if grade is not None), default=None)
