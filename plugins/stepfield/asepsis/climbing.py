"""Slips settled without a search of all orders, as far as that can be done.

First what can be the case at each step is worked out without a search, which excludes most slips. What that leaves
open, orders drawn at random may show; the rest is put to a solver, if one is installed and the protocol can be put into
clauses.
"""

from __future__ import annotations

from .asking import Asking
from .criterion import FirstLook, TooManyValuesError, first_look
from .encoding import TooManyClausesError, asked_late, why_not_encoded
from .graph import StepGraph
from .proof import Climbed
from .settlings import TooManySettlingsError
from .solver import GaveUpError, NoSolverError
from .ways import TooManyWaysError

WHY_NOT = {
    TooManyWaysError: "there is too much that its steps may meet",
    TooManyValuesError: "there is too much that its steps may meet",
    TooManyClausesError: "it is too large for the solver",
    TooManySettlingsError: "it has too many combinations of choices and answers to put them to the solver",
    NoSolverError: "a solver may go further: install the extra 'solver'",
    GaveUpError: "the solver gave up as well",
}


def climbed(graph: StepGraph, choices: tuple[str, ...], *, drawing: bool) -> Climbed:
    """Settles everything, or tells why not; ``choices`` are those some step looks at, in written order."""
    try:
        return _settled(first_look(graph), choices, drawing=drawing)
    except tuple(WHY_NOT) as error:
        return Climbed(reason=WHY_NOT[type(error)])


def _settled(look: FirstLook, choices: tuple[str, ...], *, drawing: bool) -> Climbed:
    graph = look.graph
    reason, never = why_not_encoded(graph), never_reached(graph)
    if not look.slips and (reason is None or not (never or asked_late(graph))):
        return Climbed(never=never)
    if reason is not None:
        return Climbed(reason=f"{reason}, and so it cannot be put to a solver")
    asking = Asking(look, choices, drawing=drawing)
    told = [asking.occurrence(key) for key in look.slips]
    slips = tuple(one for one in told if one is not None)
    return Climbed(slips, never, len(told), len(told) - asking.solved, asking.solved)


def never_reached(graph: StepGraph) -> tuple[int, ...]:
    """The steps that no settling reaches, where every question comes before who looks at it.

    All conditions of a step have to be met, and the questions they look at have to be asked: so it is reached unless
    they leave some choice or question without an option. Where somebody may go back, what is not told here is reached
    by never going back, but what is told may be reached after all.
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
                    question = part.question
                    name, asks = question, graph.steps[question].asks
                    usual = {answer.value for answer in asks.answers} if asks is not None else set()
                    usual -= {graph.repeats[question][0]} if question in graph.repeats else set()
                else:
                    name, usual = part.choice or "", declared[part.choice or ""]
                left[name] = left.get(name, usual) & part.options
                if part.question is not None and part.question not in seen:
                    seen.add(part.question)
                    waiting.append(part.question)
        if not all(left.values()):
            found.append(step)
    return tuple(found)
