"""Whatever safety-bearing step somebody drops, unties or misplaces in the demonstration set, the checker speaks."""

from __future__ import annotations

import pytest

from tests.demo.changes import bears_safety, changes_of, demonstration, errors_of, protocol
from tests.demo.harmless import HARMLESS

BEARING = [
    pytest.param(one.id, step.id.value, id=f"{one.id}-{step.id}")
    for one in demonstration().protocols
    for step in one.steps
    if bears_safety(step)
]


@pytest.mark.parametrize(("name", "step"), BEARING)
def test_no_change_of_a_bearing_step_stays_silent_without_a_reason(name: str, step: str) -> None:
    silent = {change for change, changed in changes_of(protocol(name), step) if not errors_of(changed)}
    assert silent == {change for of, at, change in HARMLESS if (of, at) == (name, step)}


def test_every_entry_of_the_table_is_about_a_step_that_is_tried() -> None:
    tried = {tuple(case.values) for case in BEARING}
    assert {(name, step) for name, step, _ in HARMLESS} <= tried


def test_most_steps_are_tried() -> None:
    assert len(BEARING) > 75
