"""What a person waits for, beyond their own steps: the reasons that lie in other lanes, told once and where it matters.

The checker's order is the measure: whoever does their own steps in turn and keeps these waits keeps that order.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from ..asepsis import Order
from ..language.model import Condition, Protocol, Step


@dataclass(frozen=True, slots=True)
class Waiting:
    """A role that comes to step ``step`` waits until step ``until`` is done; both by number."""

    step: int
    role: str
    until: int


def waits_of(protocol: Protocol, order: Order) -> tuple[Waiting, ...]:
    """Every wait of every role, in written order of the waiting steps.

    A wait is left out where it follows from an earlier wait of the same person that can't have been skipped. Where the
    step waited for may be skipped, what stands before it is waited for as well, because skipping a step does not free
    what follows.
    """
    if order.loops:
        return ()
    ancestors = order.ancestors()
    found: list[Waiting] = []
    for role, lane in order.lanes.items():
        found += _of_lane(role, lane, protocol, order, ancestors)
    return tuple(sorted(found, key=lambda wait: (wait.step, wait.role, wait.until)))


def _of_lane(
    role: str, lane: tuple[int, ...], protocol: Protocol, order: Order, ancestors: tuple[int, ...]
) -> Iterable[Waiting]:
    steps, own = protocol.steps, frozenset(lane)
    before = _links_into(order)
    kept, phase = 0, -1
    for step in lane:
        if order.phase_of[step] != phase:
            kept, phase = 0, order.phase_of[step]
        causes = [cause for cause in _causes(step, own, steps, before) if order.phase_of[cause] == phase]
        told = [cause for cause in _needed(step, causes, steps, ancestors) if not kept >> cause & 1]
        yield from (Waiting(step, role, cause) for cause in told)
        if not steps[step].when:
            for cause in told:
                kept |= 1 << cause
                kept |= 0 if steps[cause].when else ancestors[cause]


def _links_into(order: Order) -> Mapping[int, list[int]]:
    before: dict[int, list[int]] = {}
    for link in order.links:
        before.setdefault(link.later, []).append(link.earlier)
    return before


def _causes(step: int, own: frozenset[int], steps: tuple[Step, ...], before: Mapping[int, list[int]]) -> list[int]:
    """The steps of other lanes that come directly before; behind one that may be skipped, those before it too."""
    found: set[int] = set()
    seen, stack = {step}, [step]
    while stack:
        for cause in before.get(stack.pop(), ()):
            if cause in seen:
                continue
            seen.add(cause)
            if cause not in own:
                found.add(cause)
            if not implied(steps[cause].when, steps[step].when):
                stack.append(cause)
    return sorted(found)


def _needed(step: int, causes: list[int], steps: tuple[Step, ...], ancestors: tuple[int, ...]) -> list[int]:
    """Leaves out what comes before another cause that is done whenever the waiting step is."""
    certain = 0
    for cause in causes:
        certain |= ancestors[cause] if implied(steps[cause].when, steps[step].when) else 0
    return [cause for cause in causes if not certain >> cause & 1]


def implied(asked: tuple[Condition, ...], given: tuple[Condition, ...]) -> bool:
    """Whether conditions are met wherever the given ones are."""
    known = {condition.name.value: {option.value for option in condition.options} for condition in given}
    return all(
        known.get(condition.name.value, {None}) <= {option.value for option in condition.options} for condition in asked
    )
