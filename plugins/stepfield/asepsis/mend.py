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
    A link that says more than one found before is left out.
    """
    if occurrence.always or not proof.complete:
        return ()
    requirements = tuple(requirements)
    old = {other.slip.key for other in proof.occurrences} - {occurrence.slip.key}
    mends: list[tuple[int, int]] = []
    ancestors = proof.graph.order.ancestors()
    for tries, (earlier, later) in enumerate(_candidates(proof, occurrence)):
        if tries == MOST_TRIES or len(mends) == ENOUGH:
            break
        if any(_says_more((earlier, later), mend, ancestors) for mend in mends):
            continue
        protocol = _with_link(proof.graph.protocol, earlier, later)
        if order_of(protocol).loops:
            continue
        tried = prove(compile_protocol(protocol, requirements), limit)
        if tried.complete and tried.never == proof.never and {other.slip.key for other in tried.occurrences} <= old:
            mends.append((earlier, later))
    return tuple(mends)


def _candidates(proof: Proof, occurrence: Occurrence) -> Iterator[tuple[int, int]]:
    """Links the witness breaks, of the failing step (or its cause) with a step free against it, the weakest first."""
    order, ancestors = proof.graph.order, proof.graph.order.ancestors()
    place = {step: at for at, (step, _) in enumerate(occurrence.witness)}
    for pivot in dict.fromkeys(step for step in (occurrence.slip.step, occurrence.cause) if step is not None):
        others = [
            other
            for other, phase in enumerate(order.phase_of)
            if phase == order.phase_of[pivot] and not (ancestors[pivot] | 1 << pivot) >> other & 1
        ]
        others = [other for other in others if not ancestors[other] >> pivot & 1]
        too_early = [other for other in others if place.get(other, len(place)) < place.get(pivot, len(place))]
        for other in reversed(too_early):
            yield pivot, other
        for other in others:
            if other not in too_early:
                yield other, pivot


def _says_more(link: tuple[int, int], than: tuple[int, int], ancestors: tuple[int, ...]) -> bool:
    """Whether the first link puts everything in order that the second does."""
    starts_late = link[0] == than[0] or bool(ancestors[link[0]] >> than[0] & 1)
    ends_early = link[1] == than[1] or bool(ancestors[than[1]] >> link[1] & 1)
    return starts_late and ends_early


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
