"""``stepfield time`` as somebody calls it."""

from __future__ import annotations

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
        "say no duration",
        "nine in ten",
    ):
        assert told in result.output


def test_another_duration_changes_the_total() -> None:
    usual, slow = ran("wrist-release").output, ran("wrist-release", "--takes", "release=30 min").output
    assert "Usually 1 h 27 min" in usual  # added up along the printed path: a change of the protocol changes it
    assert "Usually 1 h 49 min" in slow  # 22 minutes more, as the step is on the critical path and took 8


def test_choices_are_settled_by_name() -> None:
    result = ran("wrist-release", "--choose", "draping=two-sheet")
    assert "draping: two-sheet" in result.output


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["wrist"], "known are"),
        (["wrist-release", "--choose", "drapin=x"], "Nothing is settled by"),
        (["wrist-release", "--choose", "draping=three"], "no scenario"),
        (["wrist-release", "--choose", "draping"], "CHOICE=OPTION"),
        (["wrist-release", "--takes", "release=30"], "no step of wrist-release with a time"),
        (["wrist-release", "--takes", "nothing=3 min"], "no step of wrist-release with a time"),
    ],
)
def test_what_makes_no_sense_is_refused_in_words(arguments: list[str], told: str) -> None:
    result = ran(*arguments)
    assert result.exit_code == 2
    assert told in " ".join(result.output.split())
