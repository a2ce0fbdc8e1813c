"""Every rule finds what its golden cases say, at the line that says so, and nothing else; mended, no error is left."""

from __future__ import annotations

import pytest

from stepfield.asepsis import Occurrence, StepGraph, bits, replay, slips_at_end
from stepfield.checks import Finding, Report, Severity, all_rules
from stepfield.checks.slips import occurrence_of

from .golden import Case, cases, place

FAILS, MENDED = cases("fails"), cases("mended")


@pytest.mark.parametrize("case", FAILS, ids=str)
def test_a_failing_case_has_exactly_the_findings_it_says(case: Case) -> None:
    assert case.expected
    assert sorted(place(finding) for finding in case.judge(case.rule).findings) == case.expected


@pytest.mark.parametrize("case", MENDED, ids=str)
def test_a_mended_case_has_no_finding_of_the_rule_and_no_error_of_any(case: Case) -> None:
    found = case.judge().findings
    assert [f for f in found if f.rule == case.rule or f.severity is Severity.ERROR] == []


def test_every_failing_case_is_mended_too() -> None:
    assert [str(case) for case in FAILS] == [str(case) for case in MENDED]


def test_every_rule_has_cases() -> None:
    assert {case.rule for case in FAILS} == {rule.name for rule in all_rules()}


SLIPS = {
    *("needs-not-met", "field-broken", "not-available", "fact-missing", "skin-exposed", "left-soiled", "left-on"),
    *("cover-missing", "sharp-loose", "fire-risk", "count-missing"),
}
"""The rules that the engine's slips are reported under."""
ORDERED = [case for case in FAILS if case.rule in SLIPS]


@pytest.mark.parametrize("case", ORDERED, ids=str)
def test_every_witness_replays_and_shows_its_slip_at_the_last_step_and_no_earlier(case: Case) -> None:
    report = case.judge(case.rule)
    for finding in report.findings:
        graph, seen = told(report, finding)
        order = [graph.index[step] for step in finding.witness]
        assert order == [step for step, _ in seen.witness]
        moments = replay(graph, order)
        earlier = {slip.key for moment in moments[:-1] for slip in moment.slips}
        last = {slip.key for slip in (*moments[-1].slips, *slips_at_end(graph, moments))}
        assert seen.slip.key in last - earlier


@pytest.mark.parametrize("case", ORDERED, ids=str)
def test_every_witness_is_an_order_the_protocol_allows(case: Case) -> None:
    report = case.judge(case.rule)
    for finding in report.findings:
        graph, seen = told(report, finding)
        skipped = [n for n in range(len(graph.steps)) if graph.conditions[n]]
        done = set(skipped)
        for step, _ in seen.witness:
            assert set(bits(graph.order.before[step])) <= done
            done.add(step)


@pytest.mark.parametrize("case", ORDERED, ids=str)
def test_a_finding_that_is_always_there_needs_no_order_and_one_that_is_not_has_a_way_round(case: Case) -> None:
    for finding in case.judge(case.rule).findings:
        assert finding.message.startswith("In some orders ") is not finding.always


def told(report: Report, finding: Finding) -> tuple[StepGraph, Occurrence]:
    """What the engine saw of a finding."""
    examined = report.facts.by_id[finding.protocol or ""]
    seen = occurrence_of(finding, examined)
    assert examined.proof is not None
    assert seen is not None
    return examined.proof.graph, seen
