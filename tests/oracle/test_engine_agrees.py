"""The engine against the second reading: the same slips, in the same scenarios, as surely, shown as shortly.

The second reading (naive.py, naive_effects.py, naive_runs.py) is written from the language's meaning alone, which is
the only source there can be for a language of our own. What the meaning should be is held to published material in
tests/outside.
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings

from tests.oracle.agreement import differences
from tests.oracle.in_parts import in_parts
from tests.oracle.naive_runs import TooManyStatesError
from tests.oracle.near_sensible import near_sensible
from tests.oracle.small_protocols import small_protocols

CALM = settings(deadline=None, database=None, suppress_health_check=list(HealthCheck), print_blob=True)
SAME_EVERY_TIME = settings(CALM, max_examples=400, derandomize=True)
FRESH = settings(CALM, max_examples=1000)


def agreed(case: dict[str, Any], engine_reads: dict[str, Any] | None = None) -> None:
    """Passes over a case that is too large for the slow way; every other one must be told alike."""
    try:
        told = differences(case, engine_reads)
    except TooManyStatesError:
        assume(False)
    else:
        assert told == []


@SAME_EVERY_TIME
@given(small_protocols())
def test_any_small_protocol(case: dict[str, Any]) -> None:
    agreed(case)


@SAME_EVERY_TIME
@given(near_sensible())
def test_a_sensible_case_with_a_few_changes(case: dict[str, Any]) -> None:
    agreed(case)


@SAME_EVERY_TIME
@given(in_parts())
def test_steps_moved_into_a_part(written: tuple[dict[str, Any], dict[str, Any]]) -> None:
    """The second reading gets the protocol in full, the engine the same with some steps in a part and names bound."""
    agreed(*written)


LATE = {"id": "late", "role": "scrub", "do": "Use what is open.", "touches": ["gauze"]}
EARLY = {
    "id": "early",
    "role": "runner",
    "do": "Open.",
    "opens": ["kit"],
    "asks": {"question": "?", "answers": ["a", "b"]},
}


@pytest.mark.parametrize(
    ("engine_reads", "said"),
    [
        ({}, None),
        ({"requires": ["ready"]}, "too much ('fact-missing', 'late', 'ready')"),
        ({"opens": ["kit"]}, "missing ('not-available', 'late', 'gauze')"),
        ({"after": ["early"]}, "missing ('not-available', 'late', 'gauze')"),
        ({"when": {"way": "left"}}, "('not-available', 'late', 'gauze'): scenarios"),
        ({"touches": ["gauze", "second-opinion"]}, None),
    ],
    ids=["the same", "a fact", "opened at once", "opened before", "one choice only", "a harmless touch"],
)
def test_a_difference_is_noticed(engine_reads: dict[str, Any], said: str | None) -> None:
    """The comparison itself can fail: the engine is given a slightly different protocol."""
    told = differences(small_case([EARLY, LATE]), small_case([EARLY, {**LATE, **engine_reads}]))
    assert bool(told) == (said is not None)
    assert said is None or any(line.startswith(said) for line in told)


def small_case(steps: list[dict[str, Any]]) -> dict[str, Any]:
    protocol = {
        "kind": "protocol",
        "title": "A small case",
        "team": ["scrub", "runner"],
        "choices": {"way": {"options": {"left": "Left", "right": "Right"}}},
        "items": {"second-opinion": {}},
        "packs": {"kit": {"holds": {"gauze": {}}}},
        "phases": [{"phase": "all", "steps": steps}],
    }
    return {"clinic": {"clinic": "Quillhaven Day Surgery", "roles": {"scrub": {}, "runner": {}}}, "protocol": protocol}


@pytest.mark.slow
@FRESH
@given(small_protocols())
def test_many_fresh_small_protocols(case: dict[str, Any]) -> None:
    agreed(case)


@pytest.mark.slow
@FRESH
@given(near_sensible())
def test_many_fresh_changes_of_a_sensible_case(case: dict[str, Any]) -> None:
    agreed(case)
