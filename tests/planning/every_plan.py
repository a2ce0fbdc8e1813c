"""The slow way to say which team can do a small protocol, and how quickly: every plan there is, one after the other.

A plan says of some steps which has ended before another starts. It keeps asepsis if every order that it allows is
without a slip, and it takes as long as its longest chain. What a step does is read by the second reading of the
language's meaning (tests/oracle), which knows nothing of the engine.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any

from tests.oracle.naive import Scene, World, minutes
from tests.oracle.naive_effects import at_the_end, perform
from tests.oracle.naive_runs import direct_order, lanes_of

Case = dict[str, Any]
Steps = list[dict[str, Any]]
Team = tuple[tuple[str, ...], ...]


def scenarios(protocol: Case) -> Iterator[dict[str, str]]:
    """Every way to settle the choices and to answer the questions without going back."""
    options = {name: list(choice["options"]) for name, choice in protocol.get("choices", {}).items()}
    for step in every_step(protocol):
        if "asks" in step:
            back = step.get("repeat", {}).get("answer")
            options[step["id"]] = [answer for answer in step["asks"]["answers"] if answer != back]
    for values in itertools.product(*options.values()):
        yield dict(zip(options, values, strict=True))


def every_step(protocol: Case) -> Steps:
    return [step for phase in protocol["phases"] for step in phase["steps"]]


def done_in(protocol: Case, settled: Mapping[str, str]) -> Steps:
    """The steps that are done; whoever looks at the answer of a step that is not done is not done either."""
    done: dict[str, Any] = {}
    asking = {step["id"] for step in every_step(protocol)}
    for step in every_step(protocol):
        done[step["id"]] = step
    changed = True
    while changed:
        failing = [
            name
            for name, step in done.items()
            for looked_at, wanted in step.get("when", {}).items()
            if settled[looked_at] not in ([wanted] if isinstance(wanted, str) else wanted)
            or (looked_at in asking and looked_at not in done)
        ]
        changed = bool(failing)
        for name in failing:
            done.pop(name, None)
    return list(done.values())


def by_one_person(value: Any, acting: Mapping[str, str]) -> Any:
    """A step in which every role is that of the person's first one."""
    if isinstance(value, dict):
        return {by_one_person(key, acting): by_one_person(inner, acting) for key, inner in value.items()}
    if isinstance(value, list):
        return [by_one_person(inner, acting) for inner in value]
    if not isinstance(value, str):
        return value
    role, dot, rest = value.partition(".")
    return acting.get(role, role) + dot + rest


def shortest_plan(case: Case, team: Team, settled: Mapping[str, str]) -> float | None:
    """The shortest plan's minutes; None where there is none that keeps asepsis and every time limit."""
    protocol = case["protocol"]
    acting = {role: own[0] for own in team for role in own}
    steps = done_in(protocol, settled)
    if any(len({acting[role] for role in lanes_of(step)}) < len(lanes_of(step)) for step in steps):
        return None
    names = [step["id"] for step in steps]
    before = everything_before(protocol)
    base = [(names.index(one), names.index(other)) for other in names for one in before[other] if one in names]
    mixed = [by_one_person(step, acting) for step in steps]
    slipping = [
        as_mask([(one, other) for at, one in enumerate(order) for other in order[at + 1 :]])
        for order in itertools.permutations(range(len(steps)))
        if slips(case, [mixed[number] for number in order])
    ]
    must = as_mask(base)
    hands = [{acting[role] for role in lanes_of(step)} for step in steps]
    apart = [
        as_mask([pair]) | as_mask([pair[::-1]])
        for pair in itertools.combinations(range(len(steps)), 2)
        if hands[pair[0]] & hands[pair[1]]
    ]
    times = [
        length
        for plan in plans(len(steps))
        if not must & ~plan and all(plan & pair for pair in apart) and all(plan & ~order for order in slipping)
        if (length := chain(steps, plan)) is not None
    ]
    return min(times, default=None)


def slips(case: Case, steps: Steps) -> bool:
    """Whether anything goes wrong if the steps are done in this order."""
    world = World(Scene(case["clinic"], case["protocol"], case["evidence"]))
    return any(perform(world, step) for step in steps) or bool(at_the_end(world))


def everything_before(protocol: Case) -> dict[str, set[str]]:
    """For each step all that must come before it."""
    before = {name: set(some) for name, some in direct_order(protocol).items()}
    for _ in before:
        for some in before.values():
            some |= {further for one in set(some) for further in before[one]}
    return before


MOST = 5


def as_mask(pairs: list[tuple[int, int]]) -> int:
    return sum(1 << MOST * one + other for one, other in set(pairs))


@cache
def plans(count: int) -> tuple[int, ...]:
    """Every strict partial order of so many steps. Their numbers are published: OEIS A001035."""
    pairs = list(itertools.combinations(range(count), 2))
    found = []
    for turns in itertools.product((0, 1, 2), repeat=len(pairs)):
        related = {pair[:: 1 if turn == 1 else -1] for pair, turn in zip(pairs, turns, strict=True) if turn}
        if all((one, last) in related for one, other in related for next_, last in related if next_ == other):
            found.append(as_mask(list(related)))
    return tuple(found)


def chain(steps: Steps, plan: int) -> float | None:
    """When the last step ends if each starts as early as the plan and the waits let it, and later where a limit asks.

    None if the limits can't be kept: then starts are put off without end.
    """
    index = {step["id"]: number for number, step in enumerate(steps)}
    lasts = [minutes(step["takes"]) if "takes" in step else 0.0 for step in steps]
    starts = [0.0] * len(steps)
    for _ in range(60):
        was = list(starts)
        for later, step in enumerate(steps):
            for earlier in range(len(steps)):
                if plan >> MOST * earlier + later & 1:
                    starts[later] = max(starts[later], starts[earlier] + lasts[earlier])
            for wait in step.get("waits", []):
                if wait["for"] in index:
                    earlier = index[wait["for"]]
                    starts[later] = max(starts[later], starts[earlier] + lasts[earlier] + minutes(wait["at_least"]))
            for limit in step.get("within", []):
                if limit["of"] in index:
                    of = index[limit["of"]]
                    latest = starts[later] + lasts[later] - minutes(limit["at_most"])
                    starts[of] = max(starts[of], latest - lasts[of])
        if was == starts:
            return max([start + last for start, last in zip(starts, lasts, strict=True)], default=0.0)
    return None
