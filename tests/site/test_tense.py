"""What somebody has done once a step is over; quoted instead where it can't be said safely."""

from __future__ import annotations

import re

import pytest

from stepfield.pages import tense
from stepfield.pages.tense import has_done


@pytest.mark.parametrize(
    ("do", "done"),
    [
        ("Open the gown pack and hold it out, touching only the wrapper.", "opened the gown pack"),
        ("Wipe the trolley from top to bottom.", "wiped the trolley from top to bottom"),
        ("Scrub each hand for two minutes: fingers, palm.", "scrubbed each hand for two minutes"),
        ("Dry your hands.", "dried their hands"),
        ("Lay the scalpel and the swabs on the tray.", "laid the scalpel and the swabs on the tray"),
        ("Spread the cover; let it hang.", "spread the cover"),
        ("Put on the gloves.", "put on the gloves"),
        ("Step up to the table.", "stepped up to the table"),
        ("Check the inside indicator as you open the set.", "checked the inside indicator"),
        ("Fetch the pack, then open it.", "fetched the pack"),
        ("Pour saline\n  into the pot", "poured saline into the pot"),
    ],
)
def test_a_command_turns_into_what_has_been_done(do: str, done: str) -> None:
    assert has_done(do) == done


@pytest.mark.parametrize(
    "do",
    [
        "With your hands inside the sleeves, draw on each glove.",
        "Wait.",
        "Do not touch the table.",
        "Hand the tray you opened over.",
        "Zap the table.",
        "",
        "   ",
        "...",
        "While the surgeon lifts the arm, cover the table.",
    ],
)
def test_what_can_not_be_said_safely_is_left_to_be_quoted(do: str) -> None:
    assert has_done(do) is None


def test_other_languages_are_quoted() -> None:
    assert has_done("Open the pack.", "en-GB") == "opened the pack"
    assert has_done("Open the pack.", "de") is None


def test_no_verb_stands_in_two_lists_or_twice() -> None:
    regular, doubled = (re.findall(r"\w+", text) for text in (tense._REGULAR, tense._DOUBLED))
    own = re.findall(r"(\w+):", tense._IRREGULAR)
    every = regular + doubled + own
    assert sorted(every) == sorted(set(every))
