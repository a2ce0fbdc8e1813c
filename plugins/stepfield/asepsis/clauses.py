"""Formulas for a solver: clauses over numbered variables, in the form that all solvers read."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence

from .asked_world import Value

Literal = int
"""A variable's number, or that with a minus for its opposite."""
TRUE: Literal = 1
FALSE: Literal = -1
Choice = Mapping[Value, Literal]
"""For each value that something may have the literal that says it has."""


class Clauses:
    """A growing set of clauses; variable 1 is true."""

    def __init__(self) -> None:
        self.variables = 1
        self.clauses: list[list[Literal]] = [[TRUE]]

    def new(self) -> Literal:
        """A variable nothing is known of."""
        self.variables += 1
        return self.variables

    def add(self, literals: Iterable[Literal]) -> None:
        """At least one of the literals holds."""
        clause = []
        for literal in literals:
            if literal == TRUE:
                return
            if literal != FALSE:
                clause.append(literal)
        self.clauses.append(clause)

    def some(self, literals: Iterable[Literal]) -> Literal:
        """A literal that holds just where one of these does."""
        given = [literal for literal in dict.fromkeys(literals) if literal != FALSE]
        if len(given) < 2 or TRUE in given:
            return TRUE if TRUE in given else given[0] if given else FALSE
        whole = self.new()
        self.clauses.append([-whole, *given])
        self.clauses.extend([whole, -literal] for literal in given)
        return whole

    def every(self, literals: Iterable[Literal]) -> Literal:
        """A literal that holds just where all of these do."""
        return -self.some([-literal for literal in literals])

    def no_two(self, literals: Sequence[Literal]) -> None:
        """At most one of them holds."""
        for one, other in itertools.combinations(literals, 2):
            self.add((-one, -other))

    def one_of(self, values: Sequence[Value]) -> dict[Value, Literal]:
        """Something that has just one of the values."""
        if len(values) == 1:
            return {values[0]: TRUE}
        if len(values) == 2:
            bit = self.new()
            return {values[0]: -bit, values[1]: bit}
        found = {value: self.new() for value in values}
        self.add(found.values())
        self.no_two(list(found.values()))
        return found
