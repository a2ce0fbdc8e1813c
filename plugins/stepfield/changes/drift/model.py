"""What is different in a clinic that adopted a set: plain data, the same for the terminal, other programs and pages."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from ...checks.deviations import Effect, Graded

_GRADED_AS = {"sterile": "needs", "barrier": "fluid_proof"}
"""Fields that are graded under another name."""


@dataclass(frozen=True, slots=True)
class Field:
    """One field that differs: what the shared text says, and what is said here, as a file would write it.

    Empty where nothing is said. ``value`` is equal for two clinics that say the same here.
    """

    name: str
    before: str
    after: str
    value: str


@dataclass(frozen=True, slots=True)
class Agreement:
    """Why something is different, who agreed to it and when, and until when; empty or None where it is not said.

    ``days_left`` counts from today to ``until``; below 0 it has expired.
    """

    because: str = ""
    by: str = ""
    on: datetime.date | None = None
    until: datetime.date | None = None
    days_left: int | None = None

    @property
    def expired(self) -> bool:
        """Whether it was agreed for a while that is over."""
        return self.days_left is not None and self.days_left < 0


@dataclass(frozen=True, slots=True)
class Difference:
    """One local change that takes effect.

    ``kind`` is set, drop or add for a step; thing for what has other attributes here, or new-thing. ``name`` is the
    step or the thing, ``title`` what it says to do, or is called, in the shared text. ``fields`` are those that differ;
    ``told`` is what a step that is left out or added does, or what a new thing is. ``grades`` come with the gravest
    first; ``roles`` are those it concerns, nobody in particular if empty.
    """

    kind: str
    protocol: str | None
    name: str
    title: str
    fields: tuple[Field, ...]
    told: tuple[str, ...]
    grades: tuple[Graded, ...]
    agreement: Agreement
    path: str
    line: int
    roles: frozenset[str] = frozenset()
    value: str = ""
    """For a whole step or thing: equal for two clinics that do the same with it."""

    @property
    def is_whole(self) -> bool:
        """Whether all of a step or thing is left out or added, so that no single field is told."""
        return self.kind in ("drop", "add", "new-thing")

    @property
    def effect(self) -> Effect:
        """The gravest of its grades."""
        return self.grades[0].effect

    def effect_of(self, field: str) -> Effect:
        """The gravest grade of one of its fields; that of the whole where it is not told by fields."""
        by_field = {one.name: _GRADED_AS.get(one.name, one.name) for one in self.fields}
        if any(one.effect is not Effect.NEUTRAL and one.field not in by_field.values() for one in self.grades):
            return self.effect
        return max((one.effect for one in self.grades if one.field == by_field[field]), default=Effect.NEUTRAL)

    @property
    def reasons(self) -> tuple[str, ...]:
        """Why it has its grade, each reason once; empty where nothing is to be said."""
        told = (one.reason for one in self.grades if one.effect is self.effect and one.reason)
        return tuple(dict.fromkeys(told))


@dataclass(frozen=True, slots=True)
class Settled:
    """A choice that is settled here for good; ``never`` are the steps that are done no more, as name and text."""

    choice: str
    option: str
    title: str
    option_title: str
    never: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class ProtocolDrift:
    """One protocol beside the shared text.

    ``state`` is shared, own (the shared set does not have it), left-out or unreadable. ``things`` are the things that
    it uses and that differ here.
    """

    id: str
    title: str
    state: str
    differences: tuple[Difference, ...] = ()
    settled: tuple[Settled, ...] = ()
    things: tuple[Difference, ...] = ()

    @property
    def differs(self) -> bool:
        """Whether anything in it is not as the shared text has it."""
        return self.state != "shared" or bool(self.differences or self.settled or self.things)


@dataclass(frozen=True, slots=True)
class Renamed:
    """A role that is called otherwise here."""

    role: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Missed:
    """What could not be taken into account, with its place: a difference may hide there."""

    message: str
    path: str
    line: int


@dataclass(frozen=True, slots=True)
class Drift:
    """A clinic beside the set it adopted, as of a day."""

    clinic: str
    baseline: str
    version: str
    today: datetime.date
    protocols: tuple[ProtocolDrift, ...]
    things: tuple[Difference, ...] = ()
    renamed: tuple[Renamed, ...] = ()
    missed: tuple[Missed, ...] = ()
    unread: Missed | None = None
    """Why it is not known what is different, because tailoring.yaml cannot be read; None if it can or is not there."""

    @property
    def differences(self) -> tuple[Difference, ...]:
        """Every local change of a step or thing: what has expired first, then by grade, the looser ones first."""
        found = [*self.things, *(one for protocol in self.protocols for one in protocol.differences)]
        return tuple(sorted(found, key=lambda one: (not one.agreement.expired, -one.effect)))

    @property
    def settled(self) -> tuple[tuple[ProtocolDrift, Settled], ...]:
        """Every choice that is settled for good, with its protocol."""
        return tuple((protocol, one) for protocol in self.protocols for one in protocol.settled)

    def in_state(self, state: str) -> tuple[ProtocolDrift, ...]:
        """The protocols of a state."""
        return tuple(one for one in self.protocols if one.state == state)
