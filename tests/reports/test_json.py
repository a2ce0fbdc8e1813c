"""The JSON form is the one the language reference fixes, key by key."""

from __future__ import annotations

import json
import math

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
        "orders": {"exact": True, "count": 1},
        "complete": True,
        "solved": [],
        "asked_of_solver": 0,
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


def roles_at_once(roles: int) -> dict[str, object]:
    """What is told of the orders of a protocol in which so many people each do one step, whenever they like."""
    names = [f"role-{number}" for number in range(roles)]
    clinic = f"clinic: Quillhaven Day Surgery\nroles: {{{', '.join(f'{name}: {{title: {name}}}' for name in names)}}}\n"
    steps = "".join(f"      - {{id: step-of-{name}, role: {name}, do: Set out.}}\n" for name in names)
    head = f"kind: protocol\ntitle: Many hands\nteam: [{', '.join(names)}]\n"
    body = f"phases:\n  - phase: room\n    steps:\n{steps}"
    found = json.loads(json_report([report(body, clinic=clinic, head=head)]))["checked"]["orders"]
    assert isinstance(found, dict)
    return found


def test_a_number_of_orders_that_a_double_would_round_is_told_in_digits() -> None:
    # n people without order among them: n! orders. 2^53 lies between 18! and 19!.
    assert roles_at_once(3) == {"exact": True, "count": 6}
    assert roles_at_once(18) == {"exact": True, "count": math.factorial(18)}
    assert roles_at_once(19) == {"exact": True, "count": str(math.factorial(19))}


def test_orders_that_were_not_tried_are_not_counted() -> None:
    assert json.loads(json_report([report(CLEAN, limit=1)]))["checked"]["orders"] == {"exact": True, "count": 0}


def test_orders_not_counted_exactly_are_told_as_bounds() -> None:
    # Counted by hand: wipe and ask, answered either way; setting out has its turn before it could be asked for.
    late = CLEAN.replace("        do: Set out the dressings.\n", "        do: Set out.\n        when: {ask: open}\n")
    late += "      - {id: ask, role: circulating, do: Ask., asks: {question: Open?, answers: [open, closed]}}\n"
    told = json.loads(json_report([report(late)]))["checked"]["orders"]
    assert list(told) == ["exact", "at_least", "at_most"]
    assert told["exact"] is False
    assert told["at_least"] <= 2 <= told["at_most"]
