"""The order of one scenario with its least gaps and its limits: what every question about the clock starts from.

Steps are known by their index. What is not done takes no time, but order through it is kept.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from ..asepsis.order import Order, bits
from ..language.model import Person, Protocol


@dataclass(frozen=True, slots=True)
class Between:
    """A time between the end of step ``of`` and step ``step``, in seconds.

    As a wait it runs to the step's start and is the least; as a limit it runs to the step's end and is the most.
    """

    step: int
    of: int
    seconds: float


@dataclass(frozen=True, slots=True)
class Plan:
    """One scenario, ready for the clock.

    ``sequence`` is one order that keeps everything, ``gaps[n]`` are the steps that step n waits for, each with the
    least seconds between. ``lanes`` are the steps that each role, or a person who has several, does. ``left_out`` are
    waits for what comes no earlier: nobody can keep them.
    """

    done: tuple[bool, ...]
    sequence: tuple[int, ...]
    gaps: tuple[tuple[tuple[int, float], ...], ...]
    waits: tuple[Between, ...]
    limits: tuple[Between, ...]
    lanes: Mapping[str, tuple[int, ...]]
    left_out: tuple[Between, ...]


def plan_of(protocol: Protocol, order: Order, done: Sequence[bool]) -> Plan:
    """The plan of one scenario; ``done`` tells of each step whether it is done there. Needs an order without loops."""
    waits = tuple(_between(protocol, done, "waits"))
    gaps = [dict.fromkeys(earlier, 0.0) for earlier in _directly_before(order)]
    left_out = []
    for wait in waits:
        if wait.of == wait.step or _reaches(gaps, wait.of, wait.step):
            left_out.append(wait)
        else:
            gaps[wait.step][wait.of] = max(wait.seconds, gaps[wait.step].get(wait.of, 0.0))
    kept = tuple(wait for wait in waits if wait not in left_out)
    return Plan(
        done=tuple(done),
        sequence=_sequence(gaps),
        gaps=tuple(tuple(sorted(one.items())) for one in gaps),
        waits=kept,
        limits=tuple(_between(protocol, done, "within")),
        lanes=order.lanes,
        left_out=tuple(left_out),
    )


def with_people(plan: Plan, people: Iterable[Person], lasts: Sequence[float]) -> Plan:
    """The plan where some people have several roles: each does one step after the other.

    Their steps are lined up as they come: of those that nothing holds back, the one that can start first, and of
    several the one listed first. That is a sensible order and need not be the quickest. ``lasts`` are seconds.
    """
    lanes = _lanes(plan, people)
    busy_in: dict[int, list[str]] = {}
    for who, lane in lanes.items():
        for number in lane:
            busy_in.setdefault(number, []).append(who)
    last: dict[str, int] = {}
    gaps = [dict(one) for one in plan.gaps]
    ends = [0.0] * len(gaps)
    waiting, sequence = set(plan.sequence), []
    while waiting:
        start, number = min(
            (max([0.0, *(ends[of] + gap for of, gap in plan.gaps[one]), *_free(one, busy_in, last, ends)]), one)
            for one in waiting
            if not any(of in waiting for of, _ in plan.gaps[one])
        )
        waiting.remove(number)
        sequence.append(number)
        ends[number] = start + lasts[number]
        for who in busy_in.get(number, ()) if plan.done[number] else ():
            if who in last:
                gaps[number].setdefault(last[who], 0.0)
            last[who] = number
    return replace(plan, sequence=tuple(sequence), gaps=tuple(tuple(sorted(one.items())) for one in gaps), lanes=lanes)


def both_at_once(protocol: Protocol, people: Iterable[Person]) -> tuple[tuple[int, Person], ...]:
    """The steps that take two people at the same moment who are one person here, each with that person."""
    shared = tuple(people)
    return tuple(
        (number, person)
        for number, step in enumerate(protocol.steps)
        for person in shared
        if len({role.value for role in person.roles} & {one.value for one in (step.role, *step.helpers) if one}) > 1
    )


def _free(number: int, busy_in: Mapping[int, list[str]], last: Mapping[str, int], ends: Sequence[float]) -> list[float]:
    return [ends[last[who]] for who in busy_in.get(number, ()) if who in last]


def _lanes(plan: Plan, people: Iterable[Person]) -> dict[str, tuple[int, ...]]:
    lanes = dict(plan.lanes)
    for person in people:
        own = {number for role in person.roles for number in lanes.pop(role.value, ())}
        lanes[person.id.value] = tuple(sorted(own))
    return lanes


def _between(protocol: Protocol, done: Sequence[bool], field: str) -> Iterator[Between]:
    """The waits (or limits) between two steps that are both done."""
    index = {step.id.value: number for number, step in enumerate(protocol.steps)}
    for number, step in enumerate(protocol.steps):
        for one in step.waits if field == "waits" else step.within:
            of = index.get(one.step.value)
            if of is not None and done[number] and done[of]:
                yield Between(number, of, one.seconds)


def _directly_before(order: Order) -> Iterator[list[int]]:
    """For each step those it waits for, without most of those that come before one of them anyway."""
    ancestors = order.ancestors()
    for mask in order.before:
        found, left = [], mask
        while left:
            earlier = left.bit_length() - 1
            found.append(earlier)
            left &= ~(ancestors[earlier] | 1 << earlier)
        yield found


def _reaches(gaps: Sequence[Mapping[int, float]], late: int, early: int) -> bool:
    """Whether step ``early`` comes before step ``late`` in any case."""
    seen, ahead = 0, [late]
    while ahead:
        for earlier in gaps[ahead.pop()]:
            if earlier == early:
                return True
            if not seen >> earlier & 1:
                seen |= 1 << earlier
                ahead.append(earlier)
    return False


def _sequence(gaps: Sequence[Mapping[int, float]]) -> tuple[int, ...]:
    """One order of all steps that keeps every gap, the written one wherever it is free."""
    missing = [len(one) for one in gaps]
    then: list[list[int]] = [[] for _ in gaps]
    for number, one in enumerate(gaps):
        for earlier in one:
            then[earlier].append(number)
    ready = 0
    for number, count in enumerate(missing):
        ready |= (not count) << number
    found = []
    while ready:
        number = next(bits(ready))
        ready ^= 1 << number
        found.append(number)
        for later in then[number]:
            missing[later] -= 1
            ready |= (not missing[later]) << later
    return tuple(found)
