"""``stepfield time`` as somebody calls it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from itertools import pairwise
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from stepfield.command import main

ROOT = Path(__file__).parents[2]


def ran(*arguments: str) -> Result:
    return CliRunner().invoke(main, ["time", *arguments, "--set", str(ROOT / "protocols")])


def test_it_tells_the_total_the_path_and_what_is_not_known() -> None:
    result = ran("wrist-release")
    assert result.exit_code == 0, result.output
    for told in (
        "Usually 1 h",
        "What decides the total",
        "Scrub nurse: scrub-scrub.scrub",
        "Field on 'instrument-trolley'",
        "'skin.check-dry' starts 3 min after 'skin.paint'; it waits at least 3 min",
        "nine in ten",
    ):
        assert told in result.output


def test_another_duration_changes_the_total() -> None:
    usual, slow = ran("wrist-release").output, ran("wrist-release", "--takes", "release=30 min").output
    assert "Usually 1 h 38 min" in usual  # added up along the printed path: a change of the protocol changes it
    assert "Usually 2 h," in slow  # 22 minutes more, as the step is on the critical path and took 8


def test_one_role_less_takes_longer_and_says_what_it_does_not_judge() -> None:
    told = ran("wrist-release", "--people", "nurse=scrub,circulating").output
    assert "As written it is 1 h 38 min; so it is" in told
    assert "longer" in told
    assert "Whether asepsis can be kept so is not asked here: `stepfield team` judges that" in told
    assert "'first-count.count'" in told.split("are both needed in")[1]  # its counter and its witness are one person


def small(folder: Path, *steps: str) -> str:
    """The text for a protocol of such steps of one role."""
    (folder / "clinic.yaml").write_text("clinic: Q\nroles: {a: {title: A}}\n", encoding="utf-8")
    written = "".join(
        f"      - {{id: {name}, role: a, do: Go.{more}}}\n" for name, _, more in (s.partition(",") for s in steps)
    )
    head = "kind: protocol\ntitle: T\nteam: [a]\nphases:\n  - phase: p\n    steps:\n"
    (folder / "one.yaml").write_text(head + written.replace("Go. ", "Go., "), encoding="utf-8")
    result = CliRunner().invoke(main, ["time", "one", "--set", str(folder)])
    assert result.exit_code == 0, result.output
    return result.output


def test_what_is_not_known_is_said(tmp_path: Path) -> None:
    assert "not known: no step says a duration" in small(tmp_path, "one", "two")
    assert "1 of 2 steps says no duration" in small(tmp_path, "one, takes: 3 min", "two")


def test_limits_are_told_with_how_often_they_are_kept(tmp_path: Path) -> None:
    limit = "three, takes: 1 min, within: [{of: one, at_most: MOST}]"
    slow = ("one", "two, takes: {least: 1 min, likely: 2 min, most: 9 min}")
    told = small(tmp_path, *slow, limit.replace("MOST", "4 min"))
    assert "'three' ends 3 min after 'one'; allowed are 4 min, kept in" in told
    assert "of 10,000 draws" in told
    assert "allowed are 1 min and can't be kept, kept in 0 of" in small(tmp_path, *slow, limit.replace("MOST", "1 min"))


def test_other_programs_get_the_same_numbers() -> None:
    found = json.loads(ran("wrist-release", "--people", "nurse=scrub,circulating", "--format", "json").output)
    starts = {one["step"]: one["starts"] for one in found["steps"]}
    ends = {one["step"]: one["ends"] for one in found["steps"]}
    assert max(ends.values()) == found["total"]["usual"] > found["total"]["as_written"]
    assert [who["roles"] for who in found["people"] if who["who"] == "nurse"] == [["scrub", "circulating"]]
    mine = sorted(
        (one["starts"], one["ends"]) for one in found["steps"] if {one["role"], *one["with"]} & {"scrub", "circulating"}
    )
    assert all(end <= start for (_, end), (start, _) in pairwise(mine)), "nobody does two things at once"
    for one in found["standing"]:
        assert one["before_use"] == round(max(0, starts[one["first_used_by"]] - ends[one["opened_by"]]), 2)
    assert found["draws"] == 10_000
    assert ran("wrist-release", "--format", "json").output == ran("wrist-release", "--format", "json").output


def test_without_the_library_for_drawing_all_else_is_told(tmp_path: Path) -> None:
    """A module of the same name that can't be imported stands before the library."""
    (tmp_path / "numpy.py").write_text("raise ImportError('not installed')\n", encoding="utf-8")
    command = (sys.executable, "-c", "from stepfield.command import main; main()", "time", "wrist-release", "--set")
    path = os.pathsep.join((str(tmp_path), str(ROOT / "plugins")))
    told = subprocess.run(
        [*command, str(ROOT / "protocols")],
        env={**os.environ, "PYTHONPATH": path}, capture_output=True, text=True, timeout=120, check=True,
    ).stdout  # fmt: skip
    assert "pip install 'stepfield[planner]'" in told
    assert "Usually 1 h 38 min" in told
    assert "nine in ten" not in told


def test_choices_are_settled_by_name() -> None:
    result = ran("wrist-release", "--choose", "draping=two-sheet")
    assert "draping: two-sheet" in result.output


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["wrist"], "known are"),
        (["wrist-release", "--choose", "drapin=x"], "Nothing is settled by"),
        (["wrist-release", "--choose", "draping=three"], "known are: one-sheet, two-sheet"),
        (["wrist-release", "--choose", "draping"], "CHOICE=OPTION"),
        (["wrist-release", "--takes", "release=30"], "no step of wrist-release with a time"),
        (["wrist-release", "--takes", "nothing=3 min"], "no step of wrist-release with a time"),
        (["wrist-release", "--people", "nurse"], "NAME=ROLE,ROLE"),
        (["wrist-release", "--people", "nurse=scrub"], "two roles or more"),
        (["wrist-release", "--people", "nurse=scrub,porter"], "no role 'porter'"),
        (["wrist-release", "--people", "surgeon=scrub,circulating"], "somebody else already"),
        (["wrist-release", "--people", "n=scrub,circulating", "--people", "m=surgeon,scrub"], "can't both be 'scrub'"),
    ],
)
def test_what_makes_no_sense_is_refused_in_words(arguments: list[str], told: str) -> None:
    result = ran(*arguments)
    assert result.exit_code == 2
    assert told in " ".join(result.output.split())
