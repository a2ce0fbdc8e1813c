"""Every way to settle the choices and to answer the questions of a protocol in which nobody goes back.

A set of settlings is a bit mask over all of them; the choices turn as in sharing.py, the answers fastest.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping

from .graph import StepGraph
from .stepping import Settled

MOST_SETTLINGS = 4096


class TooManySettlingsError(Exception):
    """There are too many to tell them apart."""


class AllSettlings:
    """All settlings of some ``choices`` and of the tracked questions. Raises TooManySettlingsError."""

    def __init__(self, graph: StepGraph, choices: tuple[str, ...]) -> None:
        self.graph, self.choices = graph, choices
        self.settled: list[tuple[Settled, Settled]] = []
        """(An option for each choice, an answer for each tracked question or None where it is passed over.)"""
        self.having: dict[tuple[str | int, str | None], int] = {}
        """For each (choice or question, option or answer) the settlings that have it."""
        self.combinations: dict[Settled, int] = {}
        named = {choice.id.value: choice.options for choice in graph.protocol.choices}
        options = [[option.value for option, _ in named[name]] for name in choices]
        self.questions = [step for step in graph.order.sorted_steps() if step in set(graph.tracked)]
        for picked in itertools.product(*options):
            for answers in self._answered(dict(zip(choices, picked, strict=True)), {}):
                self._note(picked, answers)
        self.everything = (1 << len(self.settled)) - 1

    def answers(self, mask: int) -> list[Settled]:
        """The answers in some of the settlings, as they come."""
        return [self.settled[number][1] for number in range(len(self.settled)) if mask >> number & 1]

    def of_options(self, number: int) -> dict[str, str]:
        """The options of one settling by choice."""
        picked = self.settled[number][0]
        return {name: option for name, option in zip(self.choices, picked, strict=True) if option is not None}

    def _note(self, picked: Settled, answers: Mapping[int, str | None]) -> None:
        if len(self.settled) >= MOST_SETTLINGS:
            raise TooManySettlingsError
        mask = 1 << len(self.settled)
        given = tuple(answers[question] for question in self.graph.tracked)
        self.settled.append((picked, given))
        self.combinations[picked] = self.combinations.get(picked, 0) | mask
        named: list[tuple[str | int, str | None]]
        named = [*zip(self.choices, picked, strict=True), *zip(self.graph.tracked, given, strict=True)]
        for key in named:
            self.having[key] = self.having.get(key, 0) | mask

    def _answered(self, picked: Mapping[str, str], given: dict[int, str | None]) -> Iterator[Mapping[int, str | None]]:
        if len(given) == len(self.questions):
            yield given
            return
        question = self.questions[len(given)]
        asks = self.graph.steps[question].asks
        is_asked = all(
            (given.get(part.question) if part.question is not None else picked.get(part.choice or "")) in part.options
            for part in self.graph.conditions[question]
        )
        answers = dict.fromkeys(answer.value for answer in asks.answers) if asks is not None and is_asked else (None,)
        for answer in answers:
            yield from self._answered(picked, {**given, question: answer})
