"""How many orders stand behind a verdict, counted exactly where that takes little enough work and bracketed elsewhere.

What is counted: the ways in which one case can go through from the first step to the last. A way is
- how each choice that some step's condition looks at is settled before the case,
- the steps that are then done, one after the other: the order of phases, lanes and ``after`` is kept, and steps that
  could be done at the same time count once for either way round,
- and, for each question among them that some condition looks at, its answer.

A step whose condition is not met has no place in the way; what waits for it waits for what it would have waited for.
One pass is counted: no question gets the answer that sends its lane back, so each step comes once at most. Choices and
answers that no condition looks at make no difference and are not counted. Two ways that settle a choice differently
are two, even if the same steps follow.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from graphlib import TopologicalSorter
from itertools import groupby

from .extensions import WORK, Count, PartialOrder, Work
from .graph import BoundCondition, StepGraph
from .order import bits
from .stepping import Settled

LOOKS = 100_000
"""How many steps are looked at, summed over the settlings of choices and answers, before those are only bracketed."""
NONE = Count.of(0)


@lru_cache(maxsize=256)
def count_orders(graph: StepGraph, *, work: int = WORK, looks: int = LOOKS) -> Count:
    """The number of orders of a protocol without loops, as this module defines them.

    It is bracketed where the phases are too wide to count within ``work``, where choices and answers combine to more
    than ``looks``, and where a condition looks at a question that may come later. Whoever asks again of the same graph
    (it is known by itself, not by what it holds) is given the same answer.
    """
    counting = _Counting(graph, Work(work))
    found = None if counting.late else counting.by_settling(looks)
    return counting.at_large() if found is None else found


@dataclass(frozen=True, slots=True)
class _Stage:
    """One phase: its steps in an allowed order, each with its position as a member of the partial order."""

    steps: tuple[int, ...]
    order: PartialOrder

    @property
    def everything(self) -> int:
        """The mask of all members."""
        return (1 << len(self.steps)) - 1


class _Counting:
    def __init__(self, graph: StepGraph, work: Work) -> None:
        self.graph = graph
        phases = groupby(range(len(graph.steps)), key=lambda step: graph.order.phase_of[step])
        self.stages = [_stage(graph, list(steps), work) for _, steps in phases]
        looked_at = [part for parts in graph.conditions for part in parts]
        named = {choice.id.value: choice for choice in graph.protocol.choices}
        self.options = {
            name: tuple(option.value for option, _ in named[name].options)
            for name in dict.fromkeys(part.choice for part in looked_at if part.choice is not None)
        }
        names: list[str | int | None] = [*self.options, *graph.tracked]
        self.slots = {name: slot for slot, name in enumerate(names)}
        self.answers = {step: found for step in range(len(graph.steps)) if (found := _answers(graph, step)) is not None}
        self.late = any(_looks_ahead(graph, stage) for stage in self.stages)
        self.last_use = self._last_use()

    def by_settling(self, looks: int) -> Count | None:
        """The sum over all settlings, told apart as long as a step to come looks at them; None if they are too many."""
        table: dict[Settled, Count] = {(None,) * len(self.slots): Count.of(1)}
        for stage in self.stages:
            always = sum(1 << at for at, step in enumerate(stage.steps) if not self._decides(step))
            ways = {(known, always): count for known, count in table.items()}
            for at, step in enumerate(stage.steps):
                if self._decides(step):
                    ways = self._past(step, 1 << at, ways)
                    looks -= len(ways)
                if looks < 0:
                    return None
            looks -= len(ways) * len(stage.steps)
            if looks < 0:
                return None
            summed: dict[Settled, Count] = defaultdict(lambda: NONE)
            for (known, done), count in ways.items():
                summed[known] += count * stage.order.count(done)
            table = dict(summed)
        return sum(table.values(), NONE)

    def at_large(self) -> Count:
        """Bounds for all settlings together: at least the steps without a condition happen, at most all steps do.

        Every order of the steps without a condition can be filled up to a way. And every way comes from an order of all
        steps by passing over some, which ones being settled by the choices, the answers and that order.
        """
        choices = math.prod(len(options) for options in self.options.values())
        answers = math.prod(len(self.answers.get(question, ())) or 1 for question in self.graph.tracked)
        found = Count(0 if () in self.answers.values() else choices, choices * answers)
        for stage in self.stages:
            always = sum(1 << at for at, step in enumerate(stage.steps) if not self.graph.conditions[step])
            fewest, most = stage.order.count(always), stage.order.count(stage.everything)
            found *= Count(fewest.at_least, most.at_most)
        return found

    def _decides(self, step: int) -> bool:
        return bool(self.graph.conditions[step]) or step in self.answers

    def _past(self, step: int, bit: int, ways: dict[tuple[Settled, int], Count]) -> dict[tuple[Settled, int], Count]:
        """The ways so far, carried over one step that is done or skipped, for each option and answer."""
        found: dict[tuple[Settled, int], Count] = defaultdict(lambda: NONE)
        for (before, done), count in ways.items():
            for known in self._choose(before, self.graph.conditions[step]):
                if all(known[self._slot(part)] in part.options for part in self.graph.conditions[step]):
                    for then in self._answer(known, step):
                        found[self._forget(then, step), done | bit] += count
                else:
                    found[self._forget(known, step), done] += count
        return dict(found)

    def _choose(self, known: Settled, parts: Sequence[BoundCondition]) -> Iterator[Settled]:
        """Every way to settle the choices that are looked at here for the first time."""
        for part in parts:
            if part.choice is not None and known[self._slot(part)] is None:
                for option in self.options[part.choice]:
                    yield from self._choose(_with(known, self._slot(part), option), parts)
                return
        yield known

    def _answer(self, known: Settled, step: int) -> Iterator[Settled]:
        if step not in self.answers:
            yield known
        for answer in self.answers.get(step, ()):
            yield _with(known, self.slots[step], answer) if step in self.slots else known

    def _forget(self, known: Settled, step: int) -> Settled:
        for slot in self.last_use.get(step, ()):
            known = _with(known, slot, None)
        return known

    def _slot(self, part: BoundCondition) -> int:
        return self.slots[part.choice if part.question is None else part.question]

    def _last_use(self) -> dict[int, list[int]]:
        """For each step the slots that no step after it looks at, in the order in which the steps are gone through."""
        last: dict[int, int] = {}
        for stage in self.stages:
            for step in stage.steps:
                last |= {self._slot(part): step for part in self.graph.conditions[step]}
        dropped: dict[int, list[int]] = defaultdict(list)
        for slot, step in last.items():
            dropped[step].append(slot)
        return dict(dropped)


def _stage(graph: StepGraph, steps: list[int], work: Work) -> _Stage:
    """A phase, renumbered in an allowed order."""
    first, everything = steps[0], (1 << len(steps)) - 1
    direct = {step - first: list(bits(graph.order.before[step] >> first & everything)) for step in steps}
    in_order = tuple(TopologicalSorter(direct).static_order())
    position = {member: at for at, member in enumerate(in_order)}
    below: list[int] = []
    for member in in_order:
        mask = 0
        for lower in direct[member]:
            mask |= below[position[lower]] | 1 << position[lower]
        below.append(mask)
    return _Stage(tuple(first + member for member in in_order), PartialOrder(below, work))


def _looks_ahead(graph: StepGraph, stage: _Stage) -> bool:
    """Whether some step of a phase has a condition on a question that does not always come before it."""
    position = {step: at for at, step in enumerate(stage.steps)}
    first = min(stage.steps)
    return any(
        part.question >= first
        and (part.question not in position or not stage.order.below[at] >> position[part.question] & 1)
        for step, at in position.items()
        for part in graph.conditions[step]
        if part.question is not None
    )


def _answers(graph: StepGraph, step: int) -> tuple[str, ...] | None:
    """The answers that let a case go on, where they make a difference: a condition looks at them, or there is none."""
    asks, repeat = graph.steps[step].asks, graph.repeats.get(step)
    if asks is None:
        return None
    again = None if repeat is None else repeat[0]
    ending = tuple(dict.fromkeys(text.value for text in asks.answers if text.value != again))
    return ending if step in graph.tracked or not ending else None


def _with(known: Settled, slot: int, value: str | None) -> Settled:
    return (*known[:slot], value, *known[slot + 1 :])
