"""A finding in a tailored protocol stands at the line that is to blame: in the adopted text, or in tailoring.yaml."""

from __future__ import annotations

import datetime
import hashlib

import pytest

from stepfield.checks import Finding, check_set
from stepfield.language import build_set
from stepfield.language.model import Clinic

TODAY = datetime.date(2026, 7, 1)
CLINIC = (
    "clinic: Quillhaven Day Surgery\nroles: {scrub: {title: Scrub nurse}, circulating: {title: Circulating nurse}}\n"
)
ROOM = """\
kind: protocol
title: Room
team: [scrub, circulating]
surfaces: {side-table: {title: Side table}, tray: {title: Tray}}
phases:
  - phase: room
    steps:
      - {id: wipe, role: scrub, do: Wipe., makes: {side-table: disinfected}, confirms: [wiped]}
      - {id: dry, role: scrub, do: Dry., touches: [tray]}
      - {id: look, role: scrub, do: Look., needs: {side-table: clean}}
      - {id: ask, role: scrub, do: Ask., requires: [wiped]}
"""
AGREED = "because: x, agreed: {by: Board, date: 2026-01-01}, until: 2027-01-01"


def found(changes: str, room: str = ROOM) -> list[Finding]:
    entries = "".join(f"  - {{protocol: room, {one}, {AGREED}}}\n" for one in changes.split("; "))
    tailoring = f"baseline: {{name: Quillhaven Day Surgery, version: 3.2.0}}\nchanges:\n{entries}"
    files = {"p/clinic.yaml": CLINIC, "p/room.yaml": room, "p/tailoring.yaml": tailoring}
    report = check_set(build_set({path: text.encode() for path, text in files.items()}), TODAY)
    return [one for one in report.findings if one.rule != "unused-name"]


def place(finding: Finding) -> tuple[str, str, int]:
    return finding.rule, finding.span.path, finding.span.line


def test_what_a_step_left_out_leaves_open_stands_at_the_entry_that_leaves_it_out() -> None:
    told = found("drop: wipe; step: dry, set: {do: Dry well.}")
    assert [place(one) for one in told] == [
        ("fact-missing", "p/tailoring.yaml", 3),
        ("needs-not-met", "p/tailoring.yaml", 3),
    ]
    assert [(note.span.path, note.span.line) for note in told[1].related[-1:]] == [("p/room.yaml", 10)]


def test_lines_of_the_adopted_text_are_told_with_its_file() -> None:
    room = ROOM.replace(
        "{id: ask,", "{id: again, role: scrub, do: Again., makes: {side-table: clean}}\n      - {id: ask,"
    )
    told = {one.rule: one for one in found("drop: wipe", room)}
    assert "p/room.yaml line 11" in (told["needs-not-met"].advice or "")


def test_in_an_adopted_file_it_is_said_where_to_write_the_mend() -> None:
    room = ROOM.replace("needs: {side-table: clean}", "needs: {tray: clean}")
    upstream = f"name: Q\nversion: 1.0.0\ndigests: {{room.yaml: sha256:{hashlib.sha256(room.encode()).hexdigest()}}}\n"
    files = {"p/clinic.yaml": CLINIC, "p/room.yaml": room, "p/upstream.yaml": upstream}
    report = check_set(build_set({path: text.encode() for path, text in files.items()}), TODAY)
    (one,) = (each for each in report.findings if each.rule == "needs-not-met")
    assert one.span.path == "p/room.yaml"
    assert "write the change into tailoring.yaml" in (one.advice or "")


def test_what_is_set_is_blamed_where_it_is_set() -> None:
    (one,) = found("step: look, set: {needs: {side-table: sterile}}")
    assert place(one) == ("needs-not-met", "p/tailoring.yaml", 3)


def test_what_the_adopted_text_has_too_stays_where_it_is() -> None:
    room = ROOM.replace("needs: {side-table: clean}", "needs: {tray: clean}")
    (one,) = found("step: dry, set: {do: Dry well.}", room)
    assert place(one) == ("needs-not-met", "p/room.yaml", 10)
    assert "left out" not in str(one.related)


def test_where_two_entries_may_be_to_blame_both_stand_beside_the_finding() -> None:
    room = ROOM.replace("do: Dry., touches: [tray]", "do: Dry., makes: {side-table: clean}")
    told = {one.rule: one for one in found("drop: wipe; drop: dry", room)}
    lines = [(note.span.path, note.span.line) for note in told["needs-not-met"].related]
    assert lines[-2:] == [("p/tailoring.yaml", 3), ("p/tailoring.yaml", 4)]
    assert told["fact-missing"].span.line == 3


def test_what_only_a_step_left_out_used_is_no_slip_in_the_adopted_text() -> None:
    entry = f"changes: [{{protocol: room, drop: dry, {AGREED}}}]\n"
    tailoring = f"baseline: {{name: Quillhaven Day Surgery, version: 3.2.0}}\n{entry}"
    files = {"p/clinic.yaml": CLINIC, "p/room.yaml": ROOM, "p/tailoring.yaml": tailoring}
    assert check_set(build_set({path: text.encode() for path, text in files.items()}), TODAY).findings == ()


@pytest.mark.parametrize("drop", ["wipe; drop: dry; drop: look; drop: ask"])
def test_a_protocol_with_no_step_left_is_checked_like_any_other(drop: str) -> None:
    assert found(f"drop: {drop}") == []


def test_a_clinic_without_changes_is_judged_once() -> None:
    files = {"p/clinic.yaml": CLINIC.encode(), "p/room.yaml": ROOM.encode()}
    whole = build_set(files)
    assert isinstance(whole.clinic, Clinic)
    assert check_set(whole, TODAY).findings == ()
