"""Mends that were tried: order links that make a slip go away and bring no other."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from ..language.model import Protocol, Requirement
from ..language.source import Text
from .explore import Exploration, explore
from .graph import StepGraph, compile_protocol
from .order import order_of
from .proof import DEFAULT_LIMIT, Occurrence, Proof, prove
from .world import SlipKey

MOST_TRIES = 40
"""How many single links, and then how many pairs of them, are tried for one slip."""
MOST_FIRST = 6
"""How many single links that do not help alone get a second one."""
ENOUGH = 3
"""How many mends are offered for one slip."""
LEAST_COST = 20
"""A trial is counted as so many states at least: making it ready takes its time too."""

Before = tuple[int, int]
"""(earlier, later): the later step comes after the earlier one."""
Links = tuple[Before, ...]
"""Links that are made together."""


@dataclass(slots=True)
class Allowance:
    """How many states may still be looked at for trying mends. ``short`` tells that something was left untried."""

    states: int
    short: bool = False

    def share(self, parts: int, least: int) -> Allowance:
        """An equal part of what is left, or ``least`` if there is that much, taken out of it."""
        part = max(max(0, self.states) // max(1, parts), min(self.states, least))
        self.states -= part
        return Allowance(part)


def mends_of(
    proof: Proof,
    occurrence: Occurrence,
    limit: int = DEFAULT_LIMIT,
    requirements: Iterable[Requirement] = (),
    allowance: Allowance | None = None,
) -> tuple[Links, ...]:
    """The smallest sets of links with which the slip is gone and no other has appeared, the weakest first.

    Links that forbid the witness are tried one by one, and in pairs only if none helps alone; none at all when every
    order has the slip: no order helps then. What says more than a mend found before is left out. ``allowance`` bounds
    the states of all trials together, ``limit`` those of one.
    """
    if occurrence.always or not proof.complete:
        return ()
    allowance = allowance or Allowance(limit)
    if proof.states > allowance.states:
        allowance.short = True
        return ()
    trying = _Trying(proof, occurrence, limit, tuple(requirements), allowance)
    return trying.singles() or trying.pairs()


class _Trying:
    """The trials for one slip."""

    def __init__(
        self,
        proof: Proof,
        occurrence: Occurrence,
        limit: int,
        requirements: tuple[Requirement, ...],
        allowance: Allowance,
    ) -> None:
        self.proof, self.occurrence, self.limit = proof, occurrence, limit
        self.requirements, self.allowance = requirements, allowance
        self.known = {other.slip.key for other in proof.occurrences}
        self.first: list[tuple[Before, StepGraph]] = []

    def singles(self) -> tuple[Links, ...]:
        """Single links that help; notes those that do no harm and may help with another."""
        found: list[Links] = []
        for tries, link in enumerate(_candidates(self.proof, self.occurrence)):
            if self.is_over(tries, found):
                break
            if self.says_more((link,), found):
                continue
            slips = self.slips((link,))
            if slips is None:
                continue
            if slips <= self.known - {self.occurrence.slip.key}:
                found.append((link,))
            elif slips <= self.known:
                self.first.append((link, _graph(self.proof, (link,), self.requirements)))
        return tuple(found)

    def pairs(self) -> tuple[Links, ...]:
        """Pairs that help: a link that does no harm, and one that forbids what the slip then still shows itself by."""
        found: list[Links] = []
        seen: set[frozenset[Before]] = set()
        tries = 0
        for first, graph in self.first[:MOST_FIRST]:
            for second in self.second(graph):
                pair = (first, second)
                if self.is_over(tries, found):
                    return tuple(found)
                if frozenset(pair) in seen or self.says_more(pair, found):
                    continue
                seen.add(frozenset(pair))
                tries += 1
                slips = self.slips(pair)
                if slips is not None and slips <= self.known - {self.occurrence.slip.key}:
                    found.append(pair)
        self.allowance.short |= len(self.first) > MOST_FIRST and not found
        return tuple(found)

    def second(self, graph: StepGraph) -> Iterator[Before]:
        """The links that forbid the shortest order that has the slip though the first link is kept."""
        if self.allowance.states <= 0:
            self.allowance.short = True
            return
        tried = prove(graph, min(self.limit, self.allowance.states))
        self.allowance.states -= max(tried.states, LEAST_COST)
        left = [other for other in tried.occurrences if other.slip.key == self.occurrence.slip.key]
        if not tried.complete:
            self.allowance.short = True
        elif left and not left[0].always:
            yield from _candidates(tried, left[0])

    def is_over(self, tries: int, found: list[Links]) -> bool:
        """Whether enough was found or tried; notes it if more could have been tried for a slip without a mend."""
        if len(found) == ENOUGH:
            return True
        over = tries >= MOST_TRIES or self.allowance.states <= 0
        self.allowance.short |= over and not found
        return over

    def slips(self, links: Links) -> set[SlipKey] | None:
        """What is wrong once the links are made; None if they can't be made, or it could not be found out."""
        protocol = _with_links(self.proof.graph.protocol, links)
        if order_of(protocol).loops:
            return None
        found = explore(
            compile_protocol(protocol, self.requirements), min(self.limit, self.allowance.states), reduced=True
        )
        self.allowance.states -= max(len(found.done), LEAST_COST)
        if not found.complete:
            self.allowance.short = True
            return None
        return set(found.slips) if _never(found) == self.proof.never else None

    def says_more(self, links: Links, found: list[Links]) -> bool:
        """Whether the links put everything in order that some mend found does."""
        if not found:
            return False
        order = order_of(_with_links(self.proof.graph.protocol, links))
        if order.loops:
            return False
        ancestors = order.ancestors()
        return any(all(ancestors[later] >> earlier & 1 for earlier, later in mend) for mend in found)


def _candidates(proof: Proof, occurrence: Occurrence) -> Iterator[Before]:
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


def _never(found: Exploration) -> tuple[int, ...]:
    return tuple(step for step in range(len(found.graph.steps)) if step not in found.happened)


def _graph(proof: Proof, links: Links, requirements: Iterable[Requirement]) -> StepGraph:
    return compile_protocol(_with_links(proof.graph.protocol, links), requirements)


def _with_links(protocol: Protocol, links: Links) -> Protocol:
    steps = protocol.steps
    names = {
        id(steps[later]): tuple(
            Text(steps[earlier].id.value, steps[later].id.span) for earlier, other in links if other == later
        )
        for _, later in links
    }
    phases = tuple(
        replace(
            phase,
            steps=tuple(
                replace(step, after=(*step.after, *names[id(step)])) if id(step) in names else step
                for step in phase.steps
            ),
        )
        for phase in protocol.phases
    )
    return replace(protocol, phases=phases)
