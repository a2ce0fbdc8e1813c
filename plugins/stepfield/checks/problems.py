"""Rules that report what the reader already saw: nothing is judged twice."""

from __future__ import annotations

from collections.abc import Iterator

from .facts import Facts
from .finding import Finding, Note, Severity
from .rule import Rule
from .words import sentence


def problem_rule(name: str, page: str, advice: str | None = None) -> Rule:
    """The rule that reports the problems of the text that the reader files under ``name``, as errors.

    ``advice`` is given where the reader has none.
    """
    return Rule(name, Severity.ERROR, lambda facts: from_problems(facts, name, advice=advice), page)


def from_problems(
    facts: Facts, name: str, severity: Severity = Severity.ERROR, advice: str | None = None
) -> Iterator[Finding]:
    """A finding for every problem that the reader files under a rule."""
    for problem in facts.protocol_set.problems:
        if problem.rule == name:
            yield Finding(
                rule=name,
                severity=severity,
                span=problem.span,
                message=sentence(problem.message),
                protocol=problem.protocol,
                step=problem.step,
                subject=problem.subject,
                advice=sentence(problem.hint) if problem.hint else advice,
                related=tuple(Note(span, text) for span, text in problem.related),
            )
