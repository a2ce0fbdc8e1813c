"""Mends that were tried: order links that make a slip go away and bring no other."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from ..language.model import Protocol, Requirement
from ..language.source import Text
from .graph import compile_protocol
from .order import order_of
from .proof import Occurrence, Proof, prove

MOST_TRIES = 40
"""How many links are tried for one slip."""
ENOUGH = 3
"""How many mends are offered for one slip."""


def mends_of(
    proof: Proof, occurrence: Occurrence, limit: int, requirements: Iterable[Requirement] = ()
) -> tuple[tuple[int, int], ...]:
    """Pairs (earlier, later): with ``later`` after ``earlier`` the slip is gone and no other appeared.

    Only single links that forbid the witness are tried, and none when every order has the slip: no order helps then.
    """
    if occurrence.always or not proof.complete:
        return ()
    requirements = tuple(requirements)
    old = {other.slip.key for other in proof.occurrences} - {occurrence.slip.key}
    mends: list[tuple[int, int]] = []
    for tries, (earlier, later) in enumerate(_candidates(proof, occurrence)):
        if tries == MOST_TRIES or len(mends) == ENOUGH:
            break
        protocol = _with_link(proof.graph.protocol, earlier, later)
        if order_of(protocol).loops:
            continue
        tried = prove(compile_protocol(protocol, requirements), limit)
        if tried.complete and tried.never == proof.never and {other.slip.key for other in tried.occurrences} <= old:
            mends.append((earlier, later))
    return tuple(mends)


def _candidates(proof: Proof, occurrence: Occurrence) -> Iterator[tuple[int, int]]:
    """Links the witness breaks, between the failing step (or its cause) and a step free against it."""
    order, ancestors = proof.graph.order, proof.graph.order.ancestors()
    place = {step: at for at, (step, _) in enumerate(occurrence.witness)}
    for pivot in dict.fromkeys(step for step in (occurrence.slip.step, occurrence.cause) if step is not None):
        for other in range(len(proof.graph.steps)):
            free = not (ancestors[pivot] >> other & 1 or ancestors[other] >> pivot & 1)
            if other == pivot or not free or order.phase_of[other] != order.phase_of[pivot]:
                continue
            if place.get(other, len(place)) < place.get(pivot, len(place)):
                yield pivot, other
            else:
                yield other, pivot


def _with_link(protocol: Protocol, earlier: int, later: int) -> Protocol:
    steps = protocol.steps
    name, target = Text(steps[earlier].id.value, steps[later].id.span), steps[later]
    phases = tuple(
        replace(
            phase,
            steps=tuple(replace(step, after=(*step.after, name)) if step is target else step for step in phase.steps),
        )
        for phase in protocol.phases
    )
    return replace(protocol, phases=phases)
