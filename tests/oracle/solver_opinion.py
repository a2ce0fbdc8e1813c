"""The solver's verdict on a protocol as such: which slips can happen at all, and which before any other has."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from stepfield.language.model import Protocol, Requirement
from tests.oracle.solving.formulas import Bit, Solver, some
from tests.oracle.solving.question import Question, can_be_asked
from tests.oracle.solving.world import Slip

PATIENCE = 600.0
"""Seconds; a test may take its time."""


@dataclass(frozen=True)
class Verdict:
    """Which slips can happen at all, and which can happen before any other has."""

    possible: frozenset[Slip]
    first: frozenset[Slip]


def solve(protocol: Protocol, requirements: tuple[Requirement, ...]) -> Verdict:
    """Asks the solver for every slip. Raises ValueError for a protocol that cannot be asked about."""
    if not can_be_asked(protocol):
        raise ValueError("a protocol that goes back, or asks too late, does not fit into slots")
    question = Question(protocol, requirements)
    solver = Solver(PATIENCE)
    solver.know(*question.known)
    return Verdict(_those_of(solver, question.possible), _those_of(solver, question.first))


def _those_of(solver: Solver, slips: Mapping[Slip, Bit]) -> frozenset[Slip]:
    """Several at a time, until there is no other."""
    left = {slip: bit for slip, bit in slips.items() if bit is not False}
    found: set[Slip] = set()
    while left and solver.can(some(left.values())):
        seen = {slip for slip, bit in left.items() if solver.holds(bit)}
        found |= seen
        left = {slip: bit for slip, bit in left.items() if slip not in seen}
    return frozenset(found)
