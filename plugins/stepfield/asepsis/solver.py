"""The one module that knows the SAT solver, which comes with the extra ``solver`` and may be absent.

CaDiCaL (through python-sat) was quickest by far of those tried on the clauses made here; see the contributors' docs.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from .clauses import Clauses, Literal

NAME = "cadical195"
MOST_CONFLICTS = 100_000
MOST_WORK = 4_000_000_000
"""How many conflicts the solver may meet over all questions of one protocol, and conflicts times clauses.

Counted, not timed: the same questions always take as many. It comes to a few seconds at most.
"""


class NoSolverError(Exception):
    """The library is not installed."""


class GaveUpError(Exception):
    """The solver met more conflicts than it may."""


class Solver:
    """Answers questions about some clauses. Raises NoSolverError where the library lacks."""

    def __init__(self, clauses: Clauses) -> None:
        try:
            from pysat.solvers import Solver as Library  # type: ignore[import-untyped]
        except ImportError as error:
            raise NoSolverError from error
        self._library: Any = Library(name=NAME, bootstrap_with=clauses.clauses)
        self._left = min(MOST_CONFLICTS, MOST_WORK // len(clauses.clauses))
        self._variables = clauses.variables

    def model(self, assumed: Iterable[Literal]) -> frozenset[Literal] | None:
        """All literals that hold in one case in which the assumed ones do; None if there is no such case.

        Raises GaveUpError.
        """
        if self._left <= 0:
            raise GaveUpError
        before = self._conflicts()
        self._library.conf_budget(self._left)
        answer = self._library.solve_limited(assumptions=list(assumed))
        self._left -= self._conflicts() - before
        if answer is None:
            raise GaveUpError
        return frozenset(self._library.get_model()) if answer else None

    def new(self) -> Literal:
        """A variable nothing is known of."""
        self._variables += 1
        return self._variables

    def add(self, literals: Iterable[Literal]) -> None:
        """At least one of the literals holds, from now on."""
        self._library.add_clause(list(literals))

    def _conflicts(self) -> int:
        return int(self._library.accum_stats()["conflicts"])
