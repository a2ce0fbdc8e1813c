"""Each rung of the ladder tells what the search of all orders tells.

What the first look excludes does not occur; orders drawn at random and a solver come to the same slips, in the same
scenarios, as surely. Every order shown is a run of the protocol and shows its slip when it is replayed.
"""

from __future__ import annotations

import sys
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings

from stepfield.asepsis import Occurrence, Proof, StepGraph, compile_protocol, order_of, prove, replay, slips_at_end
from stepfield.asepsis.criterion import TooManyValuesError, first_look
from stepfield.asepsis.encoding import why_not_encoded
from stepfield.asepsis.ladder import Ladder
from stepfield.asepsis.proof import Climbed
from stepfield.asepsis.stepping import Stepping
from stepfield.asepsis.ways import TooManyWaysError
from tests.oracle.agreement import read
from tests.oracle.near_sensible import near_sensible
from tests.oracle.small_protocols import small_protocols

CALM = settings(deadline=None, database=None, suppress_health_check=list(HealthCheck), print_blob=True)
SAME_EVERY_TIME = settings(CALM, max_examples=80, derandomize=True)
FRESH = settings(CALM, max_examples=700)
TOO_MUCH = (TooManyWaysError, TooManyValuesError)


def graph_of(case: dict[str, Any]) -> StepGraph:
    protocol_set = read(case)
    protocol = protocol_set.protocols[0]
    assume(not order_of(protocol).loops)
    return compile_protocol(protocol, protocol_set.requirements)


def told(one: Occurrence) -> Any:
    """What both must agree on: an order that shows a slip is one of many."""
    return sorted(map(str, one.scenarios)), one.always


def is_a_run(graph: StepGraph, one: Occurrence) -> bool:
    """Whether the witness can happen in that order, in its scenario, with those answers."""
    stepping = Stepping(graph, reduced=False)
    moments = [(moment, dict(picks)) for moment, picks in stepping.starts()]
    for step, answer in one.witness:
        moments = [
            (then, {**picked, **dict(more)})
            for moment, picked in moments
            for did, given, _, then, more in stepping.moves(moment)
            if (did, given) == (step, answer)
        ]
    wanted = one.scenarios[0]
    return any(
        all(wanted[stepping.choices[choice]] == option for choice, option in picked.items()) for _, picked in moments
    )


def shows(graph: StepGraph, one: Occurrence) -> bool:
    moments = replay(graph, [step for step, _ in one.witness])
    seen = [*(moments[-1].slips if moments else ()), *slips_at_end(graph, moments)]
    return one.slip.key in {slip.key for slip in seen}


def same(graph: StepGraph, proof: Proof, climbed: Climbed) -> None:
    assert climbed.reason is None
    assert {one.slip.key: told(one) for one in climbed.occurrences} == {
        one.slip.key: told(one) for one in proof.occurrences
    }
    assert climbed.never == proof.never
    least = {one.slip.key: len(one.witness) for one in proof.occurrences}
    for one in climbed.occurrences:
        assert is_a_run(graph, one)
        assert shows(graph, one)
        assert len(one.witness) == least[one.slip.key] or (not one.shortest and len(one.witness) > least[one.slip.key])


def nothing_is_overlooked(case: dict[str, Any]) -> None:
    graph = graph_of(case)
    try:
        look = first_look(graph)
    except TOO_MUCH:
        assume(False)
    else:
        assert prove(graph).exploration.slips.keys() <= look.slips.keys()


def alike(case: dict[str, Any]) -> None:
    graph = graph_of(case)
    assume(why_not_encoded(graph) is None)
    proof = prove(graph)
    for drawing in (False, True):
        climbed = Ladder(graph, 1, drawing=drawing).climb(proof.exploration)
        assume(climbed.reason is None or "meet" not in climbed.reason)
        same(graph, proof, climbed)


@SAME_EVERY_TIME
@given(small_protocols())
def test_the_first_look_at_any_small_protocol(case: dict[str, Any]) -> None:
    nothing_is_overlooked(case)


@SAME_EVERY_TIME
@given(near_sensible())
def test_the_first_look_at_a_sensible_case_with_a_few_changes(case: dict[str, Any]) -> None:
    nothing_is_overlooked(case)


@SAME_EVERY_TIME
@given(small_protocols())
def test_drawing_and_solving_any_small_protocol(case: dict[str, Any]) -> None:
    alike(case)


@SAME_EVERY_TIME
@given(near_sensible())
def test_drawing_and_solving_a_sensible_case_with_a_few_changes(case: dict[str, Any]) -> None:
    alike(case)


WIPED_WHERE_NEEDED: dict[str, Any] = {
    "clinic": {"clinic": "Quillhaven Day Surgery", "roles": {"scrub": {}}},
    "protocol": {
        "kind": "protocol",
        "title": "A table",
        "team": ["scrub"],
        "choices": {"way": {"options": {"left": "Left", "right": "Right"}}},
        "surfaces": {"table": {}},
        "phases": [
            {
                "phase": "all",
                "steps": [
                    {"id": "wipe", "role": "scrub", "do": "-", "when": {"way": "left"}, "makes": {"table": "clean"}},
                    {"id": "use", "role": "scrub", "do": "-", "when": {"way": "left"}, "needs": {"table": "clean"}},
                ],
            }
        ],
    },
}
"""The look takes each step as if it might be passed over; that the two steps are done together it does not see."""


def test_what_only_a_solver_can_tell_needs_one(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = read(WIPED_WHERE_NEEDED)
    graph = compile_protocol(whole.protocols[0])
    proof = prove(graph)
    climbed = Ladder(graph, 1).climb(proof.exploration)
    same(graph, proof, climbed)
    assert climbed.occurrences == ()
    assert (climbed.open, climbed.drawn, climbed.solved) == (1, 0, 1)
    monkeypatch.setitem(sys.modules, "pysat.solvers", None)
    without = Ladder(graph, 1).climb(proof.exploration)
    assert without.reason is not None
    assert "install the extra 'solver'" in without.reason


@pytest.mark.slow
@FRESH
@given(small_protocols(8))
def test_many_fresh_small_protocols(case: dict[str, Any]) -> None:
    nothing_is_overlooked(case)
    alike(case)


@pytest.mark.slow
@FRESH
@given(near_sensible())
def test_many_fresh_changes_of_a_sensible_case(case: dict[str, Any]) -> None:
    nothing_is_overlooked(case)
    alike(case)
