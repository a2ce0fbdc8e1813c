"""The manual page of every rule is whole, and its examples do what it says."""

from __future__ import annotations

import pytest

from stepfield.checks import Rule, Severity, all_rules
from stepfield.checks.examples import files_of, judge
from stepfield.checks.manual import Example, read_page, summary_of

# The names and the severities are those of the language reference, section 4; `not-proved` and `source-aged` are the
# program's own.
ERRORS = [
    *("needs-not-met", "field-broken", "not-available", "fact-missing", "skin-exposed", "left-soiled", "left-on"),
    *("cover-missing", "sharp-loose", "fire-risk", "count-missing", "no-owner", "order-loop", "never-reached"),
    *("asked-later", "unknown-name", "taken-name", "bad-shape", "bad-yaml", "caution-missing", "review-overdue"),
    *("not-approved", "not-proved", "wait-too-short", "time-impossible", "limit-missed", "requirement-unmet"),
    *("baseline-edited", "tailoring-lost", "deviation-unreasoned", "deviation-expired"),
]
RULES = all_rules()


def test_the_rules_are_those_of_the_language_reference() -> None:
    severities = {rule.name: rule.severity for rule in RULES}
    expected = dict.fromkeys(ERRORS, Severity.ERROR)
    warnings = dict.fromkeys(["reusable-discarded", "acceptance-expired", "acceptance-needless"], Severity.WARNING)
    notes = dict.fromkeys(["unused-name", "source-aged"], Severity.NOTE)
    assert severities == {**expected, **warnings, **notes}


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_a_page_begins_with_one_plain_sentence(rule: Rule) -> None:
    page = read_page(rule.page)
    assert page.summary == summary_of(rule.page)
    assert "\n" not in page.summary
    assert page.summary[0].isupper()
    assert page.summary.endswith(".")


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_the_example_shows_the_rule_and_no_other_error(rule: Rule) -> None:
    found = judge(read_page(rule.page).example).findings
    assert rule.name in {finding.rule for finding in found}
    assert {finding.rule for finding in found if finding.severity is Severity.ERROR} <= {rule.name}


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_the_mended_example_shows_nothing_of_the_rule_and_no_error(rule: Rule) -> None:
    report = judge(read_page(rule.page).instead)
    assert [f for f in report.findings if f.rule == rule.name or f.severity is Severity.ERROR] == []
    assert all(one.proof is not None for one in report.facts.examined)


def test_an_example_keeps_its_own_header_lines() -> None:
    text = files_of(Example("team: [scrub]\nphases: []\n", None))["protocols/example.yaml"].decode()
    assert text.count("team:") == 1
    assert text.startswith("kind: protocol\n")


PAGE = "Slip.\n\n## Why it matters on the floor\n\nx\n\n## Example\n\n{0}\n\n## Instead\n\n{0}\n\n## Limits\n\nx\n"


@pytest.mark.parametrize(
    "page",
    [
        "Slip.",
        PAGE.format("```yaml\na: 1\n```").replace("## Limits", "## Limit"),
        PAGE.format("a: 1"),
        PAGE.format("```yaml\na: 1\n```").replace("Slip.", ""),
    ],
)
def test_a_page_that_is_not_whole_is_refused(page: str) -> None:
    with pytest.raises(ValueError, match=r"page|example"):
        read_page(page)


def test_a_whole_page_is_read() -> None:
    page = read_page(PAGE.format("```yaml max-states=7\na: 1\n```"))
    assert (page.example.body, page.example.limit, page.limits) == ("a: 1\n", 7, "x")
