"""Three pauses, nineteen items: each pause holds up what follows until all of its items are confirmed.

Source: WHO Surgical Safety Checklist (2009 edition); the items in own words. Seven before induction, seven before
incision, five before leaving the room, nineteen together; each phase blocks the next until all its items are confirmed
(SC-WHO in sources.yaml).
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.outside.cases import findings_of, told

PAUSES: dict[str, tuple[str, ...]] = {
    "induce": (
        "identity-site-procedure-consent",
        "site-marked",
        "machine-and-drugs-checked",
        "oximeter-works",
        "allergy-asked",
        "airway-risk-asked",
        "blood-loss-risk-asked",
    ),
    "incise": (
        "everyone-introduced",
        "patient-site-procedure-agreed",
        "surgeon-foresees",
        "anaesthesia-foresees",
        "nursing-foresees",
        "antibiotic-given",
        "images-shown",
    ),
    "leave": (
        "procedure-recorded",
        "counts-complete",
        "specimen-labelled",
        "equipment-problems-told",
        "recovery-concerns-told",
    ),
}
ITEMS = [(held_up, item) for held_up, items in PAUSES.items() for item in items]


def protocol(pauses: dict[str, tuple[str, ...]], order: list[str] | None = None) -> dict[str, Any]:
    """A phase a pause: the coordinator asks and confirms, then the surgeon goes on with what the pause holds up."""
    phases = []
    for held_up in order or list(PAUSES):
        pause = {
            "id": f"pause-before-{held_up}",
            "role": "coordinator",
            "with": ["surgeon"],
            "do": "Ask aloud, item by item, and wait for each answer.",
            "confirms": list(pauses[held_up]),
        }
        following = {"id": held_up, "role": "surgeon", "do": "Go on.", "requires": list(PAUSES[held_up])}
        phases.append({"phase": f"phase-{held_up}", "steps": [pause, following]})
    return {"kind": "protocol", "title": "Three pauses", "team": ["coordinator", "surgeon"], "phases": phases}


def test_there_are_seven_seven_and_five_items() -> None:
    assert [len(items) for items in PAUSES.values()] == [7, 7, 5]
    assert len({item for _, item in ITEMS}) == 19


def test_all_items_confirmed_in_their_pause_is_right() -> None:
    assert told(findings_of(protocol(PAUSES))) == frozenset()


@pytest.mark.parametrize(("held_up", "item"), ITEMS, ids=[item for _, item in ITEMS])
def test_a_forgotten_item_holds_up_what_follows(held_up: str, item: str) -> None:
    without = {**PAUSES, held_up: tuple(other for other in PAUSES[held_up] if other != item)}
    assert told(findings_of(protocol(without))) == {f"fact-missing at {held_up} on {item}"}


@pytest.mark.parametrize("held_up", PAUSES)
def test_going_on_before_the_pause_misses_every_item_of_it(held_up: str) -> None:
    late = protocol(PAUSES)
    phase = next(phase for phase in late["phases"] if phase["phase"] == f"phase-{held_up}")
    phase["steps"].reverse()
    assert told(findings_of(late)) == {f"fact-missing at {held_up} on {item}" for item in PAUSES[held_up]}


@pytest.mark.parametrize("held_up", PAUSES)
def test_going_on_without_joining_the_pause_can_come_too_early(held_up: str) -> None:
    """The surgeon does not take part: in some order the work goes on while the coordinator is still asking."""
    alone = protocol(PAUSES)
    phase = next(phase for phase in alone["phases"] if phase["phase"] == f"phase-{held_up}")
    del phase["steps"][0]["with"]
    assert told(findings_of(alone)) == {f"sometimes fact-missing at {held_up} on {item}" for item in PAUSES[held_up]}


def test_a_confirmation_of_the_wrong_pause_does_not_count() -> None:
    """Each pause is its own: the items of one do not stand in for those of another."""
    shifted = {"induce": PAUSES["incise"], "incise": PAUSES["induce"], "leave": PAUSES["leave"]}
    expected = {f"fact-missing at induce on {item}" for item in PAUSES["induce"]}
    assert told(findings_of(protocol(shifted))) == expected


def test_an_item_answered_no_can_be_asked_again_but_not_passed_over() -> None:
    """The pause repeats until the answer is yes; without the repeat, a no is found with the answer named."""
    asking = protocol(PAUSES)
    pause, going_on = asking["phases"][1]["steps"]
    pause |= {"asks": {"question": "All agreed?", "answers": ["open", "agreed"]}, "confirms": []}
    agreed = {
        "id": "agreed",
        "role": "surgeon",
        "do": "Say so.",
        "when": {pause["id"]: "agreed"},
        "confirms": list(PAUSES["incise"]),
    }
    asking["phases"][1]["steps"] = [pause, agreed, going_on]
    missing = {f"fact-missing at incise on {item} if {pause['id']}=open" for item in PAUSES["incise"]}
    assert told(findings_of(asking)) == missing
    pause["repeat"] = {"from": pause["id"], "answer": "open"}
    assert told(findings_of(asking)) == frozenset()
