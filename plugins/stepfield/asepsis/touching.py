"""Which things a person's hands may meet at one moment, whatever order led there.

A touch is safe if it takes sterility from nothing (a site at disinfected counts as sterile), leaves the hands at their
level, and soils no bare skin. Whatever is sterile is kept so, not only the field: what lies ready is for the patient.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from ..language.model import Kind, Level
from ..language.source import Span
from .doing import Doing
from .effects import ACTS
from .explore import Exploration
from .graph import BoundEffect, Deed
from .world import World

PARTS_TOUCHED = ("hands", "body", "face")
"""The parts of people that are told among the things to touch."""
REASONS = ("would-contaminate", "contaminated-by", "soils-skin", "worn", "gone", "not-there-yet")
"""Why something must not be touched, gravest first. The last three say that it is not there for this person."""


@dataclass(frozen=True, slots=True)
class Refusal:
    """A thing not to be touched now: the gravest reason, of REASONS, that some order gives.

    ``by`` is what falls, lowers the hands, wears it or holds it; ``always`` tells that every order speaks against it.
    """

    thing: str
    reason: str
    by: str
    always: bool


Told = tuple[tuple[str, ...], tuple[str, ...], tuple[Refusal, ...]]
"""What is safe to touch, what of that would be less clean afterwards, and what is not safe."""
_Verdict = tuple[str, str] | None
"""A reason and what falls or is in the way; None if the touch is safe."""
_Standing = tuple[int, int, bool]
"""What is outside, at which level, and whether it is soiled."""
_State = tuple[_Standing, bool, bool, int | None]
"""How a thing stands, whether it is gone or still in its pack, and what wears it."""
_Meeting = tuple[int, int]
"""The states of the hands and of the thing, by their numbers."""
_Ways = dict[_Meeting, int]
"""The ways in which hands can find a thing, each with a world that shows it."""


class Touching:
    """What hands may meet before the steps of one exploration; what was judged once is remembered."""

    def __init__(self, found: Exploration) -> None:
        self.found, self.graph = found, found.graph
        self.things = [
            number for number, subject in enumerate(self.graph.subjects) if _is_told(subject.name.value, subject.kind)
        ]
        self._place = {thing: place for place, thing in enumerate(self.things)}
        self._judge = _Judge(found)
        self._numbers: dict[_State, int] = {}
        self._rows: dict[int, tuple[int, ...]] = {}

    def told(self, step: int, roles: Iterable[str]) -> dict[str, Told]:
        """For every role what its hands may meet in all worlds just before a step, and what they may not."""
        return {role: self._judge.told(role, self._meetings(step, role)) for role in roles}

    def in_place(self, step: int) -> frozenset[str]:
        """The things that cover something in every order just before a step."""
        rows = self._before(step).values()
        covering = {number for state, number in self._numbers.items() if state[3] is not None}
        always = [set(column) <= covering for column in zip(*rows, strict=True)]
        return frozenset(
            self.graph.subjects[thing].name.value for thing, yes in zip(self.things, always, strict=False) if yes
        )

    def _before(self, step: int) -> dict[int, tuple[int, ...]]:
        """The worlds just before a step: for each the states of all things, by their numbers."""
        numbers = sorted({earlier for earlier, _ in self.found.happened.get(step, ())})
        return {number: self._row(number) for number in numbers}

    def _meetings(self, step: int, role: str) -> dict[int, _Ways]:
        """For each thing the ways in which these hands can find it.

        What a touch does depends on no more than this: what the two outsides are, how they stand, and whether the thing
        is there. So each such case is judged once, in however many worlds it occurs.
        """
        own = self.graph.parts[role, "hands"]
        found: dict[int, _Ways] = {thing: {} for thing in self.things}
        standings: dict[int, list[int]] = {}
        rows = self._before(step)
        for number, row in rows.items():
            standings.setdefault(row[self._place[own]], []).append(number)
        for hands, numbers in standings.items():
            columns = zip(*(rows[number] for number in numbers), strict=True)
            for thing, column in zip(self.things, columns, strict=True):
                for state in set(column):
                    found[thing][hands, state] = numbers[column.index(state)]
        del found[own]
        return found

    def _row(self, number: int) -> tuple[int, ...]:
        known = self._rows.get(number)
        if known is None:
            world, told = World(self.graph, self.found.worlds[number]), self._numbers
            places = {cover: subject for subject, stack in world.covers.items() for cover in stack}
            known = self._rows[number] = tuple(
                told.setdefault(
                    (_standing(world, thing), world.is_gone(thing), world.in_pack(thing), places.get(thing)), len(told)
                )
                for thing in self.things
            )
        return known


def _is_told(name: str, kind: Kind) -> bool:
    return kind is not Kind.PERSON or name.rpartition(".")[2] in PARTS_TOUCHED


def _standing(world: World, subject: int) -> _Standing:
    outside = world.outside(subject)
    return outside, world.levels[outside], world.is_soiled(outside)


class _Judge:
    """Tries touches in copies of worlds, by the engine's own meaning of a touch."""

    def __init__(self, found: Exploration) -> None:
        self.found, self.graph = found, found.graph
        self._known: dict[tuple[str, int, _Meeting], tuple[_Verdict, bool]] = {}

    def told(self, role: str, meetings: dict[int, _Ways]) -> Told:
        """What is safe and what is not, in the order of declaration."""
        safe, less_clean, not_now = [], [], []
        for thing, ways in meetings.items():
            name = self.graph.subjects[thing].name.value
            tried = [self._tried(role, thing, meeting, number) for meeting, number in ways.items()]
            against = [verdict for verdict, _ in tried if verdict is not None]
            if not against:
                safe.append(name)
                less_clean += [name] if any(falls for _, falls in tried) else []
                continue
            reason, by = min(against, key=lambda verdict: (REASONS.index(verdict[0]), verdict[1]))
            not_now.append(Refusal(name, reason, by, len(against) == len(tried)))
        return tuple(safe), tuple(less_clean), tuple(not_now)

    def _tried(self, role: str, thing: int, meeting: _Meeting, number: int) -> tuple[_Verdict, bool]:
        key = (role, thing, meeting)
        known = self._known.get(key)
        if known is None:
            known = self._known[key] = self._try(role, thing, World(self.graph, self.found.worlds[number]))
        return known

    def _try(self, role: str, thing: int, before: World) -> tuple[_Verdict, bool]:
        """The verdict on these hands touching the thing in this world, and whether the thing falls."""
        hands = self.graph.parts[role, "hands"]
        deed = Deed(0, role, hands, (), (), (), 0, 0, frozenset(), False, False)
        world = World(self.graph, before.pack())
        # Guarded things keep their level when a slip is told; here what would fall has to be seen falling.
        world.field_ended = 1
        doing = Doing(self.graph, deed, world)
        span: Span = self.graph.steps[0].span
        ACTS["touches"](doing, BoundEffect("touches", thing, -1, None, span))
        falls = world.level(thing) < before.level(thing)
        return self._missing(doing, thing, before) or self._harm(doing, thing, before, falls), falls

    def _missing(self, doing: Doing, thing: int, before: World) -> _Verdict:
        for slip in doing.slips:
            if slip.kind == "not-available":
                if before.is_gone(thing):
                    return "gone", doing.name(thing)
                return ("not-there-yet" if before.in_pack(thing) else "worn"), slip.by or doing.name(thing)
        return None

    def _harm(self, doing: Doing, thing: int, before: World, falls: bool) -> _Verdict:
        outside = before.outside(thing)
        if falls and before.touch_level(outside) is Level.STERILE:
            return "would-contaminate", doing.name(outside)
        if doing.world.level(doing.deed.hands) < before.level(doing.deed.hands):
            return "contaminated-by", doing.name(outside)
        exposed = next((slip.subject for slip in doing.slips if slip.kind == "skin-exposed"), None)
        return None if exposed is None else ("soils-skin", exposed)
