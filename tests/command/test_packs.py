"""``stepfield packs`` as somebody calls it."""

from __future__ import annotations

import json
from pathlib import Path

import openpyxl
import pytest
from click.testing import CliRunner, Result

from stepfield.command import main

ROOT = Path(__file__).parents[2]
PLAN = """\
cases:
  - {protocol: wrist-release, choose: {draping: one-sheet}, per_week: 6}
  - {protocol: wrist-release, choose: {draping: two-sheet}, per_week: 2}
costs: {opening: 3, thrown_away: 1}
"""


def ran(*arguments: str) -> Result:
    return CliRunner().invoke(main, ["packs", *arguments, "--set", str(ROOT / "protocols")])


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    path = tmp_path / "plan.yaml"
    path.write_text(PLAN, encoding="utf-8")
    return path


def test_the_plan_of_the_demonstration_set_is_answered_and_compared() -> None:
    result = ran()
    assert result.exit_code == 0, result.output
    for told in ("Kinds of packs kept", "today      proposed", "proved", "base pack", "add-on", "`stepfield check`"):
        assert told in result.output


def test_today_is_judged_by_the_same_measure(plan: Path) -> None:
    # Today: eight cases a week open hand pack, instrument set and surgeon's pack: 24. Thrown away are the two split
    # sheets six times and the sheet with a hole twice: 14. Weights 3 and 1: 72 + 14.
    found = json.loads(ran(str(plan), "--format", "json").output)
    assert found["today"] == {
        "kinds": 3, "opened": 24, "thrown_away": 14, "reprocessed_unused": 0, "sharp_unused": 0, "cost": 86,
    }  # fmt: skip
    assert found["proved"]
    assert found["proposed"]["cost"] == 86  # reusables lie apart as today, so with three packs there is no better


def test_more_kinds_of_packs_save_what_is_thrown_away(plan: Path) -> None:
    plan.write_text(PLAN + "most_packs: 4\n", encoding="utf-8")
    result = ran(str(plan), "--format", "json")
    found = json.loads(result.output)
    assert found["proposed"]["cost"] == 72
    assert found["proposed"]["thrown_away"] == 0
    held = [{one["title"] for one in pack["holds"]} for pack in found["packs"]]
    assert not any({"Sheet with a hole", "Split sheets"} <= pack for pack in held)


def test_too_few_packs_are_told_as_such(plan: Path) -> None:
    plan.write_text(PLAN + "most_packs: 1\n", encoding="utf-8")
    result = ran(str(plan))
    assert result.exit_code == 1
    assert "There are no packs that meet every need with at most 1 kinds of packs: proved." in result.output


def test_tables_are_written(plan: Path, tmp_path: Path) -> None:
    result = ran(str(plan), "--csv", str(tmp_path / "p.csv"), "--xlsx", str(tmp_path / "p.xlsx"))
    assert result.exit_code == 0, result.output
    assert "Kinds of packs kept" in (tmp_path / "p.csv").read_text("utf-8-sig")
    assert openpyxl.load_workbook(tmp_path / "p.xlsx").sheetnames == ["Compared", "Proposed packs"]


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (("wrist-release", "wrist-relase"), ":2:16  unknown-name  No protocol is called 'wrist-relase'"),
        (("one-sheet", "one-shet"), ":2:49  unknown-name  No option of draping is called 'one-shet'"),
        (("draping: one", "drapin: one"), ":2:40  unknown-name  No choice of wrist-release is called 'drapin'"),
        (("opening: 3", "opening: -3"), ":4:18  bad-shape  'opening' under 'costs' must be a number from 0 to 10000"),
        (("per_week: 6", "per_week: 0"), ":2:71  bad-shape  'per_week' must be a number from 0.01"),
        (("per_week: 6", "per_week: often"), "bad-shape"),
        (("thrown_away: 1", "thrownaway: 1"), "the nearest is 'thrown_away'"),
        (("costs:", "costs: &x"), "bad-yaml"),
    ],
)
def test_what_is_wrong_in_a_plan_is_told_at_its_line(plan: Path, change: tuple[str, str], told: str) -> None:
    plan.write_text(PLAN.replace(*change, 1), encoding="utf-8")
    result = ran(str(plan))
    assert result.exit_code == 1
    assert told in result.output
    assert "plan.yaml" in result.output


def test_a_plan_that_is_not_there_is_wrong_usage(tmp_path: Path) -> None:
    result = ran(str(tmp_path / "none.yaml"))
    assert result.exit_code == 2
    assert "cannot be read" in result.output


def test_a_plan_in_the_set_is_checked_with_it(tmp_path: Path) -> None:
    for name in ("clinic.yaml", "toenail.yaml", "evidence.yaml"):
        (tmp_path / name).write_bytes((ROOT / "protocols" / name).read_bytes())
    (tmp_path / "parts").mkdir()
    for part in (ROOT / "protocols" / "parts").iterdir():
        (tmp_path / "parts" / part.name).write_bytes(part.read_bytes())
    text = "cases: [{protocol: tonail, per_week: 1}]\ncosts: {opening: 1, thrown_away: 1}\n"
    (tmp_path / "packs.yaml").write_text(text, encoding="utf-8")
    result = CliRunner().invoke(main, ["check", str(tmp_path), "--no-cache"])
    assert result.exit_code == 1
    assert "packs.yaml:1:20  unknown-name  No protocol is called 'tonail'" in result.output
