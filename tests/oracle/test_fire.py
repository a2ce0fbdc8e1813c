"""The drying wait before a spark, in any order: the engine against every permutation of the steps.

Shares nothing with the engine: orders are all permutations that keep lanes and `after`, and what is wet is told by
three sentences. What burns is wet from the step that used it on; it is dry once a step was begun that waited for that
one at least as long as the requirement asks; the first spark that meets it is the finding.
"""

from __future__ import annotations

import datetime
import json
from itertools import permutations
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from stepfield.checks import all_rules, check_set
from stepfield.language import build_set

ROLES = ("surgeon", "scrub", "circulating")
ASKED = 180
PAINTS = ("paint", "stain")


@st.composite
def cases(draw: st.DrawFn) -> list[dict[str, Any]]:
    """Up to six steps: each paints, sparks, waits for an earlier paint, or several of these."""
    steps: list[dict[str, Any]] = []
    for number in range(draw(st.integers(3, 6))):
        step: dict[str, Any] = {"id": f"s{number}", "role": draw(st.sampled_from(ROLES)), "do": "Do it."}
        painted = [one["id"] for one in steps if "uses" in one]
        kind = draw(st.sampled_from(["paint", "spark", "spark", "plain", "wait", "wait"]))
        if kind == "paint":
            step |= {"uses": {draw(st.sampled_from(PAINTS)): "palm"}}
            if draw(st.booleans()):
                step["meets"] = ["dries"]
        if kind == "spark":
            step["ignition"] = True
        if painted and (kind == "wait" or draw(st.integers(0, 3)) == 0):
            waited = draw(st.sampled_from(painted))
            step["waits"] = [{"for": waited, "at_least": draw(st.sampled_from(["2 min", "3 min", "4 min"]))}]
            if draw(st.integers(0, 3)):
                step["after"] = [waited]
        if steps and draw(st.booleans()):
            step["after"] = list({*step.get("after", ()), draw(st.sampled_from(steps))["id"]})
        steps.append(step)
    return steps


def orders(steps: list[dict[str, Any]]) -> list[tuple[int, ...]]:
    index = {step["id"]: number for number, step in enumerate(steps)}
    before = {
        (a, b)
        for b, step in enumerate(steps)
        for a in (*(index[name] for name in step.get("after", ())),
                  *(n for n in range(b) if steps[n]["role"] == step["role"]))
    }  # fmt: skip
    return [
        order for order in permutations(range(len(steps))) if all(order.index(a) < order.index(b) for a, b in before)
    ]


def slips(steps: list[dict[str, Any]], order: tuple[int, ...]) -> set[tuple[str, str]]:
    wet: dict[str, set[str]] = {}
    found = set()
    for number in order:
        step = steps[number]
        for wait in step.get("waits", ()):
            earlier = next(one for one in steps if one["id"] == wait["for"])
            asked = ASKED if "meets" in earlier else 0
            if int(wait["at_least"].split()[0]) * 60 >= asked:
                for used in wet.values():
                    used.discard(wait["for"])
        if "ignition" in step:
            found |= {(step["id"], paint) for paint, used in wet.items() if used}
            wet.clear()
        for paint in step.get("uses", ()):
            wet.setdefault(paint, set()).add(step["id"])
    return found


def told(steps: list[dict[str, Any]]) -> set[tuple[str, str]]:
    protocol = {
        "kind": "protocol", "title": "Fire", "team": list(ROLES), "sites": {"palm": {}},
        "items": {name: {"hazard": "fire", "starts": "sterile"} for name in PAINTS},
        "phases": [{"phase": "one", "steps": steps}],
    }  # fmt: skip
    files = {
        "p/clinic.yaml": {"clinic": "Larkmere", "roles": {role: {"title": role} for role in ROLES}},
        "p/evidence.yaml": {"requirements": {"dries": {"text": "It dries.", "source": "A label",
                                                       "limit": {"at_least": f"{ASKED} s"}}}},
        "p/fire.yaml": protocol,
    }  # fmt: skip
    rules = [one for one in all_rules() if one.name == "fire-risk"]
    found = build_set({path: json.dumps(content).encode() for path, content in files.items()})
    report = check_set(found, datetime.date(2026, 7, 1), rules=rules)
    assert all(one.proof is not None and one.proof.complete for one in report.facts.examined)
    return {(finding.step or "", finding.subject or "") for finding in report.findings}


@settings(deadline=None, max_examples=150)
@given(cases())
def test_a_spark_is_a_finding_where_and_only_where_some_order_lets_it_meet_what_is_wet(
    steps: list[dict[str, Any]],
) -> None:
    assert told(steps) == {slip for order in orders(steps) for slip in slips(steps, order)}


def test_the_wait_must_lie_between_in_every_order() -> None:
    paint = {"id": "paint-palm", "role": "scrub", "do": "Paint.", "uses": {"paint": "palm"}, "meets": ["dries"]}
    look = {"id": "look", "role": "circulating", "do": "Look.", "waits": [{"for": "paint-palm", "at_least": "3 min"}]}
    spark = {"id": "spark", "role": "surgeon", "do": "Stop bleeding.", "ignition": True}
    assert told([paint, look, {**spark, "after": ["paint-palm"]}]) == {("spark", "paint")}
    assert told([paint, {**look, "after": ["paint-palm"]}, {**spark, "after": ["look"]}]) == set()
