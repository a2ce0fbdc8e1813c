"""Findings for other programs: the JSON form that the language reference fixes."""

from __future__ import annotations

import json
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from ..asepsis import Count
from ..checks import Cause, Finding, Report
from .scope import checked_of


def json_report(reports: Sequence[Report]) -> str:
    """The findings and what was checked, as one JSON object in ASCII."""
    checked = checked_of(reports)
    found: dict[str, Any] = {
        "findings": [finding_entry(finding) for report in reports for finding in report.findings],
        "checked": {
            "protocols": checked.protocols,
            "steps": checked.steps,
            "scenarios": checked.scenarios,
            "states": checked.states,
            "orders": _count(checked.orders),
            "complete": checked.complete,
            "solved": list(checked.solved),
            "asked_of_solver": checked.asked,
            "unproved": [{"protocol": one.protocol, "why": one.why} for one in checked.unproved],
            "not_checked": list(checked.not_checked),
            "today": checked.today.isoformat(),
        },
    }
    accepted = [pair for report in reports for pair in report.accepted]
    if any(report.facts.protocol_set.accepted for report in reports):
        found["accepted"] = [
            {**finding_entry(finding), "reason": why.reason, "by": why.by, "until": why.until.isoformat()}
            for finding, why in accepted
        ]
    if any(report.known is not None for report in reports):
        found["known_before"] = sum(report.known or 0 for report in reports)
    return json.dumps(found, indent=2) + "\n"


def finding_entry(finding: Finding) -> dict[str, Any]:
    """One finding in the shape that the language reference fixes."""
    return {
        "rule": finding.rule,
        "severity": finding.severity.value,
        "path": finding.span.path,
        "line": finding.span.line,
        "column": finding.span.column,
        "protocol": finding.protocol,
        "step": finding.step,
        "subject": finding.subject,
        "message": finding.message,
        "cause": None if finding.cause is None else _cause(finding.cause),
        "scenarios": [dict(scenario) for scenario in finding.scenarios],
        "always": finding.always,
        "witness": list(finding.witness),
        "mends": [
            {"say": mend.say, "step": mend.waits[0].step, "after": list(mend.waits[0].after)}
            for mend in finding.mends
            if mend.is_order_of_one_step
        ],
    }


def _count(count: Count) -> dict[str, Any]:
    """A number of orders, or its bounds where it was not counted exactly."""
    if count.exact:
        return {"exact": True, "count": _number(count.at_least)}
    return {"exact": False, "at_least": _number(count.at_least), "at_most": _number(count.at_most)}


def _number(number: int) -> int | str:
    """A number, or its digits where readers that hold numbers in 64 bits of floating point would round it."""
    return number if number <= 2**53 else str(Decimal(number))


def _cause(cause: Cause) -> dict[str, Any]:
    return {"step": cause.step, "path": cause.span.path, "line": cause.span.line}
