"""``stepfield things`` as somebody calls it."""

from __future__ import annotations

import json
from pathlib import Path

import openpyxl
import pytest
from click.testing import CliRunner, Result

from stepfield.command import main

ROOT = Path(__file__).parents[2]


def ran(*arguments: str) -> Result:
    return CliRunner().invoke(main, ["things", *arguments, "--set", str(ROOT / "protocols")])


def test_it_lists_what_each_way_needs_and_what_is_worth_a_look() -> None:
    told = ran("wrist-release").output
    assert "With draping: one-sheet:" in told
    assert "With draping: two-sheet:" in told
    assert "Sheet with a hole ('hole-sheet'), in Hand-surgery pack ('hand-pack'), is opened and not used" in told
    assert "nothing else is known to be needed" in told


def test_json_says_the_same() -> None:
    found = json.loads(ran("wrist-release", "--choose", "draping=one-sheet", "--format", "json").output)
    assert found["complete"]
    assert [one["choices"] for one in found["lists"]] == [{"draping": "one-sheet"}]
    assert {(one["kind"], one["thing"]) for one in found["remarks"]} >= {("idle-here", "hole-sheet")}
    swabs = next(one for one in found["lists"][0]["things"] if one["name"] == "swabs")
    assert (swabs["count"], swabs["pack"], swabs["in_any_case"]) == (10, "hand-pack", True)


def test_a_shorter_time_to_stand_open_tells_of_the_pack() -> None:
    assert "longer than the 5 min: open it later" in ran("toenail", "--open-for", "5 min").output
    assert "open it later" not in ran("toenail").output


def test_a_day_is_added_up() -> None:
    result = ran("--day", "monday")
    assert result.exit_code == 0
    assert "Hand-surgery pack    2, 4 spare  (cases 1 and 3)" in result.output
    found = json.loads(ran("--day", "monday", "--format", "json").output)
    assert len(found["cases"]) == 3
    assert next(one for one in found["things"] if one["name"] == "hand-pack")["count"] == 2


def test_tables_are_written(tmp_path: Path) -> None:
    result = ran("wrist-release", "--csv", str(tmp_path / "t.csv"), "--xlsx", str(tmp_path / "t.xlsx"))
    assert result.exit_code == 0, result.output
    assert "hand-pack" in (tmp_path / "t.csv").read_text("utf-8-sig")
    book = openpyxl.load_workbook(tmp_path / "t.xlsx")
    assert book.sheetnames == ["Things", "Worth a look"]
    assert ran("--day", "monday", "--csv", str(tmp_path / "d.csv")).exit_code == 0
    assert "Excision pack" in (tmp_path / "d.csv").read_text("utf-8-sig")


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        ([], "Name a protocol, or a day"),
        (["wrist-release", "--day", "monday"], "Name a protocol, or a day"),
        (["wrist"], "known are"),
        (["--day", "friday"], "There is no day 'friday' in screens.yaml; known are: monday"),
        (["--day", "monday", "--choose", "draping=one-sheet"], "stands in screens.yaml"),
        (["wrist-release", "--choose", "drape=x"], "There is no choice 'drape'; known are: draping"),
        (["wrist-release", "--choose", "draping=x"], "has no option 'x'"),
        (["wrist-release", "--choose", "draping"], "CHOICE=OPTION"),
        (["wrist-release", "--open-for", "soon"], "no time such as 30 min"),
        (["wrist-release", "--csv", "/nowhere/at/all.csv"], "cannot be written"),
    ],
)
def test_what_makes_no_sense_is_refused_in_words(arguments: list[str], told: str) -> None:
    result = ran(*arguments)
    assert result.exit_code == 2
    assert told in " ".join(result.output.split())
