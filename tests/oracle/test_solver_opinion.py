"""The engine against a general-purpose solver: which slips can happen, and which can happen first.

The solver (z3) gets the language's meaning as formulas over all orders at once; the engine walks from moment to moment.
The two have nothing in common but the reader and the meaning, which is our own: there is no outside source for it.
"""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings

from stepfield.asepsis import Proof, compile_protocol, prove
from stepfield.language import build_set
from stepfield.language.model import Protocol, ProtocolSet
from tests.demo.changes import demonstration, protocol
from tests.mutation.slips import KINDS
from tests.oracle.near_sensible import near_sensible
from tests.oracle.small_protocols import small_protocols
from tests.oracle.solver_opinion import Verdict, solve
from tests.oracle.solving.question import can_be_asked

CALM = settings(deadline=None, database=None, suppress_health_check=list(HealthCheck), print_blob=True)
SAME_EVERY_TIME = settings(CALM, max_examples=300, derandomize=True)
FEWER_EVERY_TIME = settings(CALM, max_examples=60, derandomize=True)
FRESH = settings(CALM, max_examples=400)
NAMES = ("skin-lesion", "toenail", "wrist-release")


def engine_says(whole: Protocol, within: ProtocolSet) -> Verdict:
    """What the engine found, and which slips it found at a step before which none had happened."""
    proof = prove(compile_protocol(whole, within.requirements), reduced=False)
    assert proof.complete
    found = proof.exploration
    clean = {node for node, _ in found.starts}
    waiting, first = list(clean), set()
    while waiting:
        node = waiting.pop()
        first.update(found.ends.get(node, ()))
        for edge in found.edges[node]:
            first.update(edge.slips)
            if not edge.slips and edge.to not in clean:
                clean.add(edge.to)
                waiting.append(edge.to)
    return Verdict(_named(proof, set(found.slips)), _named(proof, first))


def _named(proof: Proof, keys: set[Any]) -> frozenset[Any]:
    steps = proof.graph.steps
    return frozenset((kind, None if step < 0 else steps[step].id.value, subject) for kind, step, subject in keys)


def without_going_back(whole: Protocol) -> Protocol:
    """The protocol as it goes when every answer is taken as it comes."""
    phases = (replace(phase, steps=tuple(replace(step, repeat=None) for step in phase.steps)) for phase in whole.phases)
    return replace(whole, phases=tuple(phases))


def read(case: dict[str, Any]) -> ProtocolSet:
    """The set as the project reads it; JSON is YAML. What is declared and not used does no harm here."""
    names = {"clinic": "clinic.yaml", "protocol": "small.yaml", "evidence": "evidence.yaml"}
    within = build_set({f"protocols/{names[part]}": json.dumps(case[part]).encode() for part in case})
    assert [problem.message for problem in within.problems if problem.rule != "unused-name"] == []
    return within


def agreed(case: dict[str, Any]) -> None:
    within = read(case)
    whole = without_going_back(within.protocols[0])
    assume(can_be_asked(whole))
    assert solve(whole, within.requirements) == engine_says(whole, within)


@SAME_EVERY_TIME
@given(small_protocols(6))
def test_any_small_protocol(case: dict[str, Any]) -> None:
    agreed(case)


@FEWER_EVERY_TIME
@given(near_sensible())
def test_a_sensible_case_with_a_few_changes(case: dict[str, Any]) -> None:
    agreed(case)


@cache
def verdict_on(name: str) -> Verdict:
    return solve(without_going_back(protocol(name)), demonstration().requirements)


@pytest.mark.parametrize("name", NAMES)
def test_a_whole_protocol_of_the_demonstration_set(name: str) -> None:
    """All its steps at once. What can go wrong is that an answer which should send a lane back is taken as it is."""
    verdict = verdict_on(name)
    assert verdict == engine_says(without_going_back(protocol(name)), demonstration())
    assert {rule for rule, _, _ in verdict.possible} == {"fact-missing"}


SLIPS = {
    "reset dropped": "wrist-release surgeon-scrub.scrub makes surgeon.hands",
    "pack not opened": "skin-lesion offer-second-set opens second-pack",
    "cover not put on": "toenail drape covers foot-skin",
    "forgotten to doff": "toenail surgeon-undress.take-off doffs gown",
    "left lying about": "skin-lesion close-down.instruments.sort discards scalpel",
    "glove change skipped": "skin-lesion second-gloves",
    "neighbours swapped": "toenail cover-trolley before surgeon-dress.glove",
    "order dropped": "wrist-release close-down.wipe after close-down.strip",
    "uncovered early": "toenail block-gloves-off doffs block-gloves, in mark-site",
    "wrong hands": "wrist-release drape-one by circulating",
    "discarded thing reused": "toenail block-syringe, in block-gloves-off",
    "sterile hand strays": "skin-lesion excise touches couch",
}
"""A slip of each of these kinds, by the names of tests/mutation."""


@pytest.mark.parametrize("kind", SLIPS)
def test_a_slip_in_the_demonstration_set(kind: str) -> None:
    """Both see it, and both see that it makes a difference."""
    name, _, place = SLIPS[kind].partition(" ")
    changed = without_going_back(dict(KINDS[kind](protocol(name)))[place])
    verdict = solve(changed, demonstration().requirements)
    assert verdict == engine_says(changed, demonstration())
    assert verdict.possible - verdict_on(name).possible
    assert verdict.first - verdict_on(name).first


def resting(*steps: dict[str, Any]) -> dict[str, Any]:
    """A case with gauze on a table, and a sheet."""
    protocol = {
        "kind": "protocol",
        "title": "Gauze on a table",
        "team": ["scrub"],
        "surfaces": {"table": {}},
        "sites": {"skin": {}},
        "items": {"gauze": {"starts": "sterile"}, "sheet": {"starts": "sterile"}},
        "phases": [{"phase": "all", "steps": [{"role": "scrub", "do": "Do it.", **step} for step in steps]}],
    }
    return {"clinic": {"clinic": "Quillhaven Day Surgery", "roles": {"scrub": {}}}, "protocol": protocol}


@pytest.mark.parametrize(
    ("case", "slip"),
    [
        pytest.param(
            resting(
                {"id": "lay", "soils": ["table"], "lays": {"gauze": "table"}},
                {"id": "swap", "makes": {"gauze": "clean"}},
                {"id": "spill", "soils": ["table"]},
                {"id": "wipe", "makes": {"table": "clean", "scrub.hands": "clean"}},
            ),
            ("left-soiled", None, "gauze"),
            id="spilt over once more",
        ),
        pytest.param(
            resting(
                {"id": "spread", "makes": {"scrub.hands": "sterile"}},
                {"id": "cover", "covers": {"table": "sheet"}},
                {"id": "lay", "lays": {"gauze": "table"}, "ends_field": True},
                {"id": "pull", "covers": {"skin": "sheet"}},
                {"id": "use", "needs": {"gauze": "sterile"}},
            ),
            ("needs-not-met", "use", "gauze"),
            id="pulled from under it",
        ),
    ],
)
def test_what_rests_on_a_table_shares_what_becomes_of_it(case: dict[str, Any], slip: Any) -> None:
    within = read(case)
    verdict = solve(within.protocols[0], ())
    assert slip in verdict.possible
    assert verdict == engine_says(within.protocols[0], within)


def test_what_does_not_fit_into_slots_is_refused() -> None:
    with pytest.raises(ValueError, match="does not fit into slots"):
        solve(protocol("toenail"), demonstration().requirements)


@pytest.mark.slow
@FRESH
@given(small_protocols(7))
def test_many_fresh_small_protocols(case: dict[str, Any]) -> None:
    agreed(case)


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("name", NAMES)
def test_more_slips_in_the_demonstration_set(name: str, kind: str) -> None:
    slips = [without_going_back(changed) for _, changed in KINDS[kind](protocol(name))]
    for changed in filter(can_be_asked, slips[:: max(1, len(slips) // 2)]):
        assert solve(changed, demonstration().requirements) == engine_says(changed, demonstration())
