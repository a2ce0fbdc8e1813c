"""The forms for code hosts, editors and build servers, held to their own published formats."""

from __future__ import annotations

import json
import re
from pathlib import Path
from xml.etree import ElementTree as Tree

import click
import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stepfield.checks import Report, Severity, check_set, with_mends
from stepfield.command import check
from stepfield.language import build_set
from stepfield.reports.forges import _data, _property
from stepfield.reports.forms import FORMS, as_form
from tests.reports.small import CLEAN, TODAY, WIPED, report

# The OASIS standard's own schema (SARIF 2.1.0, errata 01), as its technical committee publishes it.
SARIF = json.loads((Path(__file__).parent / "sarif-2.1.0.schema.json").read_text(encoding="utf-8"))
HOSTILE = "Wipe.\n::error::all is well%0A::stop-commands::x ]]> <b> & \\u202e"


def reports() -> list[Report]:
    """Findings with and without an order, with mends, a cause, related places and an unproved protocol."""
    leaning = WIPED.replace(
        "      - id: set-out",
        "      - id: lean\n        role: circulating\n        do: Lean on it.\n        touches: [side-table]\n"
        "      - id: set-out",
    )
    return [report(WIPED), report(leaning), report(CLEAN, limit=1), report(WIPED.replace("makes:", "makse:"))]


def hostile() -> Report:
    return report(WIPED.replace("Set out the dressings.", json.dumps(HOSTILE)), path="se t/a,b:c%")


@pytest.mark.parametrize("found", [*reports(), report(CLEAN), hostile()])
def test_sarif_keeps_the_schema_of_the_standard(found: Report) -> None:
    log = json.loads(as_form("sarif", [found]))
    jsonschema.Draft7Validator(SARIF).validate(log)
    (run,) = log["runs"]
    assert len(run["results"]) == len(found.findings)
    for result in run["results"]:
        assert run["tool"]["driver"]["rules"][result["ruleIndex"]]["id"] == result["ruleId"]
        uri = result["locations"][0]["physicalLocation"]["artifactLocation"]["uri"]
        assert re.fullmatch(r"[A-Za-z0-9/._~%-]+", uri)  # RFC 3986: no character that a relative reference may not hold


def test_sarif_says_what_was_not_proved_and_is_never_just_empty() -> None:
    (run,) = json.loads(as_form("sarif", [report(CLEAN, limit=1)]))["runs"]
    told = [one["message"]["text"] for one in run["invocations"][0]["toolExecutionNotifications"]]
    assert any(text.startswith("Not proved: room") for text in told)
    assert any("not the same as safe" in text for text in told)


def test_a_sarif_fix_applied_to_the_text_mends_it() -> None:
    """Replacements are applied by hand, as SARIF 2.1.0 section 3.57 has them: delete the region, insert the content."""
    found = report(WIPED)
    result = json.loads(as_form("sarif", [found]))["runs"][0]["results"][0]
    assert result["codeFlows"][0]["threadFlows"][0]["locations"]
    (change,) = result["fixes"][0]["artifactChanges"]
    text = found.facts.protocol_set.sources["set/room.yaml"].splitlines(keepends=True)
    for replacement in reversed(change["replacements"]):
        region = replacement["deletedRegion"]
        text[region["startLine"] - 1 : region["endLine"] - 1] = [replacement["insertedContent"]["text"]]
    sources = {**found.facts.protocol_set.sources, "set/room.yaml": "".join(text)}
    after = check_set(build_set({path: one.encode() for path, one in sources.items()}), TODAY)
    assert not [one for one in after.findings if one.severity is Severity.ERROR]


def unescaped(text: str) -> str:
    """As the runner reads a command's message: GitHub's documentation of workflow commands."""
    return text.replace("%0D", "\r").replace("%0A", "\n").replace("%25", "%")


@given(st.text(max_size=60))
def test_no_text_ends_a_workflow_command_or_its_property(text: str) -> None:
    data, name = _data(text), _property(text)
    assert "\n" not in data
    assert "\r" not in data
    assert not {",", ":", "\n", "\r"} & set(name)
    assert unescaped(data).count("\n") == text.count("\n")


@pytest.mark.parametrize("found", [*reports(), hostile()])
def test_each_finding_is_one_annotation_and_nothing_else_is_a_command(found: Report) -> None:
    lines = as_form("github", [found]).splitlines()
    commands = [line for line in lines if line.startswith("::")]
    told = [line for line in commands if "title=not proved" not in line]
    assert len(told) == len(found.findings)
    for line, finding in zip(told, found.findings, strict=True):
        shape = re.fullmatch(r"::(error|warning|notice) ([^:]*)::(.*)", line)
        assert shape is not None
        properties = dict(part.split("=", 1) for part in shape[2].split(","))
        assert properties["title"] == finding.rule
        assert properties["line"] == str(finding.span.line)
    assert "::stop-commands::" not in " ".join(line for line in lines if not line.startswith("::"))


@pytest.mark.parametrize("found", [*reports(), hostile()])
def test_the_quality_report_has_what_its_documentation_asks_for(found: Report) -> None:
    """The required keys as GitLab documents its code quality report format."""
    told = json.loads(as_form("gitlab", [found]))
    assert len(told) == len(found.findings)
    assert len({one["fingerprint"] for one in told}) == len(told)
    for one in told:
        assert {"description", "check_name", "fingerprint", "severity", "location"} == set(one)
        assert one["severity"] in {"info", "minor", "major", "critical", "blocker"}
        assert one["location"]["path"]
        assert not one["location"]["path"].startswith("./")
        assert one["location"]["lines"]["begin"] >= 1


def test_a_fingerprint_stays_when_lines_move() -> None:
    before, after = report(WIPED), report("# A comment above.\n\n" + WIPED)
    marks = [[one["fingerprint"] for one in json.loads(as_form("gitlab", [found]))] for found in (before, after)]
    assert marks[0] == marks[1] != []


@pytest.mark.parametrize("found", [*reports(), report(CLEAN), hostile()])
def test_junit_counts_what_it_holds(found: Report) -> None:
    root = Tree.fromstring(as_form("junit", [found]))  # noqa: S314 - our own text
    assert root.tag == "testsuites"
    errors = {(one.protocol, one.rule) for one in found.findings if one.severity is Severity.ERROR}
    failures = root.findall("./testsuite/testcase/failure")
    assert len(failures) == len(errors)
    for suite in root:
        cases = suite.findall("testcase")
        assert suite.get("tests") == str(len(cases))
        assert suite.get("failures") == str(len(suite.findall("./testcase/failure")))
        assert suite.get("errors") == str(len(suite.findall("./testcase/error")))
    whole = "".join(root.itertext())
    assert all(" ".join(one.message.split())[:40] in " ".join(whole.split()) for one in found.findings)
    assert "not the same as safe" in whole


def test_junit_has_an_error_where_not_every_order_was_tried() -> None:
    root = Tree.fromstring(as_form("junit", [report(CLEAN, limit=1)]))  # noqa: S314 - our own text
    assert [one.get("type") for one in root.iter("error")] == ["not-proved"]


def test_mends_stand_in_every_form_that_can_hold_them() -> None:
    found = with_mends(report(WIPED))
    (mend,) = found.findings[0].mends
    for form in ("text", "json", "sarif", "github", "gitlab", "junit"):
        assert mend.say in as_form(form, [found]).replace('\\"', '"').replace("\\u2019", "’"), form


def test_there_is_no_other_form() -> None:
    with pytest.raises(ValueError, match="no form"):
        as_form("yaml", [report(CLEAN)])
    assert FORMS[0] == "text"


def test_the_command_offers_every_form() -> None:
    offered = next(option for option in check.params if option.name == "form")
    assert isinstance(offered.type, click.Choice)
    assert tuple(offered.type.choices) == FORMS
