"""When each step can start, what decides how long a case takes, who waits, and how far the total may spread.

Forward and backward through the order, as the critical path method has it; the spread by the three-point formulas on
the critical path, and by drawing durations at random again and again, which also sees paths that are nearly critical.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import sqrt

from ..asepsis.order import Order, bits
from ..language.model import Duration, Protocol, Step

Measure = Callable[[Duration], float]
"""How long a step is taken to last, in seconds."""


@dataclass(frozen=True, slots=True)
class Timed:
    """One step: the earliest it starts and ends, the latest it may start without delaying the end; seconds."""

    step: int
    starts: float
    ends: float
    latest_start: float

    @property
    def slack(self) -> float:
        """How long it can be put off without delaying the end."""
        return self.latest_start - self.starts


@dataclass(frozen=True, slots=True)
class Schedule:
    """One scenario on the clock. ``critical`` is one chain of steps without slack, from the first to the last.

    ``busy`` maps a role to the seconds its steps take, ``idle`` to those it waits between its first and its last step.
    ``unknown`` are the steps that say no duration; they count as taking no time.
    """

    rows: tuple[Timed, ...]
    total: float
    critical: tuple[int, ...]
    busy: Mapping[str, float]
    idle: Mapping[str, float]
    unknown: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Spread:
    """How long a case takes, in seconds: mean and deviation, and the drawn times that so many per cent stay below."""

    mean: float
    deviation: float
    below: Mapping[int, float]
    runs: int


def likely(duration: Duration) -> float:
    """The usual time."""
    return duration.likely


def expected(duration: Duration) -> float:
    """The mean of the three-point formula: (least + 4 likely + most) / 6."""
    return (duration.least + 4 * duration.likely + duration.most) / 6


def variance(duration: Duration) -> float:
    """The variance of the three-point formula: ((most - least) / 6) squared."""
    return ((duration.most - duration.least) / 6) ** 2


def schedule(protocol: Protocol, order: Order, done: Sequence[bool], measure: Measure = likely) -> Schedule:
    """The times of one scenario; ``done`` tells of each step whether it is done there. Needs an order without loops."""
    steps = protocol.steps
    lasts = [_seconds(step, measure) if done[number] else 0.0 for number, step in enumerate(steps)]
    return _scheduled(protocol, order, done, lasts)


def _scheduled(protocol: Protocol, order: Order, done: Sequence[bool], lasts: Sequence[float]) -> Schedule:
    steps, waits = protocol.steps, _waits(protocol, done)
    ends, starts, because = [0.0] * len(steps), [0.0] * len(steps), [-1] * len(steps)
    sequence = order.sorted_steps()
    for number in sequence:
        for earlier in bits(order.before[number]):
            ready = ends[earlier] + waits.get((earlier, number), 0.0)
            if ready > starts[number] or because[number] < 0:
                starts[number], because[number] = max(starts[number], ready), earlier
        ends[number] = starts[number] + lasts[number]
    total = max(ends, default=0.0)
    latest = [total] * len(steps)
    for number in reversed(sequence):
        for earlier in bits(order.before[number]):
            latest[earlier] = min(latest[earlier], latest[number] - lasts[number] - waits.get((earlier, number), 0.0))
    rows = tuple(
        Timed(number, starts[number], ends[number], latest[number] - lasts[number])
        for number in sequence
        if done[number]
    )
    busy, idle = _shares(order, done, starts, ends)
    unknown = tuple(number for number, step in enumerate(steps) if done[number] and step.takes is None)
    return Schedule(rows, total, _chain(because, ends, total, done), busy, idle, unknown)


def spread(
    protocol: Protocol, order: Order, done: Sequence[bool], *, runs: int = 1000, seed: int = 1
) -> tuple[Spread, Spread]:
    """The spread of the total by the three-point formulas, and by drawing; the same seed draws the same.

    The formulas look at the critical path alone, so they are too hopeful where another path is nearly as long. What is
    drawn follows the triangular distribution of the three times.
    """
    usual = schedule(protocol, order, done, expected)
    takes = [step.takes for step in protocol.steps]
    on_path = [takes[number] for number in usual.critical]
    deviation = sqrt(sum(variance(one) for one in on_path if one is not None))
    by_formula = Spread(usual.total, deviation, {}, 0)
    chance = random.Random(seed)  # noqa: S311 - nothing secret
    totals = sorted(_drawn(protocol, order, done, takes, chance) for _ in range(runs))
    mean = sum(totals) / runs
    drawn = Spread(
        mean,
        sqrt(sum((one - mean) ** 2 for one in totals) / max(1, runs - 1)),
        {share: totals[min(runs - 1, share * runs // 100)] for share in (10, 50, 90)},
        runs,
    )
    return by_formula, drawn


def open_times(protocol: Protocol, timed: Schedule) -> Mapping[str, float]:
    """How long what a pack holds lies open before a step first handles any of it, in seconds, by pack."""
    at = {one.step: one for one in timed.rows}
    held: dict[str, set[str]] = {}
    for name, subject in protocol.subjects.items():
        if subject.held_in is not None:
            held.setdefault(subject.held_in, set()).add(name)
    found: dict[str, float] = {}
    for number, step in enumerate(protocol.steps):
        for effect in step.effects if number in at else ():
            if effect.field == "opens" and effect.thing.value in held:
                pack = effect.thing.value
                uses = [
                    at[other].starts
                    for other, later in enumerate(protocol.steps)
                    if other in at and other != number and _handles(later, held[pack])
                ]
                if uses:
                    found[pack] = max(0.0, min(uses) - at[number].ends)
    return found


def _handles(step: Step, things: set[str]) -> bool:
    return any(
        name is not None and name.value in things for effect in step.effects for name in (effect.thing, effect.target)
    )


def _drawn(
    protocol: Protocol, order: Order, done: Sequence[bool], takes: Sequence[Duration | None], chance: random.Random
) -> float:
    lasts = [
        chance.triangular(one.least, one.most, one.likely) if one is not None and done[number] else 0.0
        for number, one in enumerate(takes)
    ]
    return _scheduled(protocol, order, done, lasts).total


def _seconds(step: Step, measure: Measure) -> float:
    return 0.0 if step.takes is None else measure(step.takes)


def _waits(protocol: Protocol, done: Sequence[bool]) -> dict[tuple[int, int], float]:
    """(step waited for, step that waits) -> seconds, where both are done."""
    index = {step.id.value: number for number, step in enumerate(protocol.steps)}
    return {
        (index[wait.step.value], number): wait.seconds
        for number, step in enumerate(protocol.steps)
        for wait in step.waits
        if wait.step.value in index and done[number] and done[index[wait.step.value]]
    }


def _chain(because: Sequence[int], ends: Sequence[float], total: float, done: Sequence[bool]) -> tuple[int, ...]:
    """Back from a step that ends last along what each had to wait for."""
    at = next((number for number, end in enumerate(ends) if end == total and done[number]), -1)
    chain: list[int] = []
    while at >= 0:
        if done[at]:
            chain.append(at)
        at = because[at]
    return tuple(reversed(chain))


def _shares(
    order: Order, done: Sequence[bool], starts: Sequence[float], ends: Sequence[float]
) -> tuple[dict[str, float], dict[str, float]]:
    busy: dict[str, float] = {}
    idle: dict[str, float] = {}
    for role, lane in order.lanes.items():
        own = [number for number in lane if done[number]]
        busy[role] = sum(ends[number] - starts[number] for number in own)
        span = max((ends[number] for number in own), default=0.0) - min((starts[number] for number in own), default=0.0)
        idle[role] = max(0.0, span - busy[role])
    return busy, idle
