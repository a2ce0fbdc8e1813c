"""Which packs to keep, answered exactly by a solver. The one place that knows the library for it.

For each set of moments there may be one pack that exactly these open: of two such packs of one sort, one that holds
what both hold costs an opening less and wastes nothing more. So a pack is a set of moments that is chosen or not, and
what it holds are choices below it; its sort is that of what it holds. Wherever a thing lies in a pack that a moment
opens, it is opened there, needed or not. The sets grow fast with the moments: beyond ``MOST_MOMENTS`` of a sort no
solver is asked. How long it may search is counted, not timed, so that an answer does not depend on the machine.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from .pack_start import first_answer
from .packs import Answer, Group, Kept, Question, cost_of, least_opened, waste_cost

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

MOST_MOMENTS = 10
LIMIT = 20.0
"""How much work the solver may do, in units of its own that are the same on every machine: about a minute at most."""


def has_solver() -> bool:
    """Whether the library is there; it comes with the extra ``planner``."""
    from importlib.util import find_spec

    return find_spec("ortools") is not None


def best_packs(question: Question, limit: float = LIMIT) -> Answer:
    """The packs that cost least by the measure, or the best found with what none can cost less than."""
    start = first_answer(question)
    sorts = [_Sort(question, sort) for sort in (False, True)]
    if not has_solver() or any(len(sort.moments) > MOST_MOMENTS for sort in sorts):
        return start
    return _Solving(question, [sort for sort in sorts if sort.groups], start).answer(limit)


class _Sort:
    """The groups of one sort, and the moments that need any of them."""

    def __init__(self, question: Question, sort: bool) -> None:
        self.groups = [(number, group) for number, group in enumerate(question.groups) if question.sort(group) is sort]
        self.moments = [
            moment for moment in range(len(question.rates)) if any(group.needs[moment] for _, group in self.groups)
        ]

    def sets(self) -> Iterator[frozenset[int]]:
        """Every set of these moments but the empty one."""
        for mask in range(1, 1 << len(self.moments)):
            yield frozenset(moment for place, moment in enumerate(self.moments) if mask >> place & 1)


@dataclass(slots=True)
class _Chosen:
    """A pack that may be kept, with the choices of what it holds: (group, how many)."""

    moments: frozenset[int]
    kept: cp_model.IntVar
    holds: dict[tuple[int, int], cp_model.IntVar]


class _Solving:
    def __init__(self, question: Question, sorts: list[_Sort], start: Answer) -> None:
        from ortools.sat.python import cp_model

        self.question, self.start, self.library = question, start, cp_model
        self.model = cp_model.CpModel()
        self.packs: list[_Chosen] = []
        self.cost: list[tuple[cp_model.IntVar, int]] = []
        for sort in sorts:
            self._add(sort)
        self.model.add(sum(pack.kept for pack in self.packs) <= question.most_packs)
        needed = sum(
            rate * group.needs[moment] * waste_cost(question, group)
            for group in question.groups
            for moment, rate in enumerate(question.rates)
        )
        self.model.minimize(sum(weight * one for one, weight in self.cost) - needed)
        self._begin_with_start()

    def _add(self, sort: _Sort) -> None:
        mine = []
        for moments in sort.sets():
            rate = sum(self.question.rates[moment] for moment in moments)
            kept = self.model.new_bool_var("")
            self.cost.append((kept, rate * self.question.costs.opening))
            pack = _Chosen(moments, kept, {})
            mine.append(pack)
            for number, group in sort.groups:
                self._may_hold(pack, number, group, rate)
        self.packs += mine
        for moment in sort.moments:
            opened = [pack for pack in mine if moment in pack.moments]
            self.model.add_bool_or(pack.kept for pack in opened)
            for number, group in sort.groups:
                self._meet(moment, number, group, opened)

    def _may_hold(self, pack: _Chosen, number: int, group: Group, rate: int) -> None:
        """The choices of how many of a group a pack holds; more than any of its moments needs is never better."""
        needed = [group.needs[moment] for moment in pack.moments]
        strict = group.sharp and self.question.sharps_only_where_used
        most = min(needed) if strict else max(needed)
        for count in group.levels:
            if count <= most:
                held = self.model.new_bool_var("")
                self.model.add_implication(held, pack.kept)
                self.cost.append((held, rate * count * waste_cost(self.question, group)))
                pack.holds[number, count] = held
        choices = [held for (of, _), held in pack.holds.items() if of == number]
        if len(choices) > 1:
            self.model.add_at_most_one(choices)

    def _meet(self, moment: int, number: int, group: Group, opened: list[_Chosen]) -> None:
        """What a moment needs of a group lies in the packs it opens; of something sharp perhaps no more than that."""
        held = [(count, one) for pack in opened for (of, count), one in pack.holds.items() if of == number]
        there = sum(count * one for count, one in held)
        if group.sharp and self.question.sharps_only_where_used:
            self.model.add(there == group.needs[moment])
        elif group.needs[moment] and len(group.levels) == 1:
            self.model.add_bool_or(one for _, one in held)
        elif group.needs[moment]:
            self.model.add(there >= group.needs[moment])

    def _begin_with_start(self) -> None:
        if self.start.kept is None:
            return
        sorts = [self.question.sort(group) for group in self.question.groups]
        wanted = {(frozenset(one.moments), sorts[min(one.holds)]): one.holds for one in self.start.kept}
        for pack in self.packs:
            sort = next((sorts[number] for number, _ in pack.holds), None)
            holds = wanted.get((pack.moments, sort)) if sort is not None else None
            self.model.add_hint(pack.kept, holds is not None)
            for (number, count), held in pack.holds.items():
                self.model.add_hint(held, holds is not None and holds.get(number) == count)

    def answer(self, limit: float) -> Answer:
        """The best packs, as far as the limit allows."""
        solver = self.library.CpSolver()
        solver.parameters.num_workers = 1  # several would answer differently from run to run
        solver.parameters.random_seed = 1
        solver.parameters.linearization_level = 2
        solver.parameters.max_deterministic_time = limit
        status = solver.solve(self.model)
        if status == self.library.INFEASIBLE:
            return Answer(None, 0, 0, impossible=True)
        if status not in (self.library.OPTIMAL, self.library.FEASIBLE):
            return self.start
        kept = tuple(
            Kept(
                {number: count for (number, count), held in pack.holds.items() if solver.boolean_value(held)},
                tuple(sorted(pack.moments)),
            )
            for pack in self.packs
            if solver.boolean_value(pack.kept)
        )
        kept = tuple(pack for pack in kept if pack.holds)
        bound = max(least_opened(self.question), round(solver.best_objective_bound - 0.499))
        found = Answer(kept, cost := cost_of(self.question, kept), min(bound, cost))
        better = self.start.kept is None or found.cost <= self.start.cost
        return found if better else Answer(self.start.kept, self.start.cost, found.bound)
