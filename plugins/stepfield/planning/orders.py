"""Whether some order of a protocol keeps asepsis, and how the orders fail if none does.

For protocols of one scenario: nothing is conditional and nobody goes back. Orders that make no difference to one
another are one, as everywhere in the engine; whatever begins with a slip is not looked at any further.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from ..asepsis.graph import StepGraph
from ..asepsis.happen import end_slips
from ..asepsis.stepping import Moment, Stepping
from ..asepsis.world import Slip, SlipKey, World

Pairs = Iterable[tuple[int, int]]
"""Pairs of steps (earlier, later)."""


@dataclass(frozen=True, slots=True)
class Failure:
    """A slip, and an order of steps without any other that leads to it; the failing step is the last one.

    Where the slip shows only ``at_end``, the order is a whole one.
    """

    slip: Slip
    way: tuple[int, ...]
    at_end: bool = False


@dataclass(frozen=True, slots=True)
class Orders:
    """What was found: an order that keeps asepsis, None if there is none, and the failures, farthest first.

    ``conflicts`` are for each step the steps whose order against it can make a difference as long as nothing slipped.
    ``complete`` is false where the bound on states was reached: then nothing is proved by what was not found.
    """

    clean: tuple[int, ...] | None
    failures: tuple[Failure, ...]
    conflicts: tuple[int, ...]
    complete: bool
    states: int


def orders_of(graph: StepGraph, limit: int, *, first_slip: bool = False) -> Orders:
    """Tries every order of a protocol of one scenario, up to ``limit`` states, or with ``first_slip`` up to a slip."""
    return _Walk(graph, limit, first_slip).run()


def in_order(graph: StepGraph, pairs: Pairs) -> StepGraph:
    """The same protocol with more order; the pairs must not close a loop."""
    before = list(graph.order.before)
    for earlier, later in pairs:
        before[later] |= 1 << earlier
    return replace(graph, order=replace(graph.order, before=tuple(before)))


class _Walk:
    def __init__(self, graph: StepGraph, limit: int, first_slip: bool) -> None:
        self.graph, self.limit, self.first_slip = graph, limit, first_slip
        self.stepping = Stepping(graph, reduced=True)
        self.came: dict[Moment, tuple[Moment, int] | None] = {}
        self.farthest: dict[SlipKey, tuple[int, Failure]] = {}

    def run(self) -> Orders:
        """Phase after phase: every way to begin a phase without a slip is known before its first step is tried."""
        persistent, worlds = self.stepping.persistent, self.stepping.worlds
        assert persistent is not None  # only a condition on a later question would switch it off
        starts = [moment for moment, _ in self.stepping.starts()]
        self.came |= dict.fromkeys(starts)
        for phase in dict.fromkeys(self.graph.order.phase_of):
            persistent.begin(phase, [worlds[world] for world in dict.fromkeys(moment[1] for moment in starts)])
            starts = self.through(phase, starts)
            if len(self.came) > self.limit or self.is_over():
                break
        complete = len(self.came) <= self.limit
        clean = self.ended(starts) if complete and not self.is_over() else None
        ranked = sorted(self.farthest.values(), key=lambda entry: -entry[0])
        failures = tuple(failure for _, failure in ranked)
        return Orders(clean, failures, tuple(persistent.conflicts), complete, len(self.came))

    def is_over(self) -> bool:
        """Whether all that was asked for is found."""
        return self.first_slip and bool(self.farthest)

    def through(self, phase: int, starts: Sequence[Moment]) -> list[Moment]:
        """The moments at which a phase ends without a slip."""
        own = sum(1 << step for step, at in enumerate(self.graph.order.phase_of) if at == phase)
        waiting, ends = list(reversed(starts)), []
        while waiting and len(self.came) <= self.limit:
            moment = waiting.pop()
            if moment[0] & own == own:
                ends.append(moment)
                continue
            for step, _, slips, then, _ in reversed(self.stepping.moves(moment)):
                if slips:
                    self.fails(moment, step, slips[0])
                    if self.first_slip:
                        return []
                elif then not in self.came:
                    self.came[then] = (moment, step)
                    waiting.append(then)
        return ends

    def fails(self, moment: Moment, step: int | None, key: SlipKey) -> None:
        """Remembers how a slip came about; of several ways the one that comes farthest."""
        far = moment[0].bit_count()
        if key not in self.farthest or far > self.farthest[key][0]:
            way = self.way(moment) if step is None else (*self.way(moment), step)
            self.farthest[key] = (far, Failure(self.stepping.slips[key], way, at_end=step is None))

    def ended(self, ends: Iterable[Moment]) -> tuple[int, ...] | None:
        """The way to an end at which nothing is wrong either."""
        clean = None
        for moment in ends:
            slips = end_slips(self.graph, World(self.graph, self.stepping.worlds[moment[1]]))
            for key in self.stepping.note(slips):
                self.fails(moment, None, key)
            if not slips and clean is None:
                clean = self.way(moment)
        return clean

    def way(self, moment: Moment) -> tuple[int, ...]:
        """The steps that led to a moment."""
        steps = []
        came = self.came[moment]
        while came is not None:
            moment, step = came
            steps.append(step)
            came = self.came[moment]
        return tuple(reversed(steps))
