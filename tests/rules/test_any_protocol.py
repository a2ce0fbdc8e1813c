"""Whatever a protocol says, its findings are told: each once, in whole sentences, with advice that can be followed."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from typing import Any

from hypothesis import HealthCheck, given, settings

from stepfield.checks import Finding, Report, check_set
from stepfield.language import build_set
from stepfield.reports import json_report, text_report

from ..oracle.small_protocols import small_protocols
from .golden import TODAY

LINK = re.compile(r"write `after: \[([\w.-]+)\]` in '([\w.-]+)'|add `([\w.-]+)` to the `after` of '([\w.-]+)'")


def judge(case: dict[str, Any]) -> Report:
    names = {"clinic": "clinic.yaml", "protocol": "case.yaml", "evidence": "evidence.yaml"}
    files = {f"p/{name}": json.dumps(case[part]).encode() for part, name in names.items()}
    return check_set(build_set(files), TODAY, limit=2000)


@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(small_protocols())
def test_findings_are_told_once_in_sentences_and_both_forms_can_show_them(case: dict[str, Any]) -> None:
    report = judge(case)
    keys = [finding.key for finding in report.findings if finding.rule not in ("bad-shape", "bad-yaml")]
    assert len(keys) == len(set(keys))
    for finding in report.findings:
        assert re.fullmatch(r"['A-Z][^\n]*[.?!…]", finding.message)
        assert finding.advice
    assert len(json.loads(json_report([report]))["findings"]) == len(report.findings)
    assert text_report([report]).count("What to do: ") == len(report.findings)


@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(small_protocols())
def test_advice_to_wait_never_closes_a_loop_and_can_be_followed(case: dict[str, Any]) -> None:
    for finding in judge(case).findings:
        for earlier, later in links(finding):
            found = judge(with_link(case, earlier, later)).findings
            assert not [one for one in found if one.rule in ("order-loop", "bad-shape", "unknown-name")]


def links(finding: Finding) -> Iterator[tuple[str, str]]:
    """The pairs (earlier, later) that the advice links."""
    for match in LINK.finditer(finding.advice or ""):
        yield (match[1], match[2]) if match[1] else (match[3], match[4])


def with_link(case: dict[str, Any], earlier: str, later: str) -> dict[str, Any]:
    """The same case with one more ``after``."""
    changed: dict[str, Any] = json.loads(json.dumps(case))
    for phase in changed["protocol"]["phases"]:
        for step in phase["steps"]:
            if step["id"] == later:
                step.setdefault("after", []).append(earlier)
    return changed
