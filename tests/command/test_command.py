"""The command line: what it prints, how it ends, and that bad input never shows a traceback."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from stepfield import __version__
from stepfield.changes import RULES
from stepfield.checks import all_rules
from stepfield.command import main

CLINIC = (
    "clinic: Quillhaven Day Surgery\nroles:\n  scrub: {title: Scrub nurse}\n  circulating: {title: Circulating nurse}\n"
)
FAILS = """kind: protocol
title: Small room
team: [scrub, circulating]
surfaces: {side-table: {title: Side table}}
phases:
  - phase: room
    steps:
      - {id: wipe-table, role: circulating, do: Wipe., makes: {side-table: disinfected}}
      - {id: set-out, role: scrub, do: Set out., needs: {side-table: disinfected}}
"""
HOLDS = FAILS.replace("id: set-out,", "id: set-out, after: [wipe-table],")
USES = """kind: protocol
title: Uses a part
team: [scrub]
phases:
  - phase: room
    steps: [{use: laying, as: lay, with: {who: scrub}}]
"""
PART = """kind: part
title: Laying
for: {who: role}
steps: [{id: begin, role: who, do: Begin., requires: [agreed]}]
"""


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to work in, with a set that holds."""
    monkeypatch.chdir(tmp_path)
    write("protocols/clinic.yaml", CLINIC)
    write("protocols/room.yaml", HOLDS)
    return tmp_path


def write(name: str, text: str | bytes) -> None:
    path = Path(name)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(text if isinstance(text, bytes) else text.encode())


def run(*words: str) -> Result:
    result = CliRunner().invoke(main, list(words))
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exc_info
    return result


def told(*words: str) -> list[tuple[str, str]]:
    """The rule and the path of every finding."""
    found = json.loads(run("check", "--format", "json", *words).stdout)
    return [(finding["rule"], finding["path"]) for finding in found["findings"]]


def test_a_set_that_holds_ends_with_0(here: Path) -> None:
    result = run("check")
    assert result.exit_code == 0
    assert result.stdout.startswith("No findings.\n")


def test_an_error_ends_with_1(here: Path) -> None:
    write("protocols/room.yaml", FAILS)
    result = run("check", "protocols")
    assert result.exit_code == 1
    assert "protocols/room.yaml:9:58  needs-not-met  " in result.stdout


def test_warnings_and_notes_alone_end_with_0(here: Path) -> None:
    write("protocols/clinic.yaml", CLINIC + "surfaces: {lamp: {title: Lamp}}\n")
    result = run("check")
    assert result.exit_code == 0
    assert "unused-name (note)" in result.stdout


def test_json_says_what_was_checked(here: Path) -> None:
    found = json.loads(run("check", "--format", "json", "--today", "2026-02-03").stdout)
    assert found["findings"] == []
    assert found["checked"]["today"] == "2026-02-03"


@pytest.mark.parametrize("given", ["protocols", "protocols/", "./protocols"])
def test_paths_are_shown_as_given_with_slashes(here: Path, given: str) -> None:
    write("protocols/room.yaml", FAILS)
    assert told(given) == [("needs-not-met", "protocols/room.yaml")]


def test_an_absolute_folder_is_shown_whole(here: Path) -> None:
    write("protocols/room.yaml", FAILS)
    assert told(str(here / "protocols")) == [("needs-not-met", f"{(here / 'protocols').as_posix()}/room.yaml")]


def test_from_inside_the_set_paths_are_bare(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write("protocols/room.yaml", FAILS)
    monkeypatch.chdir(here / "protocols")
    assert told(".") == [("needs-not-met", "room.yaml")]
    assert told("room.yaml") == [("needs-not-met", "room.yaml")]


def test_two_sets_are_checked_together(here: Path) -> None:
    write("other/clinic.yaml", CLINIC)
    write("other/room.yaml", FAILS)
    assert told("protocols", "other") == [("needs-not-met", "other/room.yaml")]


def test_a_single_file_shows_its_own_findings_and_its_part_s(here: Path) -> None:
    write("protocols/room.yaml", FAILS)
    write("protocols/uses.yaml", USES)
    write("protocols/parts/laying.yaml", PART)
    part, room = ("fact-missing", "protocols/parts/laying.yaml"), ("needs-not-met", "protocols/room.yaml")
    assert told("protocols") == [room, part]
    assert told("protocols/room.yaml") == [room]
    assert told("protocols/uses.yaml") == [part]
    assert told("protocols/parts/laying.yaml") == [part]
    assert sorted(told("protocols/uses.yaml", "protocols/room.yaml")) == sorted([room, part])
    assert told("protocols/clinic.yaml") == []


def test_from_a_deeper_folder_the_set_is_found_above(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write("protocols/uses.yaml", USES)
    write("protocols/parts/laying.yaml", PART)
    monkeypatch.chdir(here / "protocols" / "parts")
    assert told("laying.yaml") == [("fact-missing", "../parts/laying.yaml")]


def test_a_single_file_counts_only_what_was_looked_at(here: Path) -> None:
    write("protocols/second.yaml", HOLDS)
    checked = json.loads(run("check", "protocols/room.yaml", "--format", "json").stdout)["checked"]
    assert (checked["protocols"], checked["steps"]) == (1, 2)


def test_a_clinic_s_surface_counts_as_used_wherever_it_is_used(here: Path) -> None:
    write("protocols/clinic.yaml", CLINIC + "surfaces: {lamp: {title: Lamp}, couch: {title: Couch}}\n")
    write("protocols/second.yaml", HOLDS.replace("needs: {", "needs: {lamp: contaminated, "))
    assert told("protocols") == [("unused-name", "protocols/clinic.yaml")]
    assert told("protocols/room.yaml", "protocols/clinic.yaml") == [("unused-name", "protocols/clinic.yaml")]
    assert told("protocols/room.yaml") == []


def test_errors_of_shared_files_are_shown_with_every_single_file(here: Path) -> None:
    write("protocols/clinic.yaml", CLINIC.replace("clinic:", "clinc:"))
    result = run("check", "protocols/room.yaml")
    assert result.exit_code == 1
    assert "protocols/clinic.yaml:1:1  bad-shape" in result.stdout


def test_a_broken_single_file_is_told(here: Path) -> None:
    write("protocols/room.yaml", "kind: protocol\nkind: protocol\n")
    write("protocols/other.yaml", FAILS)
    found = told("protocols/room.yaml")
    assert ("bad-yaml", "protocols/room.yaml") in found
    assert {path for _, path in found} == {"protocols/room.yaml"}


@pytest.mark.parametrize(
    ("words", "hint"),
    [
        (["check", "nowhere"], "nowhere is neither a folder nor a file"),
        (["check", "alone.yaml"], "alone.yaml belongs to no protocol set"),
        (["check", "protocols/notes.txt"], "protocols/notes.txt is no file of the protocol set"),
        (["check", "empty-set"], "There is no protocol in empty-set"),
        (["check", "x" * 5000], "cannot be read"),
        (["check", "--today", "2026-02-30"], "is not a day"),
        (["check", "--today", "tomorrow"], "is not a day"),
        (["check", "--today", "20260201"], "is not a day"),
        (["check", "--max-states", "0"], "0 is not in the range"),
        (["check", "--format", "xml"], "xml"),
        (["check", "--output", "nowhere/report.txt"], "nowhere/report.txt cannot be written"),
        (["explain", "needs-not-meet"], "The nearest: needs-not-met"),
        (["explain", "qqq"], "None is near"),
        (["chekc"], "No such command"),
    ],
)
def test_wrong_use_ends_with_2_and_says_what_is_wrong(here: Path, words: list[str], hint: str) -> None:
    write("protocols/notes.txt", "x")
    write("alone.yaml", FAILS)
    write("empty-set/clinic.yaml", CLINIC)
    result = run(*words)
    assert result.exit_code == 2
    assert hint in result.stderr.replace("\n", " ")
    assert result.stdout == ""


def test_a_folder_without_a_clinic_is_a_finding(here: Path) -> None:
    write("loose/room.yaml", FAILS)
    result = run("check", "loose")
    assert result.exit_code == 1
    assert "loose/clinic.yaml:1:1  bad-shape" in result.stdout


@pytest.mark.parametrize(
    ("name", "text", "rule"),
    [
        ("clinic.yaml", CLINIC.replace("clinic:", "clinc:"), "bad-shape"),
        ("evidence.yaml", "requirements: [", "bad-yaml"),
        ("parts/laying.yaml", PART.replace("kind: part", "kind: parts"), "bad-shape"),
        ("room.yml", HOLDS, "bad-shape"),
    ],
)
def test_without_a_protocol_errors_of_other_files_are_shown(here: Path, name: str, text: str, rule: str) -> None:
    write("bare/clinic.yaml", CLINIC)
    write(f"bare/{name}", text)
    result = run("check", "bare")
    assert result.exit_code == 1
    assert f"bare/{name}:" in result.stdout
    assert {found for found, _ in told("bare")} == {rule}


def test_without_a_protocol_notes_are_no_report(here: Path) -> None:
    write("bare/clinic.yaml", CLINIC + "surfaces: {lamp: {title: Lamp}}\n")
    write("bare/parts/laying.yaml", PART.replace("{who: role}", "{who: role, cloth: item}"))
    for words in (["bare"], ["bare/clinic.yaml"], ["bare/parts/laying.yaml"]):
        result = run("check", *words)
        assert (result.exit_code, result.stdout) == (2, "")
        assert "There is no protocol in bare." in result.stderr


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\x00",
        b"\xff\xfe\x00",
        b"a: [",
        b"- 1",
        b"kind: protocol\n",
        b"%YAML 9.9\n---\n",
        b"\x1b[2J: 1\n",
        FAILS.encode()[:-9],
    ],
)
def test_bad_files_are_findings_and_never_a_traceback(here: Path, data: bytes) -> None:
    write("protocols/bad.yaml", data)
    for form in ("text", "json"):
        result = run("check", "--format", form)
        assert result.exit_code == 1
        assert "Traceback" not in result.output
        assert "\x1b" not in result.output


def test_the_bound_on_states_is_a_setting_and_reaching_it_an_error(here: Path) -> None:
    assert told("--max-states", "1") == [("not-proved", "protocols/room.yaml")]
    assert run("check", "--max-states", "1").exit_code == 1


def test_the_report_can_go_to_a_file(here: Path) -> None:
    write("protocols/room.yaml", FAILS)
    result = run("check", "--output", "report.txt")
    assert (result.exit_code, result.stdout) == (1, "")
    assert Path("report.txt").read_text(encoding="utf-8") == run("check").stdout


def test_today_decides_what_is_overdue(here: Path) -> None:
    head = "version: 1.0.0\nstatus: approved\nowner: lead\n"
    head += "approved: {by: Board, date: 2026-01-01}\nreview_by: 2026-12-31\n"
    write("protocols/room.yaml", HOLDS.replace("team:", head + "team:"))
    assert told("--today", "2026-12-31") == []
    assert told("--today", "2027-01-01") == [("review-overdue", "protocols/room.yaml")]
    assert told("--today", "2025-12-31") == [("not-approved", "protocols/room.yaml")]


@pytest.mark.parametrize("rule", [rule.name for rule in (*all_rules(), *RULES)])
def test_every_rule_explains_itself(rule: str) -> None:
    result = run("explain", rule)
    assert result.exit_code == 0
    assert result.stdout.startswith(f"{rule} (")
    for heading in ("Why it matters on the floor", "Example", "Instead", "Limits"):
        assert f"\n## {heading}\n" in result.stdout


def test_without_a_rule_all_are_listed_with_one_line_each() -> None:
    lines = run("explain").stdout.splitlines()
    assert [line.split()[0] for line in lines] == sorted(rule.name for rule in (*all_rules(), *RULES))
    assert max(map(len, lines)) <= 140


def test_the_version_is_told() -> None:
    assert run("--version").stdout == f"stepfield, version {__version__}\n"


def process(*words: str, **environment: str) -> subprocess.CompletedProcess[bytes]:
    plugins = str(Path(__file__).parents[2] / "plugins")
    return subprocess.run(
        [sys.executable, "-m", "stepfield.command", *words],
        env={**os.environ, "PYTHONPATH": plugins, **environment},
        capture_output=True,
        check=False,
        timeout=60,
    )


def test_as_a_real_process(here: Path) -> None:
    write("protocols/room.yaml", FAILS)
    done = process("check", "protocols")
    assert done.returncode == 1
    assert done.stderr == b""
    assert b"\x1b" not in done.stdout
    assert b"needs-not-met" in done.stdout


def test_an_output_that_knows_only_ascii_gets_escapes(here: Path) -> None:
    write("protocols/room.yaml", FAILS.replace("Side table", "Tischchen ä").replace("Small room", "Käfig"))
    done = process("check", PYTHONIOENCODING="ascii", PYTHONUTF8="0")
    assert (done.returncode, done.stderr) == (1, b"")
    assert rb"K\xe4fig" in done.stdout


def test_a_clean_check_reads_no_library_it_does_not_need(here: Path) -> None:
    words = "import sys; sys.argv[1:] = ['check']\ntry: main()\nexcept SystemExit: print(sorted(sys.modules))"
    plugins = str(Path(__file__).parents[2] / "plugins")
    done = subprocess.run(
        [sys.executable, "-c", f"from stepfield.command import main\n{words}"],
        env={**os.environ, "PYTHONPATH": plugins},
        capture_output=True,
        text=True,
        check=True,
    )
    loaded = set(done.stdout.splitlines()[-1].strip("[]").replace("'", "").split(", "))
    assert not loaded & {"jsonschema", "difflib", "mkdocs", "jinja2", "stepfield.pages"}


def test_the_commands_are_told_in_a_line_each() -> None:
    text = run("--help").stdout
    assert re.search(r"^  check +Check protocol sets, or single files of them\.$", text, re.MULTILINE)
    assert re.search(r"^  explain +Explain a rule; without RULE, list them all\.$", text, re.MULTILINE)
