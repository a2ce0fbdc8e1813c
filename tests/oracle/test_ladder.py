"""Each rung of the ladder against the exact search: what the first look excludes does not occur."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings

from stepfield.asepsis import StepGraph, compile_protocol, order_of, prove
from stepfield.asepsis.criterion import first_look
from tests.oracle.agreement import read
from tests.oracle.near_sensible import near_sensible
from tests.oracle.small_protocols import small_protocols

CALM = settings(deadline=None, database=None, suppress_health_check=list(HealthCheck), print_blob=True)
SAME_EVERY_TIME = settings(CALM, max_examples=100, derandomize=True)
FRESH = settings(CALM, max_examples=700)


def graph_of(case: dict[str, Any]) -> StepGraph:
    protocol_set = read(case)
    protocol = protocol_set.protocols[0]
    assume(not order_of(protocol).loops)
    return compile_protocol(protocol, protocol_set.requirements)


def nothing_is_overlooked(case: dict[str, Any]) -> None:
    graph = graph_of(case)
    assert prove(graph).exploration.slips.keys() <= first_look(graph).slips.keys()


@SAME_EVERY_TIME
@given(small_protocols())
def test_the_first_look_at_any_small_protocol(case: dict[str, Any]) -> None:
    nothing_is_overlooked(case)


@SAME_EVERY_TIME
@given(near_sensible())
def test_the_first_look_at_a_sensible_case_with_a_few_changes(case: dict[str, Any]) -> None:
    nothing_is_overlooked(case)


@pytest.mark.slow
@FRESH
@given(small_protocols(9))
def test_the_first_look_at_many_fresh_small_protocols(case: dict[str, Any]) -> None:
    nothing_is_overlooked(case)
