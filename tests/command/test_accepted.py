"""Known findings: what is accepted does not count and is shown; what BASE had already is left out on request."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from stepfield.command import main

CLINIC = "clinic: Quillhaven Day Surgery\nroles:\n  scrub: {title: Scrub nurse}\n"
PROTOCOL = """\
kind: protocol
title: Doors
team: [scrub]
packs:
  hand-pack: {holds: {scalpel: {title: Scalpel, sharp: true, reusable: true}}}
phases:
  - phase: room
    title: Prepare the room
    steps:
      - id: take
        role: scrub
        do: Take the scalpel.
        opens: [hand-pack]
        touches: [scalpel]
      - {id: give, role: scrub, do: Hand it over., hands_over: [scalpel]}
"""
ACCEPTED = """\
accepted:
  - rule: caution-missing
    protocol: doors
    step: take
    subject: scalpel
    reason: The wording is with the board.
    by: Infection-control lead
    until: 2026-12-31
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "clinic.yaml").write_text(CLINIC, encoding="utf-8")
    (tmp_path / "doors.yaml").write_text(PROTOCOL, encoding="utf-8")
    return tmp_path


def run(folder: Path, *words: str, day: str = "2026-07-01") -> Result:
    return CliRunner().invoke(main, ["check", str(folder), "--today", day, "--no-cache", *words])


def found(folder: Path, *words: str, day: str = "2026-07-01") -> dict[str, Any]:
    told: dict[str, Any] = json.loads(run(folder, "--format", "json", *words, day=day).stdout)
    return told


def rules(told: dict[str, Any]) -> list[str]:
    return sorted(one["rule"] for one in told["findings"])


def test_an_accepted_finding_does_not_count_and_is_shown_apart(folder: Path) -> None:
    before = run(folder)
    assert before.exit_code == 1
    assert set(found(folder)) == {"findings", "checked"}
    (folder / "accepted.yaml").write_text(ACCEPTED, encoding="utf-8")
    done = run(folder)
    assert done.exit_code == 0, done.output
    assert "Accepted until 2026-12-31 by Infection-control lead:" in done.stdout
    assert "1 finding accepted for a while; not counted below." in done.stdout
    told = found(folder)
    assert rules(told) == []
    (accepted,) = told["accepted"]
    assert (accepted["rule"], accepted["step"], accepted["until"]) == ("caution-missing", "take", "2026-12-31")


def test_of_a_single_file_only_its_own_acceptances_are_told(folder: Path) -> None:
    other = ACCEPTED.removeprefix("accepted:\n").replace("protocol: doors", "protocol: windows")
    (folder / "accepted.yaml").write_text(ACCEPTED + other, encoding="utf-8")
    (folder / "windows.yaml").write_text(PROTOCOL, encoding="utf-8")
    for name in ("doors.yaml", "windows.yaml"):
        done = CliRunner().invoke(main, ["check", str(folder / name), "--today", "2026-07-01", "--no-cache"])
        assert done.exit_code == 0, done.output
        assert "acceptance-needless" not in done.stdout
        assert "1 finding accepted for a while" in done.stdout


def test_past_its_day_it_counts_again_and_both_are_told(folder: Path) -> None:
    (folder / "accepted.yaml").write_text(ACCEPTED, encoding="utf-8")
    assert run(folder, day="2026-12-31").exit_code == 0
    assert run(folder, day="2027-01-01").exit_code == 1
    assert rules(found(folder, day="2027-01-01")) == ["acceptance-expired", "caution-missing"]


@pytest.mark.parametrize(
    ("edit", "why"),
    [
        (("step: take", "step: give"), "it is not found there; this rule finds there: take / scalpel"),
        (("protocol: doors", "protocol: windows"), "there is no protocol 'windows'"),
        (("rule: caution-missing", "rule: caution-mising"), "there is no rule 'caution-mising'"),
        (("rule: caution-missing", "rule: bad-shape"), "that cannot be"),
    ],
)
def test_an_acceptance_for_nothing_is_told_with_the_reason(folder: Path, edit: tuple[str, str], why: str) -> None:
    (folder / "accepted.yaml").write_text(ACCEPTED.replace(*edit), encoding="utf-8")
    told = found(folder)
    assert rules(told) == ["acceptance-needless", "caution-missing"]
    assert why in next(one["message"] for one in told["findings"] if one["rule"] == "acceptance-needless")


def test_a_kept_report_does_not_outlive_the_acceptance(folder: Path, tmp_path: Path) -> None:
    environment = {"XDG_CACHE_HOME": str(tmp_path / "cache")}
    command = ["check", str(folder), "--today", "2026-07-01"]
    assert CliRunner().invoke(main, command, env=environment).exit_code == 1
    (folder / "accepted.yaml").write_text(ACCEPTED, encoding="utf-8")
    for _ in range(2):
        assert CliRunner().invoke(main, command, env=environment).exit_code == 0
    (folder / "accepted.yaml").unlink()
    assert CliRunner().invoke(main, command, env=environment).exit_code == 1


def test_only_new_findings_are_shown_and_fail(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    base = tmp_path_factory.mktemp("base")
    for file in folder.glob("*.yaml"):
        (base / file.name).write_bytes(file.read_bytes())
    done = run(folder, "--new-only", str(base))
    assert done.exit_code == 0, done.output
    assert "Not shown: 1 finding from before." in done.stdout
    (folder / "doors.yaml").write_text(PROTOCOL.replace("        opens: [hand-pack]\n", ""), encoding="utf-8")
    told = found(folder, "--new-only", str(base))
    assert told["known_before"] == 1
    assert "not-available" in rules(told)
    assert "caution-missing" not in rules(told)
    assert run(folder, "--new-only", str(base)).exit_code == 1


def test_new_only_reads_a_commit_and_refuses_what_looks_like_an_option(folder: Path) -> None:
    git = ["git", "-c", "user.name=A. Nurse", "-c", "user.email=nurse@quillhaven.example"]
    for words in (["init", "-q"], ["add", "-A"], ["commit", "-q", "-m", "first"]):
        subprocess.run([*git, *words], cwd=folder, check=True, capture_output=True)
    assert run(folder, "--new-only", "HEAD").exit_code == 0
    done = run(folder, "--new-only", "--output=x")
    assert done.exit_code == 2
    assert "looks like an option" in " ".join(done.output.split())
    assert not (folder / "x").exists()
