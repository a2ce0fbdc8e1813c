"""``stepfield team`` as somebody calls it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from stepfield.command import main
from stepfield.language import read_set
from stepfield.planning.teams import teams_of
from stepfield.reports.teams import teams_entry, teams_from

ROOT = Path(__file__).parents[2]
CLINIC = """
clinic: Quillhaven Day Surgery
roles: {scrub: {title: Scrub nurse}, runner: {title: Runner}, surgeon: {title: Surgeon}}
surfaces: {table: {title: Work table, starts: clean}}
"""
CASE = """
kind: protocol
title: A small case
purpose: Shows one thing.
version: 1.0.0
status: draft
owner: infection-control lead
team: [scrub, runner]
phases:
  - phase: all
    steps:
      - {id: use, role: scrub, do: Use the table., needs: {table: clean}, takes: 2 min}
      - {id: spoil, role: runner, do: Empty the bin over the table., contaminates: [table], takes: 3 min}
      - {id: talk, role: runner, do: Talk., {question}takes: 1 min}
"""


def ran(*arguments: str, folder: Path = ROOT / "protocols") -> Result:
    return CliRunner().invoke(main, ["team", *arguments, "--set", str(folder)])


def written(folder: Path, case: str = CASE.replace("{question}", "")) -> Path:
    (folder / "clinic.yaml").write_text(CLINIC, encoding="utf-8")
    (folder / "small.yaml").write_text(case, encoding="utf-8")
    return folder


def test_each_size_has_its_time_or_its_reasons() -> None:
    result = ran("wrist-release")
    assert result.exit_code == 0, result.output
    for told in (
        "Team of 2: impossible",
        "one person would have to be sterile and not",
        "takes two of one person's roles at the same moment",
        "Team of 3: 1 h",
        "The smallest team has 3 people.",
        "no word on safety",
    ):
        assert told in result.output


def test_an_order_to_mind_is_told(tmp_path: Path) -> None:
    """By hand: one person takes 2 + 3 + 1 minutes; two as well, as the table must be used before it is spoilt."""
    result = ran("small", folder=written(tmp_path))
    assert result.exit_code == 0, result.output
    assert "Team of 1: 6 min" in result.output
    assert "Team of 2: 6 min" in result.output
    assert result.output.count("For example: use, spoil, talk.") == 2
    assert "The smallest team has 1 person." in result.output


def test_the_team_of_the_clinic_is_marked_and_changes_nothing(tmp_path: Path) -> None:
    plain = ran("small", folder=written(tmp_path)).output
    clinic = tmp_path / "clinic.yaml"
    clinic.write_text(CLINIC + "people: {nurse: [runner, surgeon, scrub]}\n", encoding="utf-8")
    marked = ran("small", folder=tmp_path).output
    mark = "    This is the team that the clinic has put down.\n"
    assert marked.count(mark) == 1
    assert marked.index("Team of 1") < marked.index(mark) < marked.index("Team of 2")
    assert marked.replace(mark, "") == plain


def test_programs_get_everything(tmp_path: Path) -> None:
    told = json.loads(ran("small", "--format", "json", folder=written(tmp_path)).output)
    assert told["protocol"] == "small"
    assert told["smallest"] == 1
    assert [team["people"] for team in told["teams"]] == [[["scrub", "runner"]], [["scrub"], ["runner"]]]
    assert {(team["seconds"]["least"], team["seconds"]["most"]) for team in told["teams"]} == {(360.0, 360.0)}
    reasons = json.loads(ran("wrist-release", "--format", "json").output)["teams"][0]["scenarios"][0]["reasons"]
    assert [reason["kind"] for reason in reasons] == ["at-once", "asepsis"]


def test_nothing_is_lost_in_plain_data() -> None:
    found = read_set(ROOT / "protocols")
    for protocol in found.protocols:
        teams = teams_of(protocol, found.requirements, None)
        assert teams_from(json.loads(json.dumps(teams_entry(teams)))) == teams


@pytest.mark.parametrize(
    ("case", "told"),
    [
        (CASE.replace("{question}", "after: [nowhere], "), "declared nowhere"),
        (CASE.replace("{question}", "after: [talk], "), "in a loop"),
        (CASE.replace("{question}", "when: {use: yes}, ").replace("Use the table.,", "Use it., asks: {question: Q, "
         "answers: ['yes', 'no']},"), "an answer that may be given later"),
    ],
)  # fmt: skip
def test_what_must_be_mended_first_is_said(tmp_path: Path, case: str, told: str) -> None:
    result = ran("small", folder=written(tmp_path, case))
    assert result.exit_code == 2
    assert told in " ".join(result.output.split())


def test_an_unknown_protocol_is_told_with_those_there_are() -> None:
    result = ran("wrist")
    assert result.exit_code == 2
    assert "known are: skin-lesion" in " ".join(result.output.split())
