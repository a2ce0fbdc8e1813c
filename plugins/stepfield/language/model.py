"""What a protocol set is: frozen values that know where they were written. Standard library only."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum, IntEnum
from typing import TYPE_CHECKING

from .quantities import Limit, Quantity
from .source import Problem, Span, Text

if TYPE_CHECKING:
    from .tailored import Tailoring, Upstream

PERSON_PARTS = ("hands", "body", "face", "head", "feet")


class Level(IntEnum):
    """How far a thing is from carrying germs to the patient; higher is better."""

    CONTAMINATED = 0
    CLEAN = 1
    DISINFECTED = 2
    STERILE = 3

    @property
    def word(self) -> str:
        """The level as the language writes it."""
        return self.name.lower()


class Kind(Enum):
    """What sort of subject a name stands for."""

    PERSON = "part of a person"
    SURFACE = "surface"
    SITE = "site"
    ITEM = "item"
    PACK = "pack"


@dataclass(frozen=True, slots=True)
class Subject:
    """Anything that has a level: a part of a person, a surface, a site of the patient, an item or a pack's wrapper."""

    name: Text
    kind: Kind
    title: str
    starts: Level
    worn_on: str | None = None
    fluid_proof: bool = False
    count: int = 1
    counted: bool = False
    sharp: bool = False
    sharps: bool = False
    reusable: bool = False
    hazard: str | None = None
    spare: int = 0
    held_in: str | None = None
    """The pack that holds it; it is not available before that pack is opened."""
    role: str | None = None
    """For a part of a person: whose."""


@dataclass(frozen=True, slots=True)
class Role:
    """One role of the clinic."""

    id: Text
    title: str


@dataclass(frozen=True, slots=True)
class Person:
    """One person who has several roles at once: one pair of hands."""

    id: Text
    roles: tuple[Text, ...]


@dataclass(frozen=True, slots=True)
class Clinic:
    """What clinic.yaml says: the clinic's name, its roles and the surfaces every protocol shares."""

    name: str
    language: str
    roles: tuple[Role, ...]
    surfaces: tuple[Subject, ...]
    notice: str | None
    path: str
    people: tuple[Person, ...] = ()
    """Those who have several roles; whoever has one role is not named."""


@dataclass(frozen=True, slots=True)
class Choice:
    """Something settled before the case starts; ``options`` are (id, title) pairs in written order."""

    id: Text
    title: str
    options: tuple[tuple[Text, str], ...]


@dataclass(frozen=True, slots=True)
class Condition:
    """``name`` (a choice, or a step that asks) must stand at one of ``options``."""

    name: Text
    options: tuple[Text, ...]


@dataclass(frozen=True, slots=True)
class Need:
    """The step may only be done while ``subject`` is at least at ``level``."""

    subject: Text
    level: Level


@dataclass(frozen=True, slots=True)
class Effect:
    """One thing a step does. ``field`` is the YAML field; ``thing`` the list entry or key, ``target`` the value.

    ``level`` is set for fields whose values are levels (``makes``), and ``target`` is then None.
    """

    field: str
    thing: Text
    target: Text | None = None
    level: Level | None = None


@dataclass(frozen=True, slots=True)
class Question:
    """What a step asks, and the answers it may get."""

    question: Text
    answers: tuple[Text, ...]


@dataclass(frozen=True, slots=True)
class Repeat:
    """At ``answer`` the asking step's lane goes back to ``start``."""

    start: Text
    answer: Text


@dataclass(frozen=True, slots=True)
class Duration:
    """How long something takes, in seconds; least <= likely <= most."""

    least: float
    likely: float
    most: float
    span: Span


@dataclass(frozen=True, slots=True)
class Wait:
    """A time bound against the end of ``step``: at least (``waits``) or at most (``within``) ``seconds``."""

    step: Text
    seconds: float


@dataclass(frozen=True, slots=True)
class Kept:
    """The value with which a step answers a requirement that limits no time."""

    requirement: Text
    amount: Quantity
    span: Span


@dataclass(frozen=True, slots=True)
class Caution:
    """A warning that belongs before its step, or before every step of its phase."""

    kind: Text
    text: Text


@dataclass(frozen=True, slots=True)
class Step:
    """One step, as it stands after parts are unfolded: all names are the protocol's own.

    ``effects`` are in the order in which they happen, whatever order they were written in. ``used_at`` are the places
    of the ``use`` entries it came through, outermost first; empty for a step written in the protocol itself.
    ``helpers`` has nobody twice and never the owner.
    """

    id: Text
    role: Text | None
    helpers: tuple[Text, ...]
    do: Text
    why: Text | None
    after: tuple[Text, ...]
    when: tuple[Condition, ...]
    needs: tuple[Need, ...]
    requires: tuple[Text, ...]
    effects: tuple[Effect, ...]
    confirms: tuple[Text, ...]
    withdraws: tuple[Text, ...]
    asks: Question | None
    repeat: Repeat | None
    takes: Duration | None
    waits: tuple[Wait, ...]
    within: tuple[Wait, ...]
    cautions: tuple[Caution, ...]
    records: tuple[Text, ...]
    meets: tuple[Text, ...]
    ignition: bool
    ends_field: bool
    span: Span
    used_at: tuple[Span, ...] = ()
    part: str | None = None
    """The id of the part whose file the step is written in."""
    keeps: tuple[Kept, ...] = ()
    """Values it keeps; what they answer stands in ``meets`` as well."""


@dataclass(frozen=True, slots=True)
class Phase:
    """A stretch of the case; every step of it comes after every step of the phases before."""

    id: Text
    title: str
    cautions: tuple[Caution, ...]
    steps: tuple[Step, ...]


@dataclass(frozen=True, slots=True)
class Approval:
    """Who approved this version, and when."""

    by: str
    date: datetime.date
    span: Span


@dataclass(frozen=True, slots=True)
class Protocol:
    """One protocol with its parts unfolded. ``subjects`` holds all a step may name, people's parts included."""

    id: str
    path: str
    span: Span
    title: Text
    purpose: str
    version: Text
    status: Text
    owner: str
    approved: Approval | None
    review_by: tuple[datetime.date, Span] | None
    team: tuple[Text, ...]
    choices: tuple[Choice, ...]
    subjects: Mapping[str, Subject]
    phases: tuple[Phase, ...]
    evidence: tuple[Text, ...] = ()
    """Requirement sets it adopts."""
    parts: frozenset[str] = frozenset()
    """Ids of the parts it uses, directly or through other parts."""
    people: tuple[Person, ...] = ()
    """Those who have several roles of its team at once, with these roles in the order of the team."""

    @property
    def steps(self) -> tuple[Step, ...]:
        """Every step of every phase, in written order."""
        return tuple(step for phase in self.phases for step in phase.steps)


@dataclass(frozen=True, slots=True)
class Requirement:
    """One requirement of evidence.yaml, or one case of one that has a table of limits."""

    id: Text
    text: str
    source: str
    section: str | None
    year: int | None
    limit: Limit | None = None
    applies_to: str | None = None
    certainty: str | None = None
    link: str | None = None
    table: str | None = None
    """The requirement whose table it is a case of."""
    year_span: Span | None = None

    @property
    def at_least(self) -> float | None:
        """The least time in seconds; None where no time is limited."""
        bound = self.limit.at_least if self.limit is not None else None
        return bound.seconds if bound is not None else None

    @property
    def at_most(self) -> float | None:
        """The most time in seconds; None where no time is limited."""
        bound = self.limit.at_most if self.limit is not None else None
        return bound.seconds if bound is not None else None


@dataclass(frozen=True, slots=True)
class Viewing:
    """A wall screen and where it is read from: ``distance`` and ``diagonal`` in metres, the sides in pixels."""

    distance: float = 3.0
    width: int = 1920
    height: int = 1080
    diagonal: float = 1.1


@dataclass(frozen=True, slots=True)
class Case:
    """One case of a day, as it is written: its protocol may not exist, nor its choices (pairs of choice and option)."""

    protocol: Text
    choices: tuple[tuple[Text, Text], ...]


@dataclass(frozen=True, slots=True)
class Day:
    """The cases of one day, in their order."""

    id: Text
    title: str
    cases: tuple[Case, ...]


@dataclass(frozen=True, slots=True)
class Screens:
    """What screens.yaml says, or what holds without it. ``stale_after`` is in seconds."""

    viewing: Viewing = Viewing()
    stale_after: float = 86_400.0
    words_a_minute: int = 175
    days: tuple[Day, ...] = ()


@dataclass(frozen=True, slots=True)
class Accepted:
    """A finding, named by what identifies it, that somebody accepts up to and with the day ``until``, and why."""

    rule: Text
    protocol: str | None
    step: str | None
    subject: str | None
    reason: str
    by: str
    until: datetime.date
    until_span: Span

    @property
    def key(self) -> tuple[str, str, str, str]:
        """What identifies the finding."""
        return (self.rule.value, self.protocol or "", self.step or "", self.subject or "")


@dataclass(frozen=True, slots=True)
class Passed:
    """A protocol that an earlier check of the very same text proved, and what that check came to.

    ``parts`` are the ids of the parts it uses, ``names`` the names of the clinic's surfaces it uses; ``orders`` bounds
    the number of its orders from below and from above.
    """

    id: str
    path: str
    title: str
    steps: int
    parts: frozenset[str]
    names: frozenset[str]
    scenarios: int
    states: int
    orders: tuple[int, int]


@dataclass(frozen=True, slots=True)
class ProtocolSet:
    """Everything read from one folder. ``sources`` maps each file's path to its text, for showing the place."""

    clinic: Clinic | None
    protocols: tuple[Protocol, ...]
    requirements: tuple[Requirement, ...]
    problems: tuple[Problem, ...]
    sources: Mapping[str, str] = field(default_factory=dict)
    unsound: frozenset[str] = frozenset()
    """Ids of protocols whose names could not all be resolved: orders are not explored, and the report says so."""
    unreadable: tuple[str, ...] = ()
    """Ids of protocols that could not be turned into a Protocol; each has a problem that says why."""
    screens: Screens = Screens()
    passed: tuple[Passed, ...] = ()
    """Protocols that were not read, because an earlier check proved them; their texts are in ``sources``."""
    sets: Mapping[str, tuple[Text, ...]] = field(default_factory=dict)
    """The requirements that each set of requirements in evidence.yaml holds."""
    aged_after: int | None = None
    """After how many years a source counts as aged; None if evidence.yaml does not say."""
    tailoring: Tailoring | None = None
    """What this clinic changes in the set; None if it changes nothing in words."""
    upstream: Upstream | None = None
    """Where the set was adopted from; None if it is the clinic's own."""
    accepted: tuple[Accepted, ...] = ()
    """Findings that are accepted for a while."""

    @property
    def paths(self) -> Mapping[str, str]:
        """The file of every protocol that could be read or passed before, by its id in the order of ids."""
        read = [(one.id, one.path) for one in self.protocols]
        return dict(sorted([*read, *((one.id, one.path) for one in self.passed)]))
