"""What is written of a step's field is read again as the same: the reader is what it is held against."""

from __future__ import annotations

from pathlib import Path

import pytest

from stepfield.language import read_set
from stepfield.language.editing import in_flow
from stepfield.language.model import Step
from stepfield.language.schemas import schema
from stepfield.language.tailoring import fields_of
from stepfield.language.tailoring_fields import field_of
from stepfield.language.written_fields import written_field, written_time
from stepfield.language.yaml_nodes import Mapping
from stepfield.language.yaml_reader import read_yaml

DEMO = Path(__file__).parents[2] / "protocols"
FIELDS = sorted({*schema("definitions")["$defs"]["step"]["properties"]} - {"id"})
STEPS = [step for protocol in read_set(DEMO).protocols for step in protocol.steps]


@pytest.mark.parametrize("field", FIELDS)
def test_every_field_of_every_step_of_the_demonstration_set_is_read_as_it_was(field: str) -> None:
    for step in STEPS:
        value = written_field(step, field)
        if value is None:
            assert field in {"why", "asks", "repeat", "takes", "role"}
            assert not field_of(step, field)
            continue
        assert field_of(again(step, field, in_flow({field: value})), field) == field_of(step, field)


def again(step: Step, field: str, text: str) -> Step:
    document = read_yaml(text.encode(), field).document
    assert document is not None
    assert isinstance(document.root, Mapping)
    return fields_of(document.root, step.id, step.role, [])


@pytest.mark.parametrize(
    ("seconds", "written"),
    [(0, "0 s"), (25, "25 s"), (90, "90 s"), (180, "3 min"), (5400, "90 min"), (7200, "2 h"), (86400, "1 d")],
)
def test_a_time_is_written_in_the_largest_unit_without_a_fraction(seconds: float, written: str) -> None:
    assert written_time(seconds) == written


def test_a_fraction_of_a_second_stays() -> None:
    assert written_time(0.25) == "0.25 s"
