"""The worlds in which each step of a protocol can happen, in every order, with every choice and every answer.

An Exploration tells them as well, and much more. Who asks how things stand at a moment, and not what goes wrong or how
it came about, gets by without the transitions, in half the time.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ..language.model import Level
from .graph import StepGraph
from .stepping import Moment, Settled, Stepping
from .world import Packed, World

_MET = (True, None)
"""A step's turn has come, and its conditions are met whatever else is chosen."""


@dataclass(frozen=True, slots=True)
class Happenings:
    """``happened`` maps a step to the pairs (world before, world after), as numbers into ``worlds``.

    ``complete`` is false when the bound on states was reached.
    """

    graph: StepGraph
    worlds: list[Packed]
    happened: Mapping[int, set[tuple[int, int]]]
    complete: bool

    def levels(self, step: int, subject: int, *, after: bool = False) -> frozenset[Level]:
        """Every level the outside of a subject can have just before (or after) a step; empty if it never happens."""
        numbers = {pair[1] if after else pair[0] for pair in self.happened.get(step, ())}
        return frozenset(World(self.graph, self.worlds[number]).level(subject) for number in numbers)


def happenings(graph: StepGraph, limit: int) -> Happenings:
    """Everything that can happen, every order tried, up to ``limit`` states: those that an Exploration numbers."""
    search = _Search(graph)
    complete = search.run(limit)
    return Happenings(graph, search.stepping.worlds, search.stepping.happened(), complete)


class _Search:
    def __init__(self, graph: StepGraph) -> None:
        self.stepping = Stepping(graph, reduced=False)
        self.asking = {
            step
            for step, written in enumerate(graph.steps)
            if written.asks is not None and (step in self.stepping.slot or step in graph.repeats)
        }
        self.follows: dict[tuple[int, Settled], tuple[tuple[int, Settled], ...]] = {}

    def run(self, limit: int) -> bool:
        """Whether the bound was enough."""
        stepping, results, asking = self.stepping, self.stepping.results, self.asking
        waiting: list[Moment] = list(dict.fromkeys(moment for moment, _ in stepping.starts()))
        seen = set(waiting)
        while waiting and len(seen) <= limit:
            done, before, settled = waiting.pop()
            for step in stepping.ready(done):
                known = results[step].get(before)
                after, _ = stepping.happen(step, before) if known is None else known
                if step in asking:
                    outcomes = [(then, given) for _, then, given in stepping.outcomes(step, done, settled)]
                else:
                    outcomes = [(done | 1 << step, settled)]
                for outcome in outcomes:
                    for then_done, then_settled in self.follows.get(outcome) or self.follow(outcome):
                        moment = (then_done, after, then_settled)
                        if moment not in seen:
                            seen.add(moment)
                            waiting.append(moment)
        return len(seen) <= limit

    def follow(self, outcome: tuple[int, Settled]) -> tuple[tuple[int, Settled], ...]:
        """What is done and settled once nothing is left to pass over; the world makes no difference to it."""
        stepping, (done, settled) = self.stepping, outcome
        if stepping.conditional & ~done and not self.is_clear(done, settled):
            ways = stepping.pass_over(done, settled)
            found = tuple((then, stepping.forget(then, given)) for then, given, _ in ways)
        else:
            found = ((done, stepping.forget(done, settled)),)
        self.follows[outcome] = found
        return found

    def is_clear(self, done: int, settled: Settled) -> bool:
        """Whether every step whose turn it is happens, whatever else is chosen."""
        stepping = self.stepping
        for step in stepping.ready(done):
            if stepping.conditional >> step & 1 and stepping.judge(step, settled) != _MET:
                return False
        return True
