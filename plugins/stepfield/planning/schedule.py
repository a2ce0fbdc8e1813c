"""When each step can start, what decides how long a case takes, who waits, and the three-point formulas.

Forward and backward through the order, as the critical path method has it. A limit holds its earlier step back where
the later one can't come soon enough, so that the times are those of the temporal network, limits included.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import sqrt

from ..asepsis.order import Order
from ..language.model import Duration, Protocol
from .plan import Between, Plan, plan_of
from .standing import opened

Measure = Callable[[Duration], float]
"""How long a step is taken to last, in seconds."""
SLACK = 0.5
"""Below so many seconds a step counts as one that can't be put off."""


@dataclass(frozen=True, slots=True)
class Timed:
    """One step: the earliest it starts and ends, the latest it may start without delaying the end; seconds."""

    step: int
    starts: float
    ends: float
    latest_start: float

    @property
    def slack(self) -> float:
        """How long it can be put off without delaying the end or missing a limit."""
        return self.latest_start - self.starts

    @property
    def critical(self) -> bool:
        """Whether it can't be put off."""
        return self.slack < SLACK


@dataclass(frozen=True, slots=True)
class Schedule:
    """One scenario on the clock. ``critical`` is one chain of steps without slack, from the first to the last.

    ``busy`` maps a role (or a person with several) to the seconds its steps take, ``idle`` to those it waits between
    its first and its last step. ``unknown`` are the steps that say no duration; they count as taking no time.
    ``missed`` are the limits that can't be kept with these durations: the times do without them.
    """

    rows: tuple[Timed, ...]
    total: float
    critical: tuple[int, ...]
    busy: Mapping[str, float]
    idle: Mapping[str, float]
    unknown: tuple[int, ...]
    missed: tuple[Between, ...]


def least(duration: Duration) -> float:
    """The shortest time."""
    return duration.least


def likely(duration: Duration) -> float:
    """The usual time."""
    return duration.likely


def most(duration: Duration) -> float:
    """The longest time."""
    return duration.most


def expected(duration: Duration) -> float:
    """The mean of the three-point formula: (least + 4 likely + most) / 6."""
    return (duration.least + 4 * duration.likely + duration.most) / 6


def variance(duration: Duration) -> float:
    """The variance of the three-point formula: ((most - least) / 6) squared."""
    return ((duration.most - duration.least) / 6) ** 2


def lasting(protocol: Protocol, done: Sequence[bool], measure: Measure = likely) -> list[float]:
    """How long each step lasts, in seconds; 0 where it says nothing or is not done."""
    return [
        measure(step.takes) if done[number] and step.takes is not None else 0.0
        for number, step in enumerate(protocol.steps)
    ]


def schedule(protocol: Protocol, order: Order, done: Sequence[bool], measure: Measure = likely) -> Schedule:
    """The times of one scenario if every step lasts as ``measure`` says and starts as soon as it may.

    ``done`` tells of each step whether it is done there. Needs an order without loops.
    """
    return timed(protocol, plan_of(protocol, order, done), measure)


def timed(protocol: Protocol, plan: Plan, measure: Measure = likely) -> Schedule:
    """The times of a plan."""
    lasts = lasting(protocol, plan.done, measure)
    starts, because, limits, missed = _earliest(plan, lasts)
    ends = [start + seconds for start, seconds in zip(starts, lasts, strict=True)]
    total = max(ends, default=0.0)
    latest = _backward(plan, lasts, limits, total)
    rows = tuple(
        Timed(number, starts[number], ends[number], latest[number] - lasts[number])
        for number in plan.sequence
        if plan.done[number]
    )
    busy, idle = _shares(plan, starts, ends)
    unknown = tuple(number for number, step in enumerate(protocol.steps) if plan.done[number] and step.takes is None)
    critical = _chain(because, ends, total, plan.done)
    return Schedule(rows, total, critical, busy, idle, unknown, missed)


def total_of(protocol: Protocol, plan: Plan, measure: Measure) -> float:
    """How long a plan takes, in seconds."""
    lasts = lasting(protocol, plan.done, measure)
    starts, *_ = _earliest(plan, lasts)
    return max((start + seconds for start, seconds in zip(starts, lasts, strict=True)), default=0.0)


def by_formula(protocol: Protocol, plan: Plan) -> tuple[float, float]:
    """Mean and standard deviation of the total by the three-point formulas, in seconds.

    They look at the critical path alone, so they are too hopeful where another path is nearly as long.
    """
    usual, steps = timed(protocol, plan, expected), protocol.steps
    on_path = [steps[number].takes for number in usual.critical]
    return usual.total, sqrt(sum(variance(one) for one in on_path if one is not None))


def _earliest(plan: Plan, lasts: Sequence[float]) -> tuple[list[float], list[int], list[Between], tuple[Between, ...]]:
    """The earliest starts, what each waits for (-1: nothing), and the limits that can and that can't be kept."""
    limits = list(plan.limits)
    missed: list[Between] = []
    while True:
        starts, because, raised = _forward(plan, lasts, limits)
        if raised is None:
            return starts, because, limits, tuple(missed)
        limits.remove(raised)
        missed.append(raised)


def _forward(
    plan: Plan, lasts: Sequence[float], limits: Sequence[Between]
) -> tuple[list[float], list[int], Between | None]:
    """The earliest starts, what each waits for (-1: nothing), and a limit that can't be kept if there is one.

    What a limit asks for runs from a step to one before it. Each round passes that on once, so where it does not
    settle within as many rounds as there are limits, a limit drives itself.
    """
    size, rounds = len(plan.gaps), 0
    floor, floored = [0.0] * size, [-1] * size
    while True:
        starts, because = list(floor), list(floored)
        for number in plan.sequence:
            for earlier, gap in plan.gaps[number]:
                ready = starts[earlier] + lasts[earlier] + gap
                if ready > starts[number] or because[number] < 0:
                    starts[number], because[number] = max(starts[number], ready), earlier
        raised = None
        for limit in limits:
            asked = starts[limit.step] + lasts[limit.step] - limit.seconds - lasts[limit.of]
            if asked > max(starts[limit.of], floor[limit.of]) + 1e-6:  # sums of decimal times are not exact
                floor[limit.of], floored[limit.of], raised = asked, limit.step, limit
        if raised is None:
            return starts, because, None
        if rounds == len(limits):
            return starts, because, _driven(because, limits, raised)
        rounds += 1


def _driven(because: Sequence[int], limits: Sequence[Between], raised: Between) -> Between:
    """A limit of the circle that a limit which still asks for more must lead back to."""
    reasons = {**dict(enumerate(because)), raised.of: raised.step}
    at = raised.of
    for _ in reasons:
        at = reasons[at]
    circle = {at}
    while reasons[at] not in circle:
        at = reasons[at]
        circle.add(at)
    return next((one for one in limits if one.of in circle and reasons[one.of] == one.step), raised)


def _backward(plan: Plan, lasts: Sequence[float], limits: Sequence[Between], total: float) -> list[float]:
    """The latest end of every step."""
    latest, settled = [total] * len(plan.gaps), False
    while not settled:
        settled = True
        for number in reversed(plan.sequence):
            for earlier, gap in plan.gaps[number]:
                latest[earlier] = min(latest[earlier], latest[number] - lasts[number] - gap)
        for limit in limits:
            if latest[limit.step] > latest[limit.of] + limit.seconds + 1e-6:
                latest[limit.step], settled = latest[limit.of] + limit.seconds, False
    return latest


def _chain(because: Sequence[int], ends: Sequence[float], total: float, done: Sequence[bool]) -> tuple[int, ...]:
    """Back from a step that ends last along what each had to wait for."""
    at = next((number for number, end in enumerate(ends) if end == total and done[number]), -1)
    chain: list[int] = []
    seen = set()
    while at >= 0 and at not in seen:
        seen.add(at)
        if done[at]:
            chain.append(at)
        at = because[at]
    return tuple(reversed(chain))


def _shares(plan: Plan, starts: Sequence[float], ends: Sequence[float]) -> tuple[dict[str, float], dict[str, float]]:
    busy: dict[str, float] = {}
    idle: dict[str, float] = {}
    for who, lane in plan.lanes.items():
        own = [number for number in lane if plan.done[number]]
        busy[who] = sum(ends[number] - starts[number] for number in own)
        span = max((ends[number] for number in own), default=0.0) - min((starts[number] for number in own), default=0.0)
        idle[who] = max(0.0, span - busy[who])
    return busy, idle


def open_times(protocol: Protocol, found: Schedule) -> Mapping[str, float]:
    """How long what a pack holds lies open before a step first handles any of it, in seconds, by pack."""
    starts = {one.step: one.starts for one in found.rows}
    ends = {one.step: one.ends for one in found.rows}
    return {one.subject: one.before_use(starts, ends) for one in opened(protocol, starts)}


def waiting_for(plan: Plan, found: Schedule) -> Iterator[tuple[Between, float]]:
    """Every wait and limit that is kept or missed, with the seconds that really lie between, in the order of steps."""
    at = {one.step: one for one in found.rows}
    for wait in plan.waits:
        yield wait, at[wait.step].starts - at[wait.of].ends
    for limit in plan.limits:
        yield limit, at[limit.step].ends - at[limit.of].ends
