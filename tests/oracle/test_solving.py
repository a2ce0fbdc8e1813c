"""The rungs of the ladder say the same: the whole search, a solver where it is cut short, orders drawn at random."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings

from bench.models import as_files, coupled
from stepfield.asepsis import Occurrence, Proof, compile_protocol, prove
from stepfield.asepsis.explore import FIRST_ASKED
from stepfield.asepsis.happen import do_step, end_slips
from stepfield.asepsis.sampling import sampled
from stepfield.asepsis.world import World
from stepfield.checks.facts import examine
from stepfield.language import build_set
from tests.oracle.small_protocols import small_protocols
from tests.oracle.test_solver_opinion import read
from tests.rules.golden import TODAY

CALM = settings(deadline=None, database=None, suppress_health_check=list(HealthCheck), print_blob=True)


def shows(proof: Proof, one: Occurrence) -> bool:
    """Whether the witness, done step by step, shows the slip at its last step or at the end."""
    world, seen = World(proof.graph), []
    for step, _ in one.witness:
        seen = do_step(proof.graph, proof.graph.deeds[step], world)
    return one.slip.key in {slip.key for slip in (*seen, *end_slips(proof.graph, world))}


def wide(*, slip: bool) -> Any:
    """Four people who all handle the same tables, eight steps each: more states than are looked at first."""
    return build_set(as_files({"made": coupled(4, 8, slip=slip)}))


@pytest.mark.parametrize("slip", [False, True])
def test_a_protocol_too_wide_for_the_search_is_settled_all_the_same(slip: bool) -> None:
    (one,) = examine(wide(slip=slip), TODAY).examined
    assert one.proof is not None
    assert one.proof.states > FIRST_ASKED
    assert not one.proof.complete
    assert one.solved
    assert one.unproved is None
    assert [found.slip.kind for found in one.proof.occurrences] == (["needs-not-met"] if slip else [])
    for found in one.proof.occurrences:
        assert shows(one.proof, found)
        assert not found.always


def test_a_bound_that_somebody_sets_is_kept() -> None:
    """Who asks for few states is told that there were more; no solver is asked."""
    (one,) = examine(wide(slip=True), TODAY, limit=1000).examined
    assert not one.solved
    assert one.unproved is not None


def test_what_no_order_can_bring_about_needs_no_search() -> None:
    """Six people, thirty steps each, everything shared, and nothing asked of it: a look settles it."""
    (one,) = examine(build_set(as_files({"made": coupled(6, 30)})), TODAY).examined
    assert one.solved
    assert one.proof is not None
    assert one.proof.occurrences == ()


def test_an_order_drawn_at_random_shows_a_slip_where_nothing_can_be_proved() -> None:
    written = coupled(6, 30, slip=True)
    first = written["phases"][0]["steps"][0]
    first |= {"asks": {"question": "Right?", "answers": ["yes", "no"]}, "repeat": {"from": first["id"], "answer": "no"}}
    (one,) = examine(build_set(as_files({"made": written})), TODAY).examined
    assert not one.solved
    assert one.unproved is not None
    assert one.proof is not None
    (found,) = one.proof.occurrences
    assert found.slip.kind == "needs-not-met"
    assert not found.shortest
    assert shows(one.proof, found)


@settings(CALM, max_examples=60, derandomize=True)
@given(small_protocols(6))
def test_what_drawn_orders_show_the_whole_search_finds_too(case: dict[str, Any]) -> None:
    within = read(case)
    graph = compile_protocol(within.protocols[0], within.requirements)
    assume(not graph.order.loops)
    search, drawn = prove(graph), sampled(graph, most_steps=300)
    assert {one.slip.key for one in drawn} <= {one.slip.key for one in search.occurrences}
    assert drawn == sampled(graph, most_steps=300)
    assert all(shows(search, one) for one in drawn)
