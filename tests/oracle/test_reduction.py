"""Leaving out orders that make no difference changes nothing that is told: the same slips, scenarios, ends and lengths.

The full search is held to the second reading in test_engine_agrees.py; here the reduced one is held to the full one.
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from stepfield.asepsis import Proof, compile_protocol, order_of, prove
from tests.oracle.agreement import read
from tests.oracle.near_sensible import near_sensible
from tests.oracle.small_protocols import small_protocols

CALM = settings(deadline=None, database=None, suppress_health_check=list(HealthCheck), print_blob=True)
SAME_EVERY_TIME = settings(CALM, max_examples=250, derandomize=True)
FRESH = settings(CALM, max_examples=700)


def told(proof: Proof) -> dict[Any, Any]:
    """What a reader is told of each slip."""
    return {
        seen.slip.key: (sorted(map(str, seen.scenarios)), seen.always, len(seen.witness), seen.shortest)
        for seen in proof.occurrences
    }


def ends(proof: Proof) -> set[Any]:
    """Every state of things a protocol can end in, with the answers given; levels and facts matter to nobody then."""
    found = proof.exploration
    return {(found.worlds[found.world[node]][1:6], found.settled[node]) for node in found.ends}


def same(case: dict[str, Any]) -> None:
    """Both searches tell the same."""
    protocol_set = read(case)
    protocol = protocol_set.protocols[0]
    if order_of(protocol).loops:
        return
    graph = compile_protocol(protocol, protocol_set.requirements)
    full, reduced = prove(graph, reduced=False), prove(graph, reduced=True)
    assert full.complete
    assert reduced.complete
    assert told(full) == told(reduced)
    assert full.never == reduced.never
    assert ends(full) == ends(reduced)


@SAME_EVERY_TIME
@given(small_protocols(9))
def test_any_small_protocol(case: dict[str, Any]) -> None:
    same(case)


@SAME_EVERY_TIME
@given(near_sensible())
def test_a_sensible_case_with_a_few_changes(case: dict[str, Any]) -> None:
    same(case)


@pytest.mark.slow
@FRESH
@given(small_protocols(9))
def test_many_fresh_small_protocols(case: dict[str, Any]) -> None:
    same(case)
