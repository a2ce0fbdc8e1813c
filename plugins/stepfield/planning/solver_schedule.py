"""The one module that knows the scheduling solver: the shortest time for work whose order is partly free.

What it answers does not depend on the machine: it works alone, from one seed, and its effort is counted and not timed.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from importlib.util import find_spec
from typing import TYPE_CHECKING

from .work import Clause, Work

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

EFFORT = 2.0
"""How far one search goes, in the solver's own measure of work done; about as many seconds."""


@dataclass(frozen=True, slots=True)
class Solved:
    """``starts`` are the starts of a schedule, None if none was found; no schedule is shorter than ``bound`` units.

    ``impossible`` tells that there is none at all.
    """

    starts: tuple[int, ...] | None
    bound: int
    impossible: bool


def is_there() -> bool:
    """Whether the solver is installed."""
    return find_spec("ortools") is not None


def solved(work: Work, clauses: Iterable[Clause] = (), effort: float = EFFORT) -> Solved:
    """A shortest schedule that keeps every wait, limit and clause, with nobody doing two tasks at once."""
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    horizon = sum(work.lasts) + sum(wait for *_, wait in work.arcs)
    starts = [model.new_int_var(0, horizon, f"start {task}") for task in range(len(work.lasts))]
    ends = [start + lasts for start, lasts in zip(starts, work.lasts, strict=True)]
    for earlier, later, wait in work.arcs:
        model.add(starts[later] >= ends[earlier] + wait)
    for earlier, later, most in work.limits:
        model.add(ends[later] <= ends[earlier] + most)
    tasks = [
        model.new_fixed_size_interval_var(start, lasts, f"task {task}")
        for task, (start, lasts) in enumerate(zip(starts, work.lasts, strict=True))
    ]
    for own in work.hands:
        model.add_no_overlap([tasks[task] for task in own])
    known = {}
    for clause in clauses:
        for earlier, later in clause:
            if (earlier, later) not in known:
                known[earlier, later] = model.new_bool_var(f"{earlier} before {later}")
                model.add(starts[later] >= ends[earlier]).only_enforce_if(known[earlier, later])
        model.add_bool_or([known[pair] for pair in clause])
    total = model.new_int_var(0, horizon, "total")
    for end in ends:
        model.add(total >= end)
    model.minimize(total)
    return _answer(model, starts, effort)


def _answer(model: cp_model.CpModel, starts: list[cp_model.IntVar], effort: float) -> Solved:
    from ortools.sat.python import cp_model

    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = effort
    status = solver.solve(model)
    if status == cp_model.INFEASIBLE:
        return Solved(None, 0, impossible=True)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return Solved(None, int(solver.best_objective_bound), impossible=False)
    return Solved(tuple(solver.value(start) for start in starts), int(solver.best_objective_bound), impossible=False)
