"""Slips of the other kind: the wrong moment, the wrong thing, the wrong hands, the wrong place."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import replace

from stepfield.language.model import Effect, Kind, Level, Need, Protocol
from stepfield.language.source import Text
from tests.demo.changes import with_step
from tests.mutation.editing import (
    each_entry_dropped,
    effects_of,
    given_to,
    lane_of,
    next_own,
    own_steps,
    place_of,
    with_also,
    with_exchanged,
    with_phase,
    without,
)
from tests.mutation.kinds import Changed, kind

# At the wrong moment


@kind
def neighbours_swapped(whole: Protocol) -> Iterator[Changed]:
    """Two steps that follow one another in somebody's lane change places."""
    for phase in whole.phases:
        pairs = {pair: None for role in whole.team for pair in itertools.pairwise(lane_of(phase, role.value))}
        for first, second in pairs:
            steps = [step for step in phase.steps if step is not second]
            steps.insert(steps.index(first), second)
            yield f"{second.id} before {first.id}", with_phase(whole, phase, replace(phase, steps=tuple(steps)))


def _each_effect_a_step_late(whole: Protocol, *fields: str) -> Iterator[Changed]:
    """Each such effect happens in the owner's next step."""
    for step, effect in effects_of(whole, *fields):
        for later in next_own(whole, step):
            changed = with_step(whole, step.id.value, lambda one, gone=effect: without(one, gone))
            changed = with_step(changed, later.id.value, lambda one, more=effect: with_also(one, more))
            yield f"{place_of(step, effect)}, in {later.id}", changed


def _each_effect_a_phase_early(whole: Protocol, *fields: str) -> Iterator[Changed]:
    """Each such effect happens in the owner's last step of the phase before, if the owner has steps there."""
    phase_of = {step.id.value: number for number, phase in enumerate(whole.phases) for step in phase.steps}
    for step, effect in effects_of(whole, *fields):
        number = phase_of[step.id.value]
        earlier = [one for one in own_steps(whole, step) if phase_of[one.id.value] < number]
        if earlier:
            changed = with_step(whole, step.id.value, lambda one, gone=effect: without(one, gone))
            changed = with_step(changed, earlier[-1].id.value, lambda one, more=effect: with_also(one, more))
            yield f"{place_of(step, effect)}, in {earlier[-1].id}", changed


@kind
def uncovered_early(whole: Protocol) -> Iterator[Changed]:
    yield from _each_effect_a_phase_early(whole, "uncovers", "doffs")


@kind
def covered_late(whole: Protocol) -> Iterator[Changed]:
    yield from _each_effect_a_step_late(whole, "covers", "dons")


@kind
def opened_late(whole: Protocol) -> Iterator[Changed]:
    yield from _each_effect_a_step_late(whole, "opens")


@kind
def cleaned_late(whole: Protocol) -> Iterator[Changed]:
    yield from _each_effect_a_step_late(whole, "makes")


@kind
def thrown_away_early(whole: Protocol) -> Iterator[Changed]:
    yield from _each_effect_a_phase_early(whole, "discards", "hands_over")


@kind
def field_ended_early(whole: Protocol) -> Iterator[Changed]:
    """The field is given up in the owner's own step before."""
    for step in whole.steps:
        own = own_steps(whole, step)
        if step.ends_field and own.index(step):
            there = own[own.index(step) - 1]
            changed = with_step(whole, step.id.value, lambda one: replace(one, ends_field=False))
            yield (
                f"{step.id}, in {there.id}",
                with_step(changed, there.id.value, lambda one: replace(one, ends_field=True)),
            )


@kind
def field_never_given_up(whole: Protocol) -> Iterator[Changed]:
    for step in whole.steps:
        if step.ends_field:
            yield step.id.value, with_step(whole, step.id.value, lambda one: replace(one, ends_field=False))


# The wrong thing, hands or place


@kind
def reset_weakened(whole: Protocol) -> Iterator[Changed]:
    """Wiped where it should be disinfected, washed where it should be scrubbed."""
    for step, effect in effects_of(whole, "makes"):
        weaker = replace(effect, level=Level((effect.level or Level.CLEAN) - 1))
        yield (
            place_of(step, effect),
            with_step(whole, step.id.value, lambda one, old=effect, new=weaker: with_exchanged(one, old, new)),
        )


@kind
def need_lowered(whole: Protocol) -> Iterator[Changed]:
    for step, need, without_it in each_entry_dropped(whole, "needs"):
        lower = Need(need.subject, Level(need.level - 1))
        yield (
            f"{step.id} {need.subject}",
            with_step(without_it, step.id.value, lambda one, less=lower: replace(one, needs=(*one.needs, less))),
        )


@kind
def fact_not_asked_for(whole: Protocol) -> Iterator[Changed]:
    for step, fact, changed in each_entry_dropped(whole, "requires"):
        yield f"{step.id} {fact}", changed


@kind
def wrong_hands(whole: Protocol) -> Iterator[Changed]:
    """Another role of the team does the step; what it needs of its owner's hands and gown is asked of them."""
    for step in whole.steps:
        for other in whole.team:
            if other.value != str(step.role):
                changed = with_step(whole, step.id.value, lambda one, new=other: given_to(one, new))
                yield f"{step.id} by {other}", changed


@kind
def discarded_thing_reused(whole: Protocol) -> Iterator[Changed]:
    """Whoever threw it away takes it in hand again in their next step."""
    for step, effect in effects_of(whole, "discards", "hands_over"):
        for there in next_own(whole, step):
            again = Effect("touches", effect.thing)
            yield (
                f"{effect.thing}, in {there.id}",
                with_step(whole, there.id.value, lambda one, more=again: with_also(one, more)),
            )


@kind
def reusable_discarded(whole: Protocol) -> Iterator[Changed]:
    for step, effect in effects_of(whole, "hands_over"):
        if whole.subjects[effect.thing.value].reusable:
            waste = replace(effect, field="discards")
            yield (
                place_of(step, effect),
                with_step(whole, step.id.value, lambda one, old=effect, new=waste: with_exchanged(one, old, new)),
            )


@kind
def sharp_into_the_waste(whole: Protocol) -> Iterator[Changed]:
    for step, effect in effects_of(whole, "discards"):
        if whole.subjects[effect.thing.value].sharp:
            loose = replace(effect, target=None)
            yield (
                place_of(step, effect),
                with_step(whole, step.id.value, lambda one, old=effect, new=loose: with_exchanged(one, old, new)),
            )


@kind
def laid_on_another_surface(whole: Protocol) -> Iterator[Changed]:
    """What belongs on the sterile table is put down on another one."""
    surfaces = [name for name, subject in whole.subjects.items() if subject.kind is Kind.SURFACE]
    for step, effect in effects_of(whole, "lays", "presents"):
        for name in surfaces:
            if name != str(effect.target):
                other = replace(effect, target=Text(name, effect.thing.span))
                yield (
                    f"{step.id} {effect.thing} on {name}",
                    with_step(whole, step.id.value, lambda one, old=effect, new=other: with_exchanged(one, old, new)),
                )


@kind
def sterile_hand_strays(whole: Protocol) -> Iterator[Changed]:
    """Somebody whose hands must be sterile touches a bare surface on the way."""
    covered = {effect.thing.value for _, effect in effects_of(whole, "covers")}
    surfaces = [name for name, one in whole.subjects.items() if one.kind is Kind.SURFACE and name not in covered]
    for step in whole.steps:
        if (f"{step.role}.hands", Level.STERILE) not in {(need.subject.value, need.level) for need in step.needs}:
            continue
        for name in surfaces[:1]:
            stray = Effect("touches", Text(name, step.id.span))
            yield (
                f"{step.id} touches {name}",
                with_step(whole, step.id.value, lambda one, more=stray: with_also(one, more)),
            )
