"""What a rule may look at: the text as read, and what the engine proved of it. Worked out once for all rules."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, replace

from ..asepsis import DEFAULT_LIMIT, Order, Proof, StepGraph, compile_protocol, order_of, prove
from ..asepsis.ladder import Ladder
from ..language.model import Protocol, ProtocolSet, Step

FIRST_LIMIT = 40_000
"""Whoever bounds the search more narrowly than this wants the search alone."""


@dataclass(frozen=True, slots=True)
class Examined:
    """One protocol with its order and, if its text allows it, the proof; ``unproved`` says why that lacks.

    ``solved`` tells that the search came to no end and the rungs beside it proved the rest.
    """

    protocol: Protocol
    order: Order
    proof: Proof | None
    unproved: str | None
    solved: bool = False

    def step(self, number: int) -> Step:
        """The step with a number of the order or the proof."""
        return self.protocol.steps[number]


@dataclass(frozen=True, slots=True)
class Facts:
    """A protocol set, its protocols examined, and the day it is judged on."""

    protocol_set: ProtocolSet
    examined: tuple[Examined, ...]
    today: datetime.date

    @property
    def by_id(self) -> Mapping[str, Examined]:
        """The examined protocols by their id."""
        return {one.protocol.id: one for one in self.examined}


def examine(protocol_set: ProtocolSet, today: datetime.date, limit: int = DEFAULT_LIMIT) -> Facts:
    """Works out everything the rules look at; ``limit`` bounds the states of one protocol."""
    return Facts(protocol_set, tuple(_examine(one, protocol_set, limit) for one in protocol_set.protocols), today)


def _examine(protocol: Protocol, protocol_set: ProtocolSet, limit: int) -> Examined:
    order = order_of(protocol)
    reason = why_not_explored(protocol, protocol_set, order)
    if reason is not None:
        return Examined(protocol, order, None, reason)
    graph = compile_protocol(protocol, protocol_set.requirements)
    proof, solved, why = proved(graph, limit)
    if proof.complete or solved:
        return Examined(protocol, order, proof, None, solved)
    reason = f"it has more than {limit:,} states: its orders were only explored up to there"
    return Examined(protocol, order, proof, f"{reason} ({why})" if why else reason)


def proved(graph: StepGraph, limit: int) -> tuple[Proof, bool, str]:
    """The ladder: the search, and where it is too wide for it a look at what can be, orders at random, and a solver.

    A search that looks hopeless is broken off where the rest settles everything, and else goes on to its bound. Where
    that is not enough either, a slip that some order shows is told all the same, though nothing is proved.
    Tells the proof, whether it was settled beyond the search, and why it was not where that was tried in vain.
    """
    if limit <= FIRST_LIMIT:
        return prove(graph, limit), False, ""
    proof = prove(graph, limit, beside=Ladder(graph, limit))
    climbed = proof.climbed
    if climbed is None or climbed.reason is None:
        return proof, climbed is not None, ""
    return _with_sampled(proof), False, climbed.reason


def _with_sampled(proof: Proof) -> Proof:
    """What orders drawn at random show beside it, where the search did not come to its end."""
    if proof.complete:
        return proof
    from ..asepsis.sampling import sampled

    known = {one.slip.key for one in proof.occurrences}
    more = tuple(one for one in sampled(proof.graph) if one.slip.key not in known)
    return replace(proof, occurrences=(*proof.occurrences, *more))


def why_not_explored(protocol: Protocol, protocol_set: ProtocolSet, order: Order) -> str | None:
    """Why the orders of a protocol cannot be tried; None if they can."""
    if protocol.id in protocol_set.unsound:
        return "some names are declared nowhere or twice; mend these first"
    if order.loops:
        return "its steps wait for each other in a loop; mend that first"
    team = {role.value for role in protocol.team}
    if any(step.role is None or step.role.value not in team for step in protocol.steps):
        return "some steps have no owner in the team; mend these first"
    return None
