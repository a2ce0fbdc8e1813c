"""Running the rules over a protocol set."""

from __future__ import annotations

import datetime
from collections.abc import Iterable
from dataclasses import dataclass

from ..asepsis import DEFAULT_LIMIT
from ..language.model import Accepted, ProtocolSet
from .blame import blamed, told_of_adopted
from .facts import Facts, examine
from .finding import Finding, Severity
from .one_person import told_of_people
from .rule import Rule, all_rules

_GRAVITY = {Severity.ERROR: 0, Severity.WARNING: 1, Severity.NOTE: 2}


@dataclass(frozen=True, slots=True)
class Report:
    """Findings, gravest first within each protocol, and the facts they were drawn from.

    ``accepted`` are those that somebody accepts for a while, which do not count; ``known`` is how many were left out
    because they were there before, or None if none were to be.
    """

    findings: tuple[Finding, ...]
    facts: Facts
    accepted: tuple[tuple[Finding, Accepted], ...] = ()
    known: int | None = None

    @property
    def failed(self) -> bool:
        """Whether any finding is an error."""
        return any(finding.severity is Severity.ERROR for finding in self.findings)


def check_set(
    protocol_set: ProtocolSet,
    today: datetime.date,
    *,
    limit: int = DEFAULT_LIMIT,
    rules: Iterable[Rule] | None = None,
    known: Iterable[Finding] = (),
) -> Report:
    """Judges a protocol set by every rule (or those told), as of ``today``.

    ``limit`` bounds the states of one protocol. ``known`` are the findings of those protocols of the set that passed
    an earlier check.
    """
    facts = examine(protocol_set, today, limit)
    asked = all_rules() if rules is None else tuple(rules)
    found = {_identity(finding): finding for finding in known}
    for rule in asked:
        for finding in rule.check(facts):
            found.setdefault(_identity(finding), finding)
    people = told_of_people(found.values(), protocol_set.protocols, protocol_set.clinic)
    told = blamed(people, protocol_set, lambda adopted: check_set(adopted, today, limit=limit, rules=asked).findings)
    return Report(ranked(told_of_adopted(told, protocol_set)), facts)


def ranked(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Findings in the order of reports: by protocol, the gravest first."""
    return tuple(sorted(findings, key=_rank))


def _identity(finding: Finding) -> tuple[object, ...]:
    """A finding is told once; where a file cannot be read as meant, each place is a finding of its own."""
    unreadable = finding.protocol is None or finding.rule in ("bad-yaml", "bad-shape")
    return (*finding.key, finding.span) if unreadable else finding.key


def _rank(finding: Finding) -> tuple[object, ...]:
    span = finding.span
    place = (span.path, span.line, span.column)
    return (finding.protocol or "", _GRAVITY[finding.severity], *place, finding.rule, finding.subject or "")
