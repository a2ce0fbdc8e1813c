"""The shortest time in which a protocol of one scenario can be done so that asepsis holds whatever comes first.

A schedule leaves open which of two steps comes first if they overlap: it is good only if every order that it allows is
without a slip. The clock alone is asked first. Where an order that its schedule allows slips, that is ruled out by a
clause, and the clock is asked again: what comes out in the end cannot be bettered. A clause is found from the slip's
order: pairs of steps, as few as will do, such that no order at all keeps asepsis while each pair comes in that order.
A schedule in which none of them is turned round allows some order with all of them so (the steps are intervals of time:
no chain of "has ended before" and of pairs can close), so it cannot be good, and at least one has to be turned round.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from ..asepsis.graph import StepGraph
from . import solver_schedule
from .network import Bound, Network
from .orders import Failure, Orders, in_order, orders_of
from .solver_schedule import Solved
from .work import Clause, Work, keeps_limits, least_total, order_in, quick, total_of

ROUNDS = 60
"""How often the clock is asked again before the answer is two bounds."""

Scheduler = Callable[[Work, Sequence[Clause]], Solved]
"""Finds a shortest schedule under clauses."""


@dataclass(frozen=True, slots=True)
class Shortest:
    """The shortest time lies between ``least`` and ``most`` seconds; they are the same where it is known.

    ``starts`` are the starts of a schedule that takes ``most``, in units of the work; ``most`` and ``starts`` are None
    where none is known that keeps every time limit. ``impossible`` tells that there is none at all.
    """

    least: float
    most: float | None
    starts: tuple[int, ...] | None
    impossible: bool = False


def scheduler() -> Scheduler | None:
    """The solver, where it is installed."""
    return solver_schedule.solved if solver_schedule.is_there() else None


def shortest(
    graph: StepGraph, work: Work, found: Orders, limit: int, solve: Scheduler | None, rounds: int = ROUNDS
) -> Shortest:
    """The shortest time of a protocol of which an order that keeps asepsis is ``found``; ``limit`` bounds each search.

    Raises ValueError if waits close a loop.
    """
    lower, known = least_total(work), _along(work, found)
    upper = None if known is None else total_of(work, known)
    if upper is None or work.at_least(lower) < work.seconds(upper):
        clauses: list[Clause] = []
        for _ in range(rounds):
            next_best = _relaxed(work, clauses, solve)
            if next_best is None or (next_best.starts is None and not next_best.impossible):
                break
            if next_best.starts is None:
                return Shortest(0.0, None, None, impossible=True)
            lower = max(lower, next_best.bound)
            allowed = orders_of(in_order(graph, order_in(work, next_best.starts)), limit, first_slip=True)
            total = total_of(work, next_best.starts)
            if allowed.failures and next_best.bound < total:
                break  # the clock alone is hard enough: further rounds would only take longer
            if allowed.failures:
                clauses.append(_ruled_out(graph, found, allowed.failures[0], limit))
                continue
            if allowed.complete and (upper is None or total <= upper):
                known, upper = next_best.starts, total
            break
    least = work.at_least(lower)
    if upper is None:
        return Shortest(least, None, None)
    return Shortest(min(least, work.seconds(upper)), work.seconds(upper), known)


def _along(work: Work, found: Orders) -> tuple[int, ...] | None:
    """A quick schedule that keeps the order found wherever order matters; None if it passes a time limit."""
    way = found.clean or ()
    kept = [
        (one, other, 0)
        for at, one in enumerate(way)
        for other in way[at + 1 :]
        if _conflicting(found.conflicts, one, other)
    ]
    starts = quick(work, kept)
    return tuple(starts) if keeps_limits(work, starts) else None


def _relaxed(work: Work, clauses: Sequence[Clause], solve: Scheduler | None) -> Solved | None:
    """The shortest schedule by the clock and the clauses alone; None where that takes a solver and there is none."""
    if clauses or not _are_chains(work):
        return None if solve is None else solve(work, clauses)
    lasts, origin = work.lasts, len(work.lasts)
    bounds = [Bound(later, earlier, -lasts[earlier] - wait, None) for earlier, later, wait in work.arcs]
    bounds += [
        Bound(earlier, later, lasts[earlier] + most - lasts[later], None) for earlier, later, most in work.limits
    ]
    bounds += [Bound(task, origin, 0.0, None) for task in range(origin)]
    try:
        starts = tuple(round(at) for at in Network(origin + 1, bounds).earliest(origin)[:origin])
    except ValueError:
        return Solved(None, 0, impossible=True)
    return Solved(starts, total_of(work, starts), impossible=False)


def _are_chains(work: Work) -> bool:
    """Whether everybody's tasks follow one another by the order alone, so that there is nothing to choose."""
    after = closed([(earlier, later) for earlier, later, _ in work.arcs], len(work.lasts))
    return all(
        after[one] >> other & 1 or after[other] >> one & 1
        for own in work.hands
        for at, one in enumerate(own)
        for other in own[at + 1 :]
    )


def closed(pairs: Sequence[tuple[int, int]], steps: int) -> list[int]:
    """For each step the mask of the steps that come after it by a chain of pairs."""
    after = [0] * steps
    for earlier, later in pairs:
        after[earlier] |= 1 << later
    for middle in range(steps):
        for step in range(steps):
            if after[step] >> middle & 1:
                after[step] |= after[middle]
    return after


def _ruled_out(graph: StepGraph, found: Orders, failure: Failure, limit: int) -> Clause:
    """What a schedule has to keep so as not to allow the failure's order, nor any that slips for the same reason."""
    pairs = _together(graph, found, failure)
    size = max(1, len(pairs) // 2)
    while True:
        at = 0
        while at < len(pairs):
            fewer = pairs[:at] + pairs[at + size :]
            tried = orders_of(in_order(graph, fewer), limit)
            if tried.complete and tried.clean is None:
                pairs = fewer
            else:
                at += size
        if size == 1:
            break
        size //= 2
    after, ancestors = closed(pairs, len(graph.steps)), graph.order.ancestors()
    return tuple(
        (later, earlier)
        for earlier, mask in enumerate(after)
        for later in range(len(graph.steps))
        if mask >> later & 1 and not ancestors[later] >> earlier & 1
    )


def _together(graph: StepGraph, found: Orders, failure: Failure) -> list[tuple[int, int]]:
    """Pairs of steps that between them bring the failure about: in any order that has them so, it shows."""
    way, ancestors = failure.way, graph.order.ancestors()
    past = set(way) if failure.at_end else {way[-1]}
    if not failure.at_end:
        for step in reversed(way[:-1]):
            if any(_conflicting(found.conflicts, step, other) or ancestors[other] >> step & 1 for other in past):
                past.add(step)
    inside = [step for step in way if step in past]
    behind = [step for step in range(len(graph.steps)) if step not in past]
    pairs = [(one, other) for at, one in enumerate(inside) for other in inside[at + 1 :]]
    pairs += [(one, other) for one in inside for other in behind]
    return [
        (one, other)
        for one, other in pairs
        if _conflicting(found.conflicts, one, other) and not ancestors[other] >> one & 1
    ]


def _conflicting(conflicts: Sequence[int], one: int, other: int) -> bool:
    return bool(conflicts[one] >> other & 1 or conflicts[other] >> one & 1)
