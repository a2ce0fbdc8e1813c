"""The search that keeps no transitions meets the very worlds, and the very bound, of the one that keeps them all."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from stepfield.asepsis import StepGraph, compile_protocol, explore, order_of
from stepfield.asepsis.happening import happenings
from tests.oracle.agreement import read
from tests.oracle.near_sensible import near_sensible
from tests.oracle.small_protocols import small_protocols

SAME_EVERY_TIME = settings(
    deadline=None, database=None, suppress_health_check=list(HealthCheck), max_examples=120, derandomize=True
)
ENOUGH = 100_000


def met(happened: Mapping[int, Iterable[tuple[int, int]]], worlds: Sequence[object]) -> dict[int, set[Any]]:
    """For each step the pairs of worlds themselves; their numbers are each search's own."""
    return {step: {(worlds[one], worlds[other]) for one, other in pairs} for step, pairs in happened.items()}


def same(graph: StepGraph) -> None:
    """Both searches meet the same."""
    every, fewer = explore(graph, ENOUGH), happenings(graph, ENOUGH)
    assert every.complete
    assert fewer.complete
    assert met(every.happened, every.worlds) == met(fewer.happened, fewer.worlds)
    states = len(every.done)
    for limit in (states - 1, states, states // 2):
        assert happenings(graph, limit).complete == explore(graph, limit).complete == (states <= limit)


@SAME_EVERY_TIME
@given(st.one_of(small_protocols(9), near_sensible()))
def test_any_protocol(case: dict[str, Any]) -> None:
    protocol_set = read(case)
    protocol = protocol_set.protocols[0]
    if not order_of(protocol).loops:
        same(compile_protocol(protocol, protocol_set.requirements))
