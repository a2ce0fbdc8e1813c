"""The same question asked in other ways, where a search of all orders comes to no end.

First what can be the case at each step is worked out without a search, which excludes most slips. What that leaves
open is put to a solver, if one is installed and the protocol can be put into clauses.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from .asking import Asking
from .criterion import FirstLook, TooManyValuesError, first_look
from .encoding import TooManyClausesError, why_not_encoded
from .explore import Exploration
from .graph import StepGraph
from .proof import Occurrence
from .settlings import TooManySettlingsError
from .solver import GaveUpError, NoSolverError
from .ways import TooManyWaysError

HOPELESS = 2
"""A search that looks like coming to this many times its bound is not gone on with."""
WHY_NOT = {
    TooManyWaysError: "there is too much that its steps may meet",
    TooManyValuesError: "there is too much that its steps may meet",
    TooManyClausesError: "it is too large for the solver",
    TooManySettlingsError: "it has too many combinations of choices and answers to put them to the solver",
    NoSolverError: "a solver may go further: install the extra 'solver'",
    GaveUpError: "the solver gave up as well",
}


@dataclass(frozen=True, slots=True)
class Climbed:
    """What was settled without an end of the search.

    ``solved`` counts the slips that neither the first look nor the orders drawn settled, so that a solver had to;
    ``reason`` tells why not all is settled, None if it is. Only then ``occurrences`` and ``never`` (steps that are
    never reached) are all there is.
    """

    occurrences: tuple[Occurrence, ...] = ()
    never: tuple[int, ...] = ()
    solved: int = 0
    reason: str | None = None


class Ladder:
    """The rungs beside the search, climbed once at most; without ``drawing`` the solver does more than it has to."""

    def __init__(self, graph: StepGraph, limit: int, *, drawing: bool = True) -> None:
        self.graph, self.limit, self.drawing = graph, limit, drawing
        self.climbed: Climbed | None = None

    def goes_on(self, found: Exploration) -> bool:
        """Whether a search is to go on: not if it looks hopeless and everything can be settled without it."""
        if self.climbed is None and _states_to_come(found) > HOPELESS * self.limit:
            self.climb(found)
        return self.climbed is None or self.climbed.reason is not None

    def climb(self, found: Exploration) -> Climbed:
        """Settles everything, or tells why not."""
        if self.climbed is None:
            try:
                self.climbed = self._settled(first_look(self.graph), found.choices)
            except tuple(WHY_NOT) as error:
                self.climbed = Climbed(reason=WHY_NOT[type(error)])
        return self.climbed

    def _settled(self, look: FirstLook, choices: tuple[str, ...]) -> Climbed:
        reason = why_not_encoded(self.graph)
        if reason is not None:
            return Climbed(reason=f"{reason}, and so it cannot be put to a solver")
        never = never_reached(self.graph)
        if not look.slips:
            return Climbed(never=never)
        asking = Asking(look, choices, drawing=self.drawing)
        told = [asking.occurrence(key) for key in look.slips]
        return Climbed(tuple(one for one in told if one is not None), never, asking.solved)


def never_reached(graph: StepGraph) -> tuple[int, ...]:
    """The steps that no settling reaches, where nobody goes back and every question comes before who looks at it.

    All conditions of a step have to be met, and the questions they look at have to be asked: so it is reached unless
    they leave some choice or question without an option.
    """
    declared = {choice.id.value: {option.value for option, _ in choice.options} for choice in graph.protocol.choices}
    found = []
    for step in range(len(graph.steps)):
        left: dict[str | int, set[str]] = {}
        waiting, seen = [step], {step}
        while waiting:
            for part in graph.conditions[waiting.pop()]:
                name: str | int
                if part.question is not None:
                    name, asks = part.question, graph.steps[part.question].asks
                    usual = {answer.value for answer in asks.answers} if asks is not None else set()
                else:
                    name, usual = part.choice or "", declared[part.choice or ""]
                left[name] = left.get(name, usual) & part.options
                if part.question is not None and part.question not in seen:
                    seen.add(part.question)
                    waiting.append(part.question)
        if not all(left.values()):
            found.append(step)
    return tuple(found)


def _states_to_come(found: Exploration) -> int:
    """How many states a search would come to, if it grew no wider from here to the middle of its phase."""
    order, done = found.graph.order, found.done[-1]
    left = ((1 << len(order.phase_of)) - 1) & ~done
    if not left:
        return len(found.done)
    phase = order.phase_of[(left & -left).bit_length() - 1]
    earlier = sum(1 << step for step, at in enumerate(order.phase_of) if at < phase)
    size = sum(at == phase for at in order.phase_of)
    widths = Counter((node & ~earlier).bit_count() for node in found.done if node & earlier == earlier)
    level = max(widths) - 1
    return len(found.done) + widths[level] * max(0, size // 2 - level)
