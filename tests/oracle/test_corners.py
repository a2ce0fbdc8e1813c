"""Corners that chance seldom visits, told alike by the engine and the second reading."""

from __future__ import annotations

from typing import Any

import pytest

from tests.oracle.agreement import differences, second_opinion

Step = dict[str, Any]
LOOKS = ("clean", "disinfected", "sterile")


def case(*steps: Step) -> dict[str, Any]:
    """A protocol of one phase; steps without a role are the scrub's."""
    protocol = {
        "kind": "protocol",
        "title": "A corner",
        "team": ["scrub", "runner"],
        "surfaces": {"table": {"starts": "clean"}},
        "sites": {"skin": {"starts": "disinfected"}},
        "items": {
            "cloth": {"starts": "sterile"},
            "sheet": {"starts": "sterile"},
            "paint": {"hazard": "fire"},
            "stain": {"hazard": "fire"},
        },
        "phases": [{"phase": "all", "steps": [{"role": "scrub", "do": "Do it.", **step} for step in steps]}],
    }
    clinic = {"clinic": "Quillhaven Day Surgery", "roles": {"scrub": {}, "runner": {}}}
    dries = {"text": "Let it dry.", "source": "invented", "limit": {"at_least": "3 min"}}
    return {"clinic": clinic, "protocol": protocol, "evidence": {"requirements": {"dries": dries}}}


def agreed(*steps: Step) -> set[tuple[str, str | None]]:
    """Rule and step of every slip, when both tell the same."""
    assert differences(case(*steps)) == []
    (verdicts,) = second_opinion(case(*steps)).verdicts.values()
    return {(rule, step) for rule, step, _ in verdicts if rule != "left-on"}


@pytest.mark.parametrize(("place", "under"), [("table", "clean"), ("skin", "sterile")])
@pytest.mark.parametrize("level", LOOKS)
def test_a_wet_cover_falls_to_what_lies_under_it(place: str, under: str, level: str) -> None:
    """Over prepared skin it stays sterile, as prepared skin counts as sterile."""
    slips = agreed(
        {"id": "ready", "makes": {"scrub.hands": "sterile"}},
        {"id": "spread", "covers": {place: "cloth"}},
        {"id": "spill", "wets": [place]},
        {"id": "look", "needs": {place: level}},
    )
    assert slips == ({("needs-not-met", "look")} if LOOKS.index(level) > LOOKS.index(under) else set())


def test_a_wet_cover_over_another_cover_falls_to_that_one() -> None:
    slips = agreed(
        {"id": "ready", "makes": {"scrub.hands": "sterile"}},
        {"id": "spread", "covers": {"table": "cloth"}},
        {"id": "spread-more", "covers": {"table": "sheet"}},
        {"id": "spill", "wets": ["table"]},
        {"id": "look", "needs": {"table": "sterile"}},
    )
    assert slips == set()


def test_a_wait_dries_only_the_use_it_names() -> None:
    slips = agreed(
        {"id": "paint", "uses": {"paint": "skin"}, "makes": {"skin": "clean"}, "meets": ["dries"]},
        {"id": "stain", "uses": {"stain": "skin"}, "makes": {"skin": "clean"}, "meets": ["dries"]},
        {"id": "wait", "waits": [{"for": "paint", "at_least": "3 min"}]},
        {"id": "spark", "ignition": True},
    )
    assert ("fire-risk", "spark") in slips


def test_what_was_told_as_wet_counts_as_dry_at_the_next_spark() -> None:
    slips = agreed(
        {"id": "paint", "uses": {"paint": "skin"}, "makes": {"skin": "clean"}},
        {"id": "spark", "ignition": True},
        {"id": "next-spark", "ignition": True},
    )
    assert ("fire-risk", "spark") in slips
    assert ("fire-risk", "next-spark") not in slips


def test_an_answer_taken_back_by_a_repeat_is_no_answer_any_more() -> None:
    """The second time round the inner question is passed over; what hangs on its answer must not be done."""
    first = {"question": "Which?", "answers": ["left", "right"]}
    slips = agreed(
        {"id": "outer", "asks": first},
        {"id": "inner", "when": {"outer": "left"}, "asks": {"question": "Whole?", "answers": ["yes", "no"]}},
        {
            "id": "gate",
            "asks": {"question": "Again?", "answers": ["again", "on"]},
            "repeat": {"from": "outer", "answer": "again"},
        },
        {"id": "hangs-on-it", "when": {"inner": "yes", "outer": "left"}, "confirms": ["said"]},
        {"id": "late", "when": {"inner": "yes"}, "requires": ["said"]},
    )
    assert slips == set()
