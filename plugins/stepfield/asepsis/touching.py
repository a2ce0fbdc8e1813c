"""Which things a person's hands may meet at one moment, whatever order led there.

A touch is safe if it takes sterility from nothing (a site at disinfected counts as sterile), leaves the hands at their
level, and soils no bare skin. Whatever is sterile is kept so, not only the field: what lies ready is for the patient.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from operator import add, itemgetter

from ..language.model import Kind, Level
from ..language.source import Span
from .doing import Doing
from .effects import ACTS
from .explore import Exploration
from .graph import BoundEffect, Deed
from .happening import Happenings
from .world import LEVELS, World

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
_Judged = tuple[bool, Refusal | None]
"""Whether the thing would be less clean afterwards, in some way of meeting it; and why it is not safe."""
_Meeting = tuple[int, int]
"""The states of the hands and of the thing, by their numbers."""
_ANY = -1
"""Stands for the state of the hands where that makes no difference."""
_Ways = dict[_Meeting, int]
"""The ways in which hands can find a thing, each with a world that shows it."""
_Standing = tuple[int, int, bool]
"""What is outside, at which level, and whether it is soiled."""
_State = tuple[int, bool, bool, bool, int | None]
"""What is outside, whether that is soiled, whether the thing is gone or still in its pack, and what wears it."""
_Row = tuple[int, ...]
"""How all things stand in one world: for each the number of its state, times the number of levels, plus the level."""
_Rows = dict[_Row, int]
"""The ways in which all things stand before a step, each with a world that shows it."""
_Fixed = tuple[tuple[int, ...], Callable[[bytes], tuple[int, ...]]]
"""For each thing what its number in a row is without the level; and what takes the levels of their outsides."""


class Touching:
    """What hands may meet before the steps of one exploration; what was judged once is remembered."""

    def __init__(self, found: Exploration | Happenings) -> None:
        self.found, self.graph = found, found.graph
        self.things = [
            number for number, subject in enumerate(self.graph.subjects) if _is_told(subject.name.value, subject.kind)
        ]
        self._place = {thing: place for place, thing in enumerate(self.things)}
        self._judge = _Judge(found)
        self._numbers: dict[_State, int] = {}
        self._states: list[_State] = []
        self._fixed: dict[tuple[object, ...], _Fixed] = {}
        self._rows: dict[int, _Row] = {}
        self._at: dict[tuple[int, bool], _Rows] = {}
        self._judged: dict[tuple[str, int, frozenset[tuple[int, frozenset[int]]]], _Judged] = {}

    def told(self, step: int, roles: Iterable[str]) -> dict[str, Told]:
        """For every role what its hands may meet in all worlds just before a step, and what they may not."""
        return {role: self._told(step, role) for role in roles}

    def _told(self, step: int, role: str) -> Told:
        safe, less_clean, not_now = [], [], []
        for name, (falls, refusal) in self._judged_things(step, role):
            if refusal is not None:
                not_now.append(refusal)
                continue
            safe.append(name)
            less_clean += [name] if falls else []
        return tuple(safe), tuple(less_clean), tuple(not_now)

    def in_place(self, step: int) -> frozenset[str]:
        """The things that cover something in every order just before a step."""
        rows = list(self._rows_at(step))
        first = rows[0] if rows else ()
        return frozenset(
            self.graph.subjects[self.things[place]].name.value
            for place, state in enumerate(first)
            if self._covers(state) and all(self._covers(row[place]) for row in rows)
        )

    def _covers(self, state: int) -> bool:
        return self._states[state // len(LEVELS)][4] is not None

    def standings(self, step: int, subject: int, *, after: bool) -> frozenset[_Standing]:
        """How a thing stands in all worlds just before a step (or after it); empty if the step never happens."""
        place = self._place[subject]
        return frozenset({self._read(state) for state in {row[place] for row in self._rows_at(step, after=after)}})

    def _read(self, number: int) -> _Standing:
        state, level = divmod(number, len(LEVELS))
        outside, soiled, *_ = self._states[state]
        return outside, level, soiled

    def _rows_at(self, step: int, *, after: bool = False) -> _Rows:
        """The worlds just before a step (or after it), those left out in which all things stand as in another."""
        known = self._at.get((step, after))
        if known is None:
            known = self._at[step, after] = {}
            side, rows = int(after), self._rows
            for number in sorted({pair[side] for pair in self.found.happened.get(step, ())}):
                known.setdefault(rows.get(number) or self._row(number), number)
        return known

    def _judged_things(self, step: int, role: str) -> Iterator[tuple[str, _Judged]]:
        """Each thing but these hands with the verdict on meeting it, in the order of declaration.

        What a touch does depends on no more than how the two outsides stand, and whether the thing is there. So each
        such case is judged once, in however many worlds and before however many steps it occurs.
        """
        own = self._place[self.graph.parts[role, "hands"]]
        standings: dict[int, list[tuple[_Row, int]]] = {}
        for row, number in self._rows_at(step).items():
            standings.setdefault(row[own], []).append((row, number))
        columns = [
            (hands, list(zip(*(row for row, _ in found), strict=True)), [number for _, number in found])
            for hands, found in standings.items()
        ]
        for place, thing in enumerate(self.things) if columns else ():
            if place == own:
                continue
            found_so = (role, thing, frozenset([(hands, frozenset(of[place])) for hands, of, _ in columns]))
            known = self._judged.get(found_so)
            if known is None:
                ways = {
                    (_ANY if self._absent(state) else hands, state): numbers[of[place].index(state)]
                    for hands, of, numbers in columns
                    for state in set(of[place])
                }
                known = self._judged[found_so] = self._judge.of(role, thing, ways)
            yield self.graph.subjects[thing].name.value, known

    def _absent(self, number: int) -> bool:
        """Whether a thing is gone or in its pack: that is so for whatever hands."""
        _, _, gone, in_pack, _ = self._states[number // len(LEVELS)]
        return gone or in_pack

    def _row(self, number: int) -> _Row:
        levels, soiled, covers, opened, gone, *_ = self.found.worlds[number]
        same = (soiled, covers, opened, gone)
        fixed = self._fixed.get(same)
        if fixed is None:
            fixed = self._fixed[same] = self._but_for_levels(World(self.graph, self.found.worlds[number]))
        states, outsides = fixed
        row = self._rows[number] = tuple(map(add, states, outsides(levels)))
        return row

    def _but_for_levels(self, world: World) -> _Fixed:
        """The part of a row that is the same in all worlds that differ in nothing but levels."""
        places = {cover: subject for subject, stack in world.covers.items() for cover in stack}
        numbers, outsides = [], []
        for thing in self.things:
            outside = world.outside(thing)
            state = (outside, world.is_soiled(outside), world.is_gone(thing), world.in_pack(thing), places.get(thing))
            number = self._numbers.setdefault(state, len(self._states))
            if number == len(self._states):
                self._states.append(state)
            numbers.append(number * len(LEVELS))
            outsides.append(outside)
        # An itemgetter gives no tuple for one thing; there are always at least the three parts of one person.
        return tuple(numbers), itemgetter(*outsides)


def _is_told(name: str, kind: Kind) -> bool:
    return kind is not Kind.PERSON or name.rpartition(".")[2] in PARTS_TOUCHED


class _Judge:
    """Tries touches in copies of worlds, by the engine's own meaning of a touch."""

    def __init__(self, found: Exploration | Happenings) -> None:
        self.found, self.graph = found, found.graph
        self._known: dict[tuple[str, int, _Meeting], tuple[_Verdict, bool]] = {}
        self._deeds = {
            role: Deed(0, role, hands, (), (), (), 0, 0, frozenset(), False, False)
            for (role, part), hands in found.graph.parts.items()
            if part == "hands"
        }
        span: Span = found.graph.steps[0].span
        self._touches = [BoundEffect("touches", thing, -1, None, span) for thing in range(len(found.graph.subjects))]

    def of(self, role: str, thing: int, ways: _Ways) -> _Judged:
        """Whether the thing would be less clean in some way of meeting it, and why it is not safe."""
        tried = [self._tried(role, thing, meeting, number) for meeting, number in ways.items()]
        falls = any(falls for _, falls in tried)
        against = [verdict for verdict, _ in tried if verdict is not None]
        if not against:
            return falls, None
        reason, by = min(against, key=lambda verdict: (REASONS.index(verdict[0]), verdict[1]))
        return falls, Refusal(self.graph.subjects[thing].name.value, reason, by, len(against) == len(tried))

    def _tried(self, role: str, thing: int, meeting: _Meeting, number: int) -> tuple[_Verdict, bool]:
        key = (role, thing, meeting)
        known = self._known.get(key)
        if known is None:
            known = self._known[key] = self._try(role, thing, number)
        return known

    def _try(self, role: str, thing: int, number: int) -> tuple[_Verdict, bool]:
        """The verdict on these hands touching the thing in a world, and whether the thing falls."""
        before = World(self.graph, self.found.worlds[number])
        world = World(self.graph, self.found.worlds[number])
        # Guarded things keep their level when a slip is told; here what would fall has to be seen falling.
        world.field_ended = 1
        doing = Doing(self.graph, self._deeds[role], world)
        ACTS["touches"](doing, self._touches[thing])
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
