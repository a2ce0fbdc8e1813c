"""Slips of one kind: something is left out, though the step is done."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from stepfield.language.model import Protocol
from tests.demo.changes import with_step
from tests.mutation.editing import (
    FIELDS,
    each_entry_dropped,
    effects_of,
    names_in,
    never_naming,
    place_of,
    with_phase,
    without,
)
from tests.mutation.kinds import Changed, kind


def _each_effect_dropped(whole: Protocol, *fields: str) -> Iterator[Changed]:
    for step, effect in effects_of(whole, *fields):
        yield place_of(step, effect), with_step(whole, step.id.value, lambda one, gone=effect: without(one, gone))


@kind
def reset_dropped(whole: Protocol) -> Iterator[Changed]:
    """A hand is not rubbed, a table not wiped, skin not painted, though the step is done."""
    yield from _each_effect_dropped(whole, "makes")


@kind
def pack_not_opened(whole: Protocol) -> Iterator[Changed]:
    yield from _each_effect_dropped(whole, "opens")


@kind
def cover_not_put_on(whole: Protocol) -> Iterator[Changed]:
    yield from _each_effect_dropped(whole, "covers", "dons")


@kind
def forgotten_to_doff(whole: Protocol) -> Iterator[Changed]:
    yield from _each_effect_dropped(whole, "uncovers", "doffs")


@kind
def count_dropped(whole: Protocol) -> Iterator[Changed]:
    yield from _each_effect_dropped(whole, "counts")


@kind
def left_lying_about(whole: Protocol) -> Iterator[Changed]:
    """What was to be thrown away or handed over stays."""
    yield from _each_effect_dropped(whole, "discards", "hands_over")


@kind
def confirm_dropped(whole: Protocol) -> Iterator[Changed]:
    for step, fact, changed in each_entry_dropped(whole, "confirms"):
        yield f"{step.id} {fact}", changed


@kind
def order_dropped(whole: Protocol) -> Iterator[Changed]:
    """One entry of an ``after`` is forgotten."""
    for step, name, changed in each_entry_dropped(whole, "after"):
        yield f"{step.id} after {name}", changed


@kind
def hand_not_lent(whole: Protocol) -> Iterator[Changed]:
    """Who was to take part at the same moment is elsewhere."""
    for step, name, changed in each_entry_dropped(whole, "helpers"):
        yield f"{step.id} {name}", changed


@kind
def caution_dropped(whole: Protocol) -> Iterator[Changed]:
    for phase in whole.phases:
        for caution in phase.cautions:
            less = replace(phase, cautions=tuple(one for one in phase.cautions if one is not caution))
            yield f"phase {phase.id} {caution.kind}", with_phase(whole, phase, less)
    for step, dropped, changed in each_entry_dropped(whole, "cautions"):
        yield f"{step.id} {dropped.kind}", changed


@kind
def wait_dropped(whole: Protocol) -> Iterator[Changed]:
    for step, wait, changed in each_entry_dropped(whole, "waits"):
        yield f"{step.id} for {wait.step}", changed


@kind
def not_begun_again(whole: Protocol) -> Iterator[Changed]:
    """The answer that should send the lane back is taken as good enough."""
    for step in whole.steps:
        if step.repeat is not None:
            yield step.id.value, with_step(whole, step.id.value, lambda one: replace(one, repeat=None))


@kind
def glove_change_skipped(whole: Protocol) -> Iterator[Changed]:
    """A pair of gloves is never put on, taken off or thrown away: whoever was to wear it goes on as they are."""
    for name in [subject.name.value for subject in whole.subjects.values() if subject.worn_on == "hands"]:
        named = {step.id.value for step, effect in effects_of(whole, *FIELDS) if name in names_in(effect)}
        changed = whole
        for step in named:
            changed = with_step(changed, step, lambda one, gone=name: never_naming(one, gone))
        if named:
            yield name, changed
