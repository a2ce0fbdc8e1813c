"""What a scheduler is told: tasks with whole lengths, what waits for what, and which tasks one pair of hands does.

A step without a duration takes no time, and yet it must be clear what comes before it and what behind. So all times are
stretched by a factor large enough that such a step can last a single unit without any total being told wrongly.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import gcd

from ..asepsis.order import Order, bits
from ..language.model import Protocol, Step
from .schedule import likely

PER_SECOND = 1000
"""Times are written with three decimals at most."""

Clause = tuple[tuple[int, int], ...]
"""Pairs of tasks (earlier, later): in at least one of them the first has ended when the second starts."""


@dataclass(frozen=True, slots=True)
class Work:
    """Tasks to put on the clock; ``grain`` units of time are ``tick`` seconds.

    ``arcs`` are (earlier, later, wait): the later task starts no sooner than so long after the earlier one has ended.
    ``limits`` are (earlier, later, most): the later one has ended at most so long after the earlier one has.
    ``hands`` are the tasks of each person, who does one at a time. ``stages`` are masks of tasks, each wholly before
    the next. Totals are told in ticks; one that is off by ``blur`` units is the same total.
    """

    lasts: tuple[int, ...]
    arcs: tuple[tuple[int, int, int], ...]
    limits: tuple[tuple[int, int, int], ...] = ()
    hands: tuple[tuple[int, ...], ...] = ()
    stages: tuple[int, ...] = ()
    tick: float = 1.0
    blur: int = 0
    grain: int = 1

    def seconds(self, total: int) -> float:
        """A total of units as seconds, without the units that only tell before from behind."""
        return round(total / self.grain) * self.tick

    def at_least(self, bound: int) -> float:
        """A bound from below in units, as seconds."""
        return max(0, -(-(bound - self.blur) // self.grain)) * self.tick


def work_of(protocol: Protocol, order: Order, people: Sequence[Iterable[str]]) -> Work:
    """The work of one scenario of a protocol, done by people of whom each has some roles; usual durations."""
    steps = protocol.steps
    index = {step.id.value: number for number, step in enumerate(steps)}
    waits = dict(_lags(steps, index))
    limits = [
        (index[one.step.value], number, round(one.seconds * PER_SECOND))
        for number, step in enumerate(steps)
        for one in step.within
        if one.step.value in index
    ]
    lasts = [0 if step.takes is None else round(likely(step.takes) * PER_SECOND) for step in steps]
    common = gcd(*lasts, *waits.values(), *(most for *_, most in limits)) or PER_SECOND
    grain = 2 * (len(steps) + 1) * (len(limits) + 1)
    mine = [{*roles} for roles in people]
    return Work(
        lasts=tuple(one // common * grain or 1 for one in lasts),
        arcs=tuple((one, other, waits.get((one, other), 0) // common * grain) for one, other in _arcs(order, waits)),
        limits=tuple((one, other, most // common * grain + len(steps)) for one, other, most in limits),
        hands=tuple(tuple(number for number, step in enumerate(steps) if _does(step, roles)) for roles in mine),
        stages=tuple(_stages(order)),
        tick=common / PER_SECOND,
        blur=len(steps),
        grain=grain,
    )


def _lags(steps: Sequence[Step], index: Mapping[str, int]) -> Iterator[tuple[tuple[int, int], int]]:
    for number, step in enumerate(steps):
        for wait in step.waits:
            if wait.step.value in index:
                yield (index[wait.step.value], number), round(wait.seconds * PER_SECOND)


def _arcs(order: Order, waits: Iterable[tuple[int, int]]) -> Iterator[tuple[int, int]]:
    """What waits for what, without what follows from the rest; a wait on a step that may come later orders the two."""
    ancestors = order.ancestors()
    found = set(waits)
    for later, before in enumerate(order.before):
        passed = 0
        for earlier in bits(before):
            passed |= ancestors[earlier]
        found |= {(earlier, later) for earlier in bits(before & ~passed)}
    return iter(sorted(found))


def _does(step: Step, roles: Iterable[str]) -> bool:
    taking_part = {person.value for person in (step.role, *step.helpers) if person is not None}
    return bool(taking_part & {*roles})


def _stages(order: Order) -> Iterator[int]:
    for phase in dict.fromkeys(order.phase_of):
        yield sum(1 << step for step, at in enumerate(order.phase_of) if at == phase)


def quick(work: Work, arcs: Iterable[tuple[int, int, int]] = ()) -> list[int]:
    """When each task starts if whoever can begin first always begins, and of these who has most behind; limits apart.

    ``arcs`` are further waits. Raises ValueError if tasks wait for each other in a loop.
    """
    every = [*work.arcs, *arcs]
    tails = tails_of(work, every)
    before: list[list[tuple[int, int]]] = [[] for _ in work.lasts]
    for earlier, later, wait in every:
        before[later].append((earlier, wait))
    free = [0] * len(work.hands)
    whose = [[person for person, tasks in enumerate(work.hands) if task in tasks] for task in range(len(work.lasts))]
    starts = [-1] * len(work.lasts)
    left = set(range(len(work.lasts)))
    while left:
        ready = [task for task in left if all(starts[earlier] >= 0 for earlier, _ in before[task])]
        at = {
            task: max(
                [0, *(free[person] for person in whose[task])]
                + [starts[earlier] + work.lasts[earlier] + wait for earlier, wait in before[task]]
            )
            for task in ready
        }
        task = min(ready, key=lambda one: (at[one], -tails[one], one))
        starts[task] = at[task]
        left.remove(task)
        for person in whose[task]:
            free[person] = starts[task] + work.lasts[task]
    return starts


def tails_of(work: Work, arcs: Iterable[tuple[int, int, int]]) -> list[int]:
    """For each task the time from its start to the end of all that waits for it. Raises ValueError on a loop."""
    after: list[list[tuple[int, int]]] = [[] for _ in work.lasts]
    waiting_for = [0] * len(work.lasts)
    for earlier, later, wait in arcs:
        after[earlier].append((later, wait))
        waiting_for[later] += 1
    ready = [task for task, count in enumerate(waiting_for) if not count]
    for task in ready:  # grows
        for later, _ in after[task]:
            waiting_for[later] -= 1
            if not waiting_for[later]:
                ready.append(later)
    if len(ready) < len(work.lasts):
        raise ValueError("tasks wait for each other in a loop")
    tails = list(work.lasts)
    for task in reversed(ready):
        tails[task] += max((tails[later] + wait for later, wait in after[task]), default=0)
    return tails


def total_of(work: Work, starts: Sequence[int]) -> int:
    """When the last task ends, in units."""
    return max((start + lasts for start, lasts in zip(starts, work.lasts, strict=True)), default=0)


def keeps_limits(work: Work, starts: Sequence[int]) -> bool:
    """Whether no time limit is passed."""
    return all(
        starts[later] + work.lasts[later] <= starts[earlier] + work.lasts[earlier] + most
        for earlier, later, most in work.limits
    )


def least_total(work: Work) -> int:
    """No schedule is shorter than this many units: the longest chain, and in each stage what one person has to do."""
    whole = max(tails_of(work, work.arcs), default=0)
    in_stages = 0
    for stage in work.stages:
        inside = [arc for arc in work.arcs if stage >> arc[0] & 1 and stage >> arc[1] & 1]
        tails = tails_of(work, inside)
        chain = max(tails[task] for task in bits(stage))
        in_stages += max([chain, *(sum(work.lasts[task] for task in own if stage >> task & 1) for own in work.hands)])
    return max(whole, in_stages)


def order_in(work: Work, starts: Sequence[int]) -> list[tuple[int, int]]:
    """The pairs of tasks of which one has ended when the other starts."""
    ends = [start + lasts for start, lasts in zip(starts, work.lasts, strict=True)]
    tasks = range(len(starts))
    return [(one, other) for one in tasks for other in tasks if one != other and ends[one] <= starts[other]]
