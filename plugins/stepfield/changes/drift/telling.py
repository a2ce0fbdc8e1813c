"""What a step or a thing says field by field, as a file would write it, so that it can be held against another."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields

from ...checks.deviations import FIELDS
from ...language.editing import in_flow
from ...language.model import Kind, Step, Subject
from ...language.tailored import Deviation
from ...language.tailoring_fields import bare, field_of
from ...language.written_fields import written_field
from .model import Field

_TEXTS = frozenset({"do", "why", "title"})
"""Fields that are shown as they are read, without quotes."""
_CALLED = {"fluid_proof": "barrier"}
"""Attributes of a thing that a file calls otherwise."""
_OF_THINGS = (
    "title", "starts", "worn_on", "fluid_proof", "count", "counted", "sharp", "sharps", "reusable", "hazard", "spare",
)  # fmt: skip


def fields_of_step(change: Deviation) -> Iterator[Field]:
    """The fields that a change of a step sets to something else; of a field set to what it was there is none."""
    before, after = change.before, change.after
    assert isinstance(before, Step)
    assert isinstance(after, Step)
    for name in dict.fromkeys(field.value for field in change.fields):
        value = field_of(after, name)
        if value != field_of(before, name):
            yield Field(name, _said(before, name), _said(after, name), repr(value))


def fields_of_thing(before: Subject, after: Subject) -> Iterator[Field]:
    """The attributes in which a thing differs."""
    for name in _OF_THINGS:
        was, now = getattr(before, name), getattr(after, name)
        if was != now:
            yield Field(_CALLED.get(name, name), _worded(name, was), _worded(name, now), repr(now))


def whole_step(step: Step) -> tuple[str, ...]:
    """Everything a step does, field by field; what it says to do, and why, is not among them."""
    names = (name for name in (*FIELDS, "sterile") if name not in _TEXTS)
    return tuple(f"{name}: {said}" for name in names for said in [_said(step, name)] if said)


def whole_thing(thing: Subject) -> tuple[str, ...]:
    """What a thing is, beside its title."""
    usual = {field.name: field.default for field in fields(Subject)}
    found = (name for name in _OF_THINGS if name != "title" and getattr(thing, name) != usual[name])
    return tuple(f"{_CALLED.get(name, name)}: {_worded(name, getattr(thing, name))}" for name in found)


def same_step(step: Step) -> str:
    """A form of a step that is equal for two clinics, however they call it."""
    return repr([one for one in bare(step) if one[0] not in ("id", "part")])


def handles(step: Step, name: str) -> bool:
    """Whether a step has to do with a thing."""
    named = [text.value for effect in step.effects for text in (effect.thing, effect.target) if text is not None]
    return name in named or any(need.subject.value == name for need in step.needs)


def is_same_kind(one: Subject, other: Subject) -> bool:
    """Whether both are surfaces, or neither is."""
    return (one.kind is Kind.SURFACE) == (other.kind is Kind.SURFACE)


def _said(step: Step, name: str) -> str:
    value = written_field(step, name)
    if not value:
        return ""
    return str(value) if name in _TEXTS else in_flow(value)


def _worded(name: str, value: object) -> str:
    if name == "fluid_proof":
        return "fluid-proof" if value else "absorbent"
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(getattr(value, "word", "" if value is None else value))
