"""The witness of a finding as a story, in the protocol's own words."""

from __future__ import annotations

from dataclasses import dataclass

from ..checks.facts import Examined, Facts
from ..checks.finding import Finding
from ..checks.slips import occurrence_of
from ..checks.words import Naming
from ..language.source import Span

WHOLE = 12
"""A story of up to so many steps is told whole."""
FIRST, LAST = 2, 9
"""How many steps of a longer one are told at its beginning and at its end."""


@dataclass(frozen=True, slots=True)
class Line:
    """One step of the story: who does what, and what is answered where a question is asked."""

    number: int
    who: str
    do: str
    answer: str | None
    step: str
    span: Span

    def __str__(self) -> str:
        answer = f" Answer: {self.answer}." if self.answer is not None else ""
        return f"{self.number}. {self.who}: {self.do}{answer}"


def story_of(finding: Finding, facts: Facts) -> tuple[Line, ...]:
    """A shortest order of steps that shows the finding; empty where no order is involved."""
    examined = facts.by_id.get(finding.protocol or "")
    if examined is None or not finding.witness:
        return ()
    naming = Naming(examined.protocol, facts.protocol_set.clinic)
    steps = examined.protocol.steps
    return tuple(
        Line(place, naming.role(steps[number].role), " ".join(steps[number].do.value.split()), answer,
             steps[number].id.value, steps[number].id.span)
        for place, (number, answer) in enumerate(_order(finding, examined), 1)
    )  # fmt: skip


def _order(finding: Finding, examined: Examined) -> list[tuple[int, str | None]]:
    seen = occurrence_of(finding, examined)
    if seen is not None:
        return list(seen.witness)
    index = {step.id.value: number for number, step in enumerate(examined.protocol.steps)}
    return [(index[step], None) for step in finding.witness]


def shortened(lines: tuple[Line, ...]) -> tuple[tuple[Line, ...], int, tuple[Line, ...]]:
    """The beginning of a story, how many steps are left out after it, and its end."""
    if len(lines) <= WHOLE:
        return lines, 0, ()
    return lines[:FIRST], len(lines) - FIRST - LAST, lines[-LAST:]
