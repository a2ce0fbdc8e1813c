"""What a role's page tells of the moment of each step: how the reader stands, what may be touched, what is timed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cache

from ..language.model import Condition, Step
from .addresses import Links
from .reading import Reading
from .speech import Speech
from .states import State, is_scrubbed, state_of
from .timing import Timer, timers_of
from .touch import Moments
from .views import Link

MOST_NEAR = 8
"""So many things of each list are shown at once; the rest is shown on request."""
_SCRUBBED, _LESS_CLEAN = "scrubbed", "less-clean"
_REASONS = (
    "would-contaminate",
    "contaminated-by",
    "soils-skin",
    _SCRUBBED,
    _LESS_CLEAN,
    "worn",
    "not-there-yet",
    "gone",
)
_ABSENT = ("worn", "not-there-yet", "gone")
_IN_HAND = frozenset(
    ("opens", "touches", "passes", "uses", "lays", "dons", "uncovers", "doffs", "discards", "hands_over")
)
"""The effects whose thing the owner of a step takes in hand; to cover is to take what covers."""


@dataclass(frozen=True, slots=True)
class Group:
    """Things of which the same is to be said; ``say`` is empty where nothing is."""

    say: str
    things: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Touch:
    """What may be touched just before a step and what may not, what is at hand first; the rest apart.

    ``deed`` are the things the step itself puts into these hands: what it says of them goes before the lists.
    """

    deed: tuple[str, ...]
    safe: tuple[Group, ...]
    not_now: tuple[Group, ...]
    more_safe: tuple[Group, ...]
    more_not: tuple[Group, ...]
    more: int


@dataclass(frozen=True, slots=True)
class Moment:
    """The moment of one step; ``after`` is empty where nothing changes, ``touch`` None where it is not known.

    ``when`` are the choices it depends on, as its page's script reads them: "draping=one|two closure=graft".
    """

    before: tuple[State, ...]
    after: tuple[State, ...]
    touch: Touch | None
    timers: tuple[Timer, ...]
    when: str
    sources: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Source:
    """A requirement that steps of the page meet, with where it was published."""

    id: str
    number: int
    text: str
    source: str
    steps: tuple[Link, ...]


@dataclass(frozen=True, slots=True)
class Picker:
    """A choice that some step depends on, with its options as (id, title)."""

    id: str
    title: str
    options: tuple[tuple[str, str], ...]


def when_of(reading: Reading, conditions: Iterable[Condition]) -> str:
    """The conditions on choices, for the page's script; those on answers stay on the page in words."""
    choices = {choice.id.value for choice in reading.protocol.choices}
    return " ".join(
        f"{condition.name.value}={'|'.join(option.value for option in condition.options)}"
        for condition in conditions
        if condition.name.value in choices
    )


def pickers(reading: Reading) -> tuple[Picker, ...]:
    """The choices that make a difference to some step of the protocol."""
    asked = {condition.name.value for step in reading.steps for condition in step.when}
    return tuple(
        Picker(choice.id.value, choice.title, tuple((option.value, title) for option, title in choice.options))
        for choice in reading.protocol.choices
        if choice.id.value in asked
    )


def sources(reading: Reading, links: Links, role: str) -> tuple[Source, ...]:
    """The requirements that this role's steps meet, in the order in which the steps name them."""
    known = reading.requirement
    steps: dict[str, list[int]] = {}
    for number, step in enumerate(reading.steps):
        if role in reading.people(step):
            for name in step.meets:
                if name.value in known:
                    steps.setdefault(name.value, []).append(number)
    found = []
    for place, (met, numbers) in enumerate(steps.items(), start=1):
        requirement = known[met]
        told = [requirement.source, requirement.section, str(requirement.year) if requirement.year else None]
        where = tuple(
            Link(str(number + 1), reading.step_link(number, links, role).href) for number in dict.fromkeys(numbers)
        )
        found.append(Source(met, place, requirement.text, ", ".join(part for part in told if part), where))
    return tuple(found)


def moments(reading: Reading, links: Links, role: str, *, certain: bool, rest: bool) -> dict[int, Moment]:
    """The moment of every step the role takes part in, by the step's number as it is written (from 1).

    Without ``certain`` nothing is told of how anybody stands, because errors were found: the checker carries on behind
    an error as if it had not been made. ``rest`` tells whether the things that are not at hand are wanted as well.
    """
    numbers = {source.id: source.number for source in sources(reading, links, role)}
    known = reading.moments if certain else None
    found: dict[int, Moment] = {}
    for number, step in enumerate(reading.steps):
        if role not in reading.people(step):
            continue
        before = states_at(reading, number, role, known, after=False) if certain else ()
        after = states_at(reading, number, role, known, after=True) if certain else ()
        touch = None
        if known is not None and known.happens(number):
            touch = _touch(reading, number, role, known, scrubbed=any(state.scrubbed for state in before))
        if touch is not None and not rest:
            touch = replace(touch, more_safe=(), more_not=(), more=0)
        found[number + 1] = Moment(
            before=before,
            after=() if after == before else after,
            touch=touch,
            timers=timers_of(reading, number, role),
            when=when_of(reading, step.when),
            sources=tuple(dict.fromkeys(numbers[met.value] for met in step.meets if met.value in numbers)),
        )
    return found


def states_at(reading: Reading, number: int, role: str, known: Moments | None, *, after: bool) -> tuple[State, ...]:
    """Hands, and the body where it is more than everyday clothes."""
    if known is None:
        hands = reading.hands.at(number, role, after=after) if reading.hands is not None else None
        body = None
    else:
        hands = known.part(number, role, "hands", after=after)
        body = known.part(number, role, "body", after=after)
    told = []
    if hands is not None:
        scrubbed = is_scrubbed(reading, number, role, after=after)
        told.append(state_of(reading.speech, "hands", hands, scrubbed=scrubbed))
    if body is not None and (body.covered != "no" or body.level or body.soiled != "no"):
        told.append(state_of(reading.speech, "body", body))
    return tuple(told)


def _touch(reading: Reading, number: int, role: str, known: Moments, *, scrubbed: bool) -> Touch:
    """The lists of a step. What would lose some of its level is told among what is not to be touched.

    Scrubbed hands are kept for gown and gloves: what would do them no harm is not to be touched either.
    """
    safe, less_clean, refused = known.told(number, role)
    deed = _in_hand(reading.steps[number], role)
    hidden, fewer = known.in_place(number).union(deed), set(less_clean)
    kept = "" if not scrubbed else _SCRUBBED
    told = [(name, _LESS_CLEAN if name in fewer else kept, True) for name in safe]
    told += [(one.thing, one.reason, one.always) for one in refused]
    told = [one for one in told if one[0] not in hidden]
    good = [one for one in told if not one[1]]
    bad = sorted((one for one in told if one[1]), key=lambda one: _REASONS.index(one[1]))
    rank, own = _ranks(reading, number), _own_parts(reading, role)
    near_safe, far_safe = _parted(good, rank)
    near_not, far_not = _parted(bad, rank)
    return Touch(
        deed=tuple(dict.fromkeys(own.get(name) or reading.thing(name) for name in deed)),
        safe=_grouped(reading, own, near_safe),
        not_now=_grouped(reading, own, near_not),
        more_safe=_grouped(reading, own, far_safe),
        more_not=_grouped(reading, own, far_not),
        more=len(far_safe) + len(far_not),
    )


def _in_hand(step: Step, role: str) -> tuple[str, ...]:
    """The things that a step puts into the hands of a role."""
    owner = step.role is not None and step.role.value == role
    found = [effect.thing.value for effect in step.effects if owner and effect.field in _IN_HAND]
    found += [effect.target.value for effect in step.effects if owner and effect.field == "covers" and effect.target]
    found += [
        effect.thing.value
        for effect in step.effects
        if effect.field == "passes" and effect.target is not None and effect.target.value == role
    ]
    return tuple(dict.fromkeys(found))


_Told = tuple[str, str, bool]
"""A thing, what is to be said of it, and whether every order says so."""


def _parted(told: list[_Told], rank: dict[str, int]) -> tuple[list[_Told], list[_Told]]:
    """What is at hand, no more than can be taken in and the gravest reasons first, and the rest."""
    at_hand = [one for one in told if one[0] in rank and one[1] not in _ABSENT]
    chosen = {one[0] for one in sorted(at_hand, key=lambda one: rank[one[0]])[:MOST_NEAR]}
    near = [one for one in at_hand if one[0] in chosen]
    return near, [one for one in told if one[0] not in chosen]


def _ranks(reading: Reading, number: int) -> dict[str, int]:
    """The things handled in the step and then in the rest of its phase; the sooner, the nearer."""
    phase_of = reading.examined.order.phase_of
    here = [step for step in range(len(reading.steps)) if phase_of[step] == phase_of[number]]
    ordered = [number, *(step for step in here if step > number), *(step for step in here if step < number)]
    rank: dict[str, int] = {}
    for place, step in enumerate(ordered):
        for name in reading.handled[step]:
            rank.setdefault(name, place)
    return rank


def _grouped(reading: Reading, own: dict[str, str], told: list[_Told]) -> tuple[Group, ...]:
    groups: dict[tuple[str, bool], list[str]] = {}
    for name, reason, always in told:
        groups.setdefault((reason, always), []).append(own.get(name) or reading.thing(name))
    says = _says(reading.speech)
    return tuple(Group(says[key], tuple(dict.fromkeys(things))) for key, things in groups.items())


def _own_parts(reading: Reading, role: str) -> dict[str, str]:
    """What a reader's own parts are called on their page; every other thing is called as everywhere."""
    say = reading.speech.say
    return {
        f"{role}.hands": say("your own hands"),
        f"{role}.body": say("your own body"),
        f"{role}.face": say("your own face"),
    }


@cache
def _says(speech: Speech) -> dict[tuple[str, bool], str]:
    """What is to be said of a group of things, by its reason and whether every order speaks for it."""
    return {
        ("", True): "",
        (_SCRUBBED, True): speech.say("Nothing more before gown and gloves are on"),
        (_LESS_CLEAN, True): speech.say("Would be less clean afterwards"),
        ("would-contaminate", True): speech.say("Would no longer be sterile"),
        ("would-contaminate", False): speech.say("Might no longer be sterile"),
        ("contaminated-by", True): speech.say("Would make your hands less clean"),
        ("contaminated-by", False): speech.say("Might make your hands less clean"),
        ("soils-skin", True): speech.say("Would soil bare skin"),
        ("soils-skin", False): speech.say("Might soil bare skin"),
        ("worn", True): speech.say("Worn by somebody else"),
        ("worn", False): speech.say("May be worn by somebody else"),
        ("not-there-yet", True): speech.say("Still in its pack"),
        ("not-there-yet", False): speech.say("May still be in its pack"),
        ("gone", True): speech.say("Not there any more"),
        ("gone", False): speech.say("May not be there any more"),
    }
