"""What the pages show of a protocol and its steps: plain data, every sentence ready, every link written."""

from __future__ import annotations

from dataclasses import dataclass

from .local import Mark as LocalMark


@dataclass(frozen=True, slots=True)
class Link:
    """Words that lead somewhere."""

    text: str
    href: str


@dataclass(frozen=True, slots=True)
class Mark:
    """What marks a protocol that is not for use: the word and what it means; ``kind`` chooses the look."""

    kind: str
    word: str
    meaning: str


@dataclass(frozen=True, slots=True)
class Standing:
    """Version, status and approval of a protocol, as shown on each of its pages and on paper."""

    version: str
    status: str
    owner: str
    approved: str | None
    review_by: str | None
    marks: tuple[Mark, ...]


@dataclass(frozen=True, slots=True)
class Warn:
    """A caution: the kind (as the file says it), its signal word and the text."""

    kind: str
    word: str
    text: str


@dataclass(frozen=True, slots=True)
class WaitView:
    """What a step waits for.

    ``done`` completes "until <who> has …"; where it can't be said so, it is None and ``quote`` is the step's text.
    ``answer`` is the one that must not have been given.
    """

    who: str
    done: str | None
    quote: str
    number: int
    href: str
    only_if: tuple[str, ...]
    answer: str | None


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer to a question; ``back`` is the step one then goes back to, ``leads`` the steps that follow from it."""

    text: str
    back: Link | None
    leads: tuple[Link, ...]


@dataclass(frozen=True, slots=True)
class Asked:
    """A question and its answers."""

    question: str
    answers: tuple[Answer, ...]


@dataclass(frozen=True, slots=True)
class HandOver:
    """Something goes from hand to hand, or one person puts it on another.

    ``kind`` is "give" or "dress"; ``inward`` tells that the reader of the page receives.
    """

    kind: str
    thing: str
    giver: str
    taker: str
    place: str
    inward: bool


@dataclass(frozen=True, slots=True)
class StepView:
    """One step as a page shows it; what is empty is not shown."""

    id: str
    anchor: str | None
    number: int
    href: str
    """The same step on the other kind of page."""
    do: str
    """The first sentence of what is to be done; ``more`` is the rest."""
    more: str
    why: str | None
    owner: str
    owner_id: str
    helpers: tuple[str, ...]
    is_own: bool
    only_if: tuple[str, ...]
    requires: tuple[str, ...]
    cautions: tuple[Warn, ...]
    waits: tuple[WaitView, ...]
    bounds: tuple[str, ...]
    takes: str | None
    waited_by: tuple[str, ...]
    asked: Asked | None
    records: tuple[str, ...]
    hand_overs: tuple[HandOver, ...]
    needs: tuple[str, ...]
    confirms: tuple[str, ...]
    ends_field: bool
    meets: tuple[str, ...]
    local: tuple[LocalMark, ...]
    """What marks it as different from the shared protocol."""


@dataclass(frozen=True, slots=True)
class Arrival:
    """Something another role does to the reader outside their own steps: a hand-over, and the step it happens in."""

    hand_over: HandOver
    number: int
    href: str
    local: tuple[LocalMark, ...] = ()


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of a role's part: a step of theirs, or what arrives between two of them."""

    step: StepView | None
    arrival: Arrival | None


@dataclass(frozen=True, slots=True)
class PhaseView:
    """One phase as a page shows it. ``picture`` is the finished diagram, where the page has one."""

    number: int
    anchor: str
    title: str
    cautions: tuple[Warn, ...]
    entries: tuple[Entry, ...]
    after: str | None
    """The title of the phase that everybody has finished by now; None for the first."""
    picture: str | None = None

    @property
    def steps(self) -> tuple[StepView, ...]:
        """The steps of it that the page shows."""
        return tuple(entry.step for entry in self.entries if entry.step is not None)


@dataclass(frozen=True, slots=True)
class Banner:
    """What stands over the content: ``kind`` is "error" or "unproved"; each line with the place that tells more."""

    kind: str
    lines: tuple[Link, ...]
    more: int
    href: str
