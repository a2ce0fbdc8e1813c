"""A small sensible case with a few changes: here slips come from how steps work together."""

from __future__ import annotations

import copy
from typing import Any

from hypothesis import strategies as st

from tests.oracle.naive import EFFECTS
from tests.oracle.small_protocols import REQUIREMENTS, Case, Draw, ancestors, probe

CASE: Case = {
    "clinic": {
        "clinic": "Quillhaven Day Surgery",
        "roles": {"scrub": {}, "surgeon": {}, "runner": {}},
        "surfaces": {"trolley": {}},
    },
    "evidence": {"requirements": REQUIREMENTS},
    "protocol": {
        "kind": "protocol",
        "title": "A small whole case",
        "team": ["scrub", "surgeon", "runner"],
        "choices": {"way": {"options": {"draped": "With a sheet", "bare": "Without"}}},
        "surfaces": {"table": {}},
        "sites": {"skin": {}, "thigh": {}},
        "items": {"box": {"sharps": True}, "paint": {"hazard": "fire"}, "mask": {"worn_on": "face", "starts": "clean"}},
        "packs": {
            "kit": {
                "holds": {
                    "sheet": {"barrier": "fluid-proof"},
                    "cloth": {},
                    "gauze": {"counted": True},
                    "blade": {"sharp": True},
                    "glove-pack": {
                        "holds": {
                            "gloves": {"worn_on": "hands"},
                            "gown": {"worn_on": "body"},
                            "second-gloves": {"worn_on": "hands"},
                        }
                    },
                }
            }
        },
        "phases": [],
    },
}
EVERYTHING = [
    *(
        "table",
        "trolley",
        "skin",
        "thigh",
        "box",
        "paint",
        "mask",
        "sheet",
        "cloth",
        "gauze",
        "blade",
        "gloves",
        "gown",
    ),
    *(f"{role}.{part}" for role in CASE["protocol"]["team"] for part in ("hands", "body", "face")),
]
PHASES: list[list[dict[str, Any]]] = [
    [
        {"id": "open", "role": "runner", "opens": ["kit", "glove-pack"], "confirms": ["opened"]},
        {"id": "wash", "role": "scrub", "dons": ["mask"], "makes": {"scrub.hands": "disinfected"}},
        {"id": "gown", "role": "scrub", "after": ["open"], "requires": ["opened"], "dons": ["gown", "gloves"]},
        {"id": "rub", "role": "surgeon", "makes": {"surgeon.hands": "disinfected"}},
        {
            "id": "glove",
            "role": "scrub",
            "with": ["surgeon"],
            "sterile": True,
            "covers": {"surgeon.hands": "second-gloves"},
        },
        {"id": "drape", "role": "scrub", "sterile": True, "covers": {"table": "cloth"}, "when": {"way": "draped"}},
        {
            "id": "wipe",
            "role": "runner",
            "makes": {"table": "sterile"},
            "when": {"way": "bare"},
            "asks": {"question": "Dry?", "answers": ["wet", "dry"]},
        },
        {
            "id": "set-out",
            "role": "scrub",
            "after": ["wipe"],
            "lays": {"blade": "table", "gauze": "table"},
            "counts": ["gauze"],
        },
    ],
    [
        {
            "id": "paint",
            "role": "runner",
            "uses": {"paint": "skin"},
            "makes": {"skin": "disinfected", "thigh": "disinfected"},
            "meets": ["dry-long"],
        },
        {"id": "spread", "role": "scrub", "after": ["paint"], "covers": {"thigh": "sheet"}},
        {"id": "pass", "role": "scrub", "passes": {"blade": "surgeon"}},
        {
            "id": "cut",
            "role": "surgeon",
            "after": ["pass", "spread"],
            "uses": {"blade": "skin", "gauze": "skin"},
            "soils": ["skin", "surgeon.hands"],
        },
        {
            "id": "seal",
            "role": "surgeon",
            "ignition": True,
            "waits": [{"for": "paint", "at_least": "3 min"}],
            "makes": {"skin": "clean"},
        },
        {"id": "count", "role": "runner", "after": ["seal"], "counts": ["gauze"], "ends_field": True},
    ],
    [
        {"id": "tidy", "role": "scrub", "uncovers": ["thigh", "table"], "discards": {"blade": "box"}},
        {
            "id": "strip",
            "role": "surgeon",
            "doffs": ["second-gloves"],
            "discards": ["second-gloves"],
            "makes": {"surgeon.hands": "clean"},
        },
        {"id": "waste", "role": "scrub", "discards": ["gauze", "sheet", "cloth"], "doffs": ["gown", "gloves", "mask"]},
    ],
]


@st.composite
def near_sensible(draw: Draw) -> Case:
    """The whole case, some of its phases, with up to four changes."""
    case = copy.deepcopy(CASE)
    phases = copy.deepcopy(draw(st.sampled_from((PHASES, PHASES[:1], PHASES[:2], PHASES[1:]))))
    for _ in range(draw(st.integers(1, 4))):
        draw(st.sampled_from((leave_out, swap, give_away, forget, move_effect, ask_again)))(draw, phases)
    left = [phase for phase in phases if phase]
    if left and draw(st.booleans()):
        left[-1].append(probe(draw, CASE["protocol"]["team"], EVERYTHING))
    case["protocol"]["phases"] = [{"phase": f"p{number}", "steps": steps} for number, steps in enumerate(left)]
    made_whole(case["protocol"])
    return case


def any_step(draw: Draw, phases: list[list[dict[str, Any]]]) -> tuple[list[dict[str, Any]], int]:
    """A phase that has steps, and the place of one of them."""
    phase = draw(st.sampled_from([phase for phase in phases if len(phase) > 1] or [[{"id": "none", "role": "scrub"}]]))
    return phase, draw(st.integers(0, len(phase) - 1))


def leave_out(draw: Draw, phases: list[list[dict[str, Any]]]) -> None:
    phase, place = any_step(draw, phases)
    del phase[place]


def swap(draw: Draw, phases: list[list[dict[str, Any]]]) -> None:
    phase, place = any_step(draw, phases)
    phase.insert(draw(st.integers(0, len(phase) - 1)), phase.pop(place))


def give_away(draw: Draw, phases: list[list[dict[str, Any]]]) -> None:
    phase, place = any_step(draw, phases)
    phase[place]["role"] = draw(st.sampled_from(CASE["protocol"]["team"]))


def forget(draw: Draw, phases: list[list[dict[str, Any]]]) -> None:
    phase, place = any_step(draw, phases)
    fields = sorted(set(phase[place]) - {"id", "role"})
    if fields:
        del phase[place][draw(st.sampled_from(fields))]


def move_effect(draw: Draw, phases: list[list[dict[str, Any]]]) -> None:
    (phase, place), (other, there) = any_step(draw, phases), any_step(draw, phases)
    fields = sorted(set(phase[place]) & {*EFFECTS, "waits", "when", "ends_field", "confirms", "ignition"})
    if fields:
        field = draw(st.sampled_from(fields))
        other[there][field] = phase[place].pop(field)


def ask_again(draw: Draw, phases: list[list[dict[str, Any]]]) -> None:
    phase, place = any_step(draw, phases)
    lane = [step["id"] for step in phase[: place + 1] if phase[place]["role"] in (step["role"], *step.get("with", []))]
    phase[place]["asks"] = {"question": "Whole?", "answers": ["wet", "dry"]}
    phase[place]["repeat"] = {"from": draw(st.sampled_from(lane)), "answer": "wet"}


def made_whole(protocol: dict[str, Any]) -> None:
    """Takes out what the changes left pointing at nothing, backwards, or in a circle."""
    there = {step["id"] for phase in protocol["phases"] for step in phase["steps"]}
    for phase in protocol["phases"]:
        for step in phase["steps"]:
            step["do"] = "Do it."
            step["with"] = [role for role in step.get("with", []) if role != step["role"]]
            wanted = [name for name in step.pop("after", []) if name in there and name != step["id"]]
            step["waits"] = [wait for wait in step.get("waits", []) if wait["for"] in there]
            own = {other["id"] for other in phase["steps"]}
            step["wanted"] = [name for name in wanted if name in own]
    for phase in protocol["phases"]:
        for step in phase["steps"]:
            step["after"] = [name for name in step.pop("wanted") if step["id"] not in ancestors(protocol, name)]
    for phase in protocol["phases"]:
        for step in phase["steps"]:
            lane = [other["id"] for other in phase["steps"] if step["role"] in (other["role"], *other["with"])]
            if "repeat" in step and step["repeat"]["from"] not in lane[: lane.index(step["id"]) + 1]:
                del step["repeat"]
            if "repeat" in step and "asks" not in step:
                del step["repeat"]
            earlier = ancestors(protocol, step["id"])
            step["waits"] = [wait for wait in step["waits"] if wait["for"] in earlier]
