"""Every way one step can go: what it looks at, changes and gets wrong; found by running the engine's own code.

A step is taken as a whole where that gives few ways, otherwise as its parts one after the other: each need, each
effect. The end of a protocol is taken like a step, subject by subject.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Set
from dataclasses import dataclass
from typing import Any, NamedTuple, Protocol

from .asked_world import AskedWorld, Scene, UnknownError, Value, Var
from .doing import Doing
from .effects import ACTS
from .graph import Deed
from .happen import judge_ignition, left_behind, uncounted
from .world import SlipKey

OWN = -2
"""Stands in a slip's key for the step at which it was made."""
MOST_WAYS = 40
"""A step with more ways than this is taken apart."""
MOST_WAYS_OF_A_PART = 5_000

Part = Callable[[Doing], None]
Left = tuple[Set[Value], bool]
"""The values something may be left with, and whether besides it may be left as it was."""


class Domain(Protocol):
    """For each thing that can be the case the values it may have."""

    def get(self, var: Var) -> Set[Value]:
        """The values of one thing."""


class TooManyWaysError(Exception):
    """Things can be in too many places at once to tell all that may happen."""


class Outcome(NamedTuple):
    """What one way changes, and the keys of its slips."""

    changes: tuple[tuple[Var, Value], ...]
    slips: tuple[SlipKey, ...]


@dataclass(frozen=True, slots=True)
class OneWay:
    """What has to be the case for a step to go this way, and what comes of it."""

    reads: tuple[tuple[Var, Value], ...]
    outcome: Outcome


class Branching:
    """The ways one part of a step, or several in a row, can go; what was found once is remembered."""

    def __init__(self, scene: Scene, deed: Deed, parts: tuple[Part, ...]) -> None:
        self.scene, self.deed, self.parts = scene, deed, parts
        self._known: dict[tuple[tuple[Var, Value], ...], Var | Outcome | None] = {}

    def ways(self, domain: Domain, most: int) -> list[OneWay]:
        """All ways within the domain. Raises TooManyWaysError if there are more than ``most``."""
        found: list[OneWay] = []
        waiting: list[tuple[tuple[Var, Value], ...]] = [()]
        while waiting:
            told = waiting.pop()
            if told not in self._known:
                self._known[told] = self._run(dict(told))
            here = self._known[told]
            if isinstance(here, Outcome):
                found.append(OneWay(told, here))
                if len(found) > most:
                    raise TooManyWaysError
            elif here is not None:
                waiting += [(*told, (here, value)) for value in sorted(domain.get(here), key=repr, reverse=True)]
        return found

    def _run(self, told: dict[Var, Value]) -> Var | Outcome | None:
        """What comes of it; or what else has to be told; None if what is told can't be."""
        if not self.scene.is_possible(told):
            return None
        world = AskedWorld(self.scene, told)
        doing = Doing(self.scene.graph, self.deed, world)
        try:
            for part in self.parts:
                part(doing)
        except UnknownError as unknown:
            return unknown.var
        keys = (slip.key for slip in doing.slips)
        own = ((kind, OWN if at == self.deed.number else at, subject) for kind, at, subject in keys)
        return Outcome(world.changes(), tuple(dict.fromkeys(own)))


class Happening:
    """One kind of step, as parts in a row. Steps that do the same share it."""

    def __init__(self, scene: Scene, deed: Deed, parts: tuple[Part, ...]) -> None:
        self.whole = Branching(scene, deed, parts)
        self.parts = tuple(Branching(scene, deed, (part,)) for part in parts)
        self.in_parts = False

    def rows(self, domain: Domain) -> tuple[list[list[OneWay]], dict[Var, Left]]:
        """The ways of the whole step, or one list for each of its parts; and all that the step may change.

        Raises TooManyWaysError.
        """
        if not self.in_parts:
            try:
                ways = self.whole.ways(domain, MOST_WAYS)
            except TooManyWaysError:
                self.in_parts = True
            else:
                return [ways], {var: left_by(ways, var) for var in changed_by(ways)}
        rows, left = [], dict[Var, Left]()
        for part in self.parts:
            ways = part.ways(_Then(domain, left, part.scene), MOST_WAYS_OF_A_PART)
            rows.append(ways)
            for var in changed_by(ways):
                values, kept = left_by(ways, var)
                earlier, was_kept = left.get(var, (frozenset(), True))
                left[var] = (values | earlier, was_kept) if kept else (values, False)
        return rows, left


@dataclass(frozen=True, slots=True)
class _Then:
    """What may be the case in the middle of a step."""

    before: Domain
    left: Mapping[Var, Left]
    scene: Scene

    def get(self, var: Var) -> Set[Value]:
        values, kept = self.left.get(var, (frozenset(), True))
        return values | self.before.get(var) if kept else values


def changed_by(ways: list[OneWay]) -> dict[Var, None]:
    """All that some of the ways changes."""
    return {var: None for way in ways for var, _ in way.outcome.changes}


def left_by(ways: list[OneWay], var: Var) -> Left:
    """The values something may be left with, and whether some way leaves it as it was without looking at it."""
    changed, seen, kept = set[Value](), set[Value](), False
    for way in ways:
        then = dict(way.outcome.changes).get(var)
        if then is not None:
            changed.add(then)
        elif (was := dict(way.reads).get(var)) is not None:
            seen.add(was)
        else:
            kept = True
    return (changed, True) if kept else (changed | seen, False)


def happenings(scene: Scene) -> list[Happening]:
    """One for each step, in their order, and a last one for the end."""
    alike: dict[Any, Happening] = {}
    found = []
    for deed in scene.graph.deeds:
        likeness = _likeness(scene, deed)
        if likeness not in alike:
            alike[likeness] = Happening(scene, deed, tuple(_parts(scene, deed)))
        found.append(alike[likeness])
    end = Deed(-1, "", -1, (), (), (), 0, 0, frozenset(), ignition=False, ends_field=False)
    found.append(Happening(scene, end, tuple(_end_parts(scene))))
    return found


def _likeness(scene: Scene, deed: Deed) -> Any:
    """What two steps have in common that do the same. A use that is remembered is of its own step."""
    remembered = any(effect.field == "uses" and _is_remembered(scene, effect.thing) for effect in deed.effects)
    return (
        deed.owner,
        tuple((need.subject, need.level) for need in deed.needs),
        tuple(fact for fact, _, _ in deed.requires),
        tuple((effect.field, effect.thing, effect.target, effect.level) for effect in deed.effects),
        *(deed.confirms, deed.withdraws, deed.dries, deed.ignition, deed.ends_field),
        deed.number if remembered else -1,
    )


def _is_remembered(scene: Scene, item: int) -> bool:
    subject = scene.graph.subjects[item]
    return subject.counted or subject.hazard == "fire"


def _parts(scene: Scene, deed: Deed) -> Iterator[Part]:
    """What happen.do_step does, one thing at a time."""
    for pair in scene.wet:
        if pair[1] in deed.dries:
            yield lambda doing, pair=pair: doing.world.wet.discard(pair)  # type: ignore[misc]
    for fact, name, span in deed.requires:
        yield lambda doing, fact=fact, name=name, span=span: _require(doing, fact, name, span)  # type: ignore[misc]
    for need in deed.needs:
        yield lambda doing, need=need: doing.need(need.subject, need.level, need.span)  # type: ignore[misc]
    if deed.ignition:
        for pair in scene.wet:
            yield lambda doing, pair=pair: _spark(doing, pair)  # type: ignore[misc]
    for bound in deed.effects:
        yield lambda doing, bound=bound: ACTS[bound.field](doing, bound)  # type: ignore[misc]
    if deed.confirms or deed.withdraws or deed.ends_field:
        yield _conclude


def _require(doing: Doing, fact: int, name: str, span: Any) -> None:
    if not doing.world.facts >> fact & 1:
        doing.slip("fact-missing", name, span)
        doing.world.facts |= 1 << fact


def _spark(doing: Doing, pair: tuple[int, int]) -> None:
    wet: Any = doing.world.wet
    wet.looked_at = pair
    judge_ignition(doing)
    wet.looked_at = None


def _conclude(doing: Doing) -> None:
    doing.world.facts = (doing.world.facts | doing.deed.confirms) & ~doing.deed.withdraws
    if doing.deed.ends_field:
        doing.world.field_ended = 1


def _end_parts(scene: Scene) -> Iterator[Part]:
    """What happen.end_slips does, one subject at a time."""
    for number in range(len(scene.graph.subjects)):
        yield lambda doing, number=number: doing.slips.extend(left_behind(doing.graph, doing.world, number))  # type: ignore[misc]
    for item in scene.counted:
        yield lambda doing, item=item: _uncounted(doing, item)  # type: ignore[misc]


def _uncounted(doing: Doing, item: int) -> None:
    world = doing.world
    assert isinstance(world, AskedWorld)
    step = world.look(("pending", item, 0))
    if isinstance(step, int) and step >= 0:
        doing.slips.append(uncounted(doing.graph, item, step))
