"""What strikes one about the things of a protocol: never used, opened for nothing or too early, held twice. Pure.

A remark is no finding: nothing sterile is lost by it. It costs things that are opened and thrown away, or time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from ..asepsis.order import Order
from ..language.model import Kind, Level, Requirement, Step, Subject
from .scenarios import done_in, usual_scenario
from .schedule import open_times, schedule
from .things import held_in
from .uses import Picked, Uses, Way

OPEN_FOR = 30 * 60.0
"""How many seconds a pack may lie open before anything of it is used, if nobody says otherwise: a measure for looking
at set-up, common practice, no source. A clinic's own stands in its settings or in a requirement the opening step meets.
"""
_CLEARING = frozenset({"counts", "discards", "hands_over"})


@dataclass(frozen=True, slots=True)
class Remark:
    """One thing that strikes, and where; ``ways`` is empty where the choices make no difference.

    ``kind`` is one of:
    "idle": ``thing`` lies in a pack and no step uses it, however the choices are settled (``counted``: it is at most
    counted and cleared away);
    "idle-here": it is not used in ``ways``, where its pack is opened;
    "pack-idle": a pack is opened in ``ways`` though nothing of it is needed;
    "not-opened": it is used in ``ways``, and no step opens its pack;
    "no-wrapper": it starts sterile and lies in no pack, so nothing says what has kept it sterile;
    "twice": ``other``, in another pack, has the same title;
    "early": the pack lies open for ``seconds`` before a first use, longer than ``limit``, which the requirement
    ``limit_of`` sets, if any.
    """

    kind: str
    thing: Subject
    other: Subject | None = None
    ways: tuple[Picked, ...] = ()
    counted: bool = False
    seconds: float = 0.0
    limit: float = 0.0
    limit_of: str | None = None
    at_least: bool = False
    """For "early": whether some step says no duration, so that it may be longer still."""


def remarks(uses: Uses, order: Order, limits: Mapping[str, float], open_for: float = OPEN_FOR) -> tuple[Remark, ...]:
    """Everything that strikes about the things of a protocol, in written order of the things.

    ``limits`` are the most seconds that requirements allow, by their names: those that the step which opens a pack
    meets go before ``open_for``. The order must have no loops, or nothing is told of the clock.
    """
    looking = _Looking(uses, order, limits, open_for)
    place = {name: number for number, name in enumerate(uses.protocol.subjects)}
    return tuple(sorted(looking.all(), key=lambda one: place[one.thing.name.value]))


class _Looking:
    def __init__(self, uses: Uses, order: Order, limits: Mapping[str, float], open_for: float) -> None:
        self.uses, self.protocol, self.order = uses, uses.protocol, order
        self.limits, self.open_for = limits, open_for
        self.held = held_in(self.protocol)
        found = uses.ways()
        self.ways = found or (Way(()),)
        self.may_be = {way: uses.possible(dict(way.picked)) for way in self.ways}
        self.handled = _handled(self.protocol.steps)

    def all(self) -> Iterator[Remark]:
        """Every remark."""
        yield from self._of_things()
        yield from self._of_packs()
        yield from self._twice()
        if not self.order.loops:
            yield from self._early()

    def _of_things(self) -> Iterator[Remark]:
        for thing in self.protocol.subjects.values():
            name = thing.name.value
            if thing.kind is not Kind.ITEM:
                continue
            if thing.held_in is None:
                if thing.starts is Level.STERILE and self.uses.needed.get(name):
                    yield Remark("no-wrapper", thing)
            elif name not in self.handled:
                yield Remark("idle", thing, counted=name in self.uses.used)
            else:
                yield from self._in_its_packs(thing)

    def _in_its_packs(self, thing: Subject) -> Iterator[Remark]:
        """Whether a thing is used where its packs are opened, and these are opened where it is used."""
        name, packs = thing.name.value, self._around(thing)
        idle = self._where(
            lambda way: (
                not self._needed(name, way)
                and self._are_opened(packs, way)
                and not self._is_for_nothing(packs[-1], way)  # which is told of the whole pack
            )
        )
        if idle:
            yield Remark("idle-here", thing, ways=self._told(idle))
        lost = self._where(lambda way: self._needed(name, way) and not self._are_opened(packs, way))
        if lost:
            yield Remark("not-opened", thing, ways=self._told(lost))

    def _of_packs(self) -> Iterator[Remark]:
        for pack in self.held.get(None, ()):
            if pack.kind is Kind.PACK:
                name = pack.name.value
                opened = self._where(lambda way: self._are_opened([name], way))  # noqa: B023 - asked at once
                found = [way for way in opened if self._is_for_nothing(name, way)]
                if found:
                    yield Remark("pack-idle", pack, ways=self._told(found))

    def _twice(self) -> Iterator[Remark]:
        """Things of one title in two packs: one of them may be meant to be left out."""
        first: dict[str, Subject] = {}
        for thing in self.protocol.subjects.values():
            if thing.kind is Kind.ITEM and thing.held_in is not None:
                other = first.setdefault(" ".join(thing.title.casefold().split()), thing)
                if other.held_in != thing.held_in:
                    yield Remark("twice", thing, other)

    def _early(self) -> Iterator[Remark]:
        """The longest time each pack lies open before a first use, where that is too long, over the ways."""
        longest: dict[str, tuple[float, Way, bool]] = {}
        if not any(step.takes is not None or step.waits for step in self.protocol.steps):
            return
        for way in self.ways:
            done = done_in(self.protocol, usual_scenario(self.protocol, dict(way.picked)))
            timed = schedule(self.protocol, self.order, done)
            for pack, seconds in open_times(self.protocol, timed).items():
                if seconds > longest.get(pack, (0.0, way, False))[0] and not self._is_for_nothing(pack, way):
                    longest[pack] = (seconds, way, bool(timed.unknown))
        for pack, (seconds, way, unknown) in longest.items():
            limit, of = self._limit(pack)
            if seconds > limit:
                ways = (way.picked,) if way.picked else ()
                yield Remark(
                    "early", self.protocol.subjects[pack], ways=ways, seconds=seconds, limit=limit, limit_of=of,
                    at_least=unknown,
                )  # fmt: skip

    def _limit(self, pack: str) -> tuple[float, str | None]:
        """How long a pack may lie open, and which requirement says so."""
        meets = [name.value for number in self.uses.opened[pack] for name in self.protocol.steps[number].meets]
        told = [(self.limits[name], name) for name in meets if name in self.limits]
        return min(told, default=(self.open_for, None), key=lambda one: one[0])

    def _where(self, holds: Callable[[Way], bool]) -> list[Way]:
        return [way for way in self.ways if holds(way)]

    def _told(self, ways: Sequence[Way]) -> tuple[Picked, ...]:
        """The ways to name: none where it is so in all of them."""
        return () if len(ways) == len(self.ways) else tuple(way.picked for way in ways)

    def _needed(self, name: str, way: Way) -> bool:
        return any(number in self.may_be[way] for number in self.handled.get(name, ()))

    def _are_opened(self, packs: Sequence[str], way: Way) -> bool:
        return all(any(number in self.may_be[way] for number in self.uses.opened.get(pack, ())) for pack in packs)

    def _is_for_nothing(self, pack: str, way: Way) -> bool:
        """Whether nothing that a pack holds is needed, at any depth."""
        return not any(
            self._needed(one.name.value, way) or not self._is_for_nothing(one.name.value, way)
            for one in self.held.get(pack, ())
        )

    def _around(self, thing: Subject) -> list[str]:
        """The packs a thing lies in, the nearest first."""
        found: list[str] = []
        at = thing.held_in
        while at is not None:
            found.append(at)
            at = self.protocol.subjects[at].held_in
        return found


def _handled(steps: Sequence[Step]) -> dict[str, set[int]]:
    """The steps that do more with a thing than count it and clear it away, by its name."""
    found: dict[str, set[int]] = {}
    for number, step in enumerate(steps):
        names = [need.subject.value for need in step.needs]
        for effect in step.effects:
            texts = (effect.target,) if effect.field in _CLEARING else (effect.thing, effect.target)
            names += [text.value for text in texts if text is not None]
        for name in names:
            found.setdefault(name, set()).add(number)
    return found


def limits_of(requirements: Sequence[Requirement]) -> dict[str, float]:
    """The most seconds that requirements allow, by their names."""
    return {one.id.value: one.at_most for one in requirements if one.at_most is not None}
