"""The JSON form is the one the language reference fixes, key by key."""

from __future__ import annotations

import json

from stepfield.reports import json_report

from .small import CLEAN, WIPED, report

# Language reference, section 4.
FINDING = [
    *("rule", "severity", "path", "line", "column", "protocol", "step", "subject"),
    *("message", "cause", "scenarios", "always", "witness", "mends"),
]


def test_a_finding_has_exactly_the_keys_of_the_reference() -> None:
    (finding,) = json.loads(json_report([report(WIPED)]))["findings"]
    assert list(finding) == FINDING
    message = finding.pop("message")
    assert "side-table" in message
    assert finding == {
        "rule": "needs-not-met",
        "severity": "error",
        "path": "set/room.yaml",
        "line": 16,
        "column": 17,
        "protocol": "room",
        "step": "set-out",
        "subject": "side-table",
        "cause": None,
        "scenarios": [{}],
        "always": False,
        "witness": ["set-out"],
        "mends": [{"say": "do 'wipe-table' before 'set-out'", "step": "set-out", "after": ["wipe-table"]}],
    }


def test_what_was_checked_stands_beside_the_findings() -> None:
    told = json.loads(json_report([report(CLEAN)]))
    assert told["findings"] == []
    checked = told["checked"]
    assert isinstance(checked.pop("not_checked"), list)
    assert checked == {
        "protocols": 1,
        "steps": 2,
        "scenarios": 1,
        "states": 3,
        "complete": True,
        "unproved": [],
        "today": "2026-07-01",
    }


def test_the_cause_names_its_step_and_place() -> None:
    body = WIPED.replace("      - id: set-out", "      - id: lean\n        role: scrub\n        after: [wipe-table]\n"
                         "        do: Lean on it.\n        touches: [side-table]\n      - id: set-out")  # fmt: skip
    (finding,) = json.loads(json_report([report(body)]))["findings"]
    assert finding["cause"] == {"step": "lean", "path": "set/room.yaml", "line": 13}


def test_it_is_plain_ascii_whatever_the_text_holds() -> None:
    text = json_report([report(WIPED.replace("Side table", "Tischchen ä 手"))])
    assert text.isascii()
    assert text.endswith("}\n")


def test_the_unproved_are_listed_with_the_reason() -> None:
    checked = json.loads(json_report([report(CLEAN, limit=1)]))["checked"]
    assert checked["complete"] is False
    assert [one["protocol"] for one in checked["unproved"]] == ["room"]
    assert all(one["why"] for one in checked["unproved"])
