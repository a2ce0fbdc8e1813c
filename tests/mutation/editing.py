"""How one thing of a protocol is changed, and everything else left as it was."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from stepfield.language.model import Effect, Need, Phase, Protocol, Step
from stepfield.language.source import Text
from tests.demo.changes import with_step

FIELDS = (
    *("opens", "touches", "passes", "uses", "lays", "presents", "covers", "dons", "uncovers", "doffs"),
    *("makes", "wets", "contaminates", "soils", "counts", "discards", "hands_over"),
)
"""The order in which the effects of a step happen."""


def each_entry_dropped(whole: Protocol, field: str) -> Iterator[tuple[Step, Any, Protocol]]:
    """Every entry of such a field of a step, with the protocol that lacks just this one."""
    for step in whole.steps:
        for entry in getattr(step, field):
            left = tuple(one for one in getattr(step, field) if one is not entry)
            yield step, entry, with_step(whole, step.id.value, lambda one, less=left: replace(one, **{field: less}))


def lane_of(phase: Phase, role: str) -> list[Step]:
    """The steps of a phase a role does or takes part in."""
    return [step for step in phase.steps if role in (str(step.role), *map(str, step.helpers))]


def effects_of(whole: Protocol, *fields: str) -> Iterator[tuple[Step, Effect]]:
    """Every effect of some fields, with its step."""
    return ((step, effect) for step in whole.steps for effect in step.effects if effect.field in fields)


def own_steps(whole: Protocol, step: Step) -> list[Step]:
    """Every step of the protocol with the same owner."""
    return [one for one in whole.steps if str(one.role) == str(step.role)]


def next_own(whole: Protocol, step: Step) -> list[Step]:
    """The owner's next step, if there is one."""
    own = own_steps(whole, step)
    return own[own.index(step) + 1 :][:1]


def place_of(step: Step, effect: Effect) -> str:
    """How the table of slips names an effect."""
    return f"{step.id} {effect.field} {effect.thing}"


def names_in(effect: Effect) -> tuple[str, str]:
    """The thing of an effect, and its target."""
    return effect.thing.value, str(effect.target)


def without(step: Step, gone: Effect) -> Step:
    """The step without one of its effects."""
    return replace(step, effects=tuple(one for one in step.effects if one is not gone))


def with_also(step: Step, more: Effect) -> Step:
    """The step with one more effect, at its place in the order."""
    return replace(step, effects=tuple(sorted((*step.effects, more), key=lambda one: FIELDS.index(one.field))))


def with_exchanged(step: Step, old: Effect, new: Effect) -> Step:
    """The step with one effect exchanged for another."""
    return replace(step, effects=tuple(new if one is old else one for one in step.effects))


def never_naming(step: Step, name: str) -> Step:
    """The step without whatever names a thing."""
    return replace(step, effects=tuple(one for one in step.effects if name not in names_in(one)))


def given_to(step: Step, role: Text) -> Step:
    """The step done by another role; what it needs of its owner is asked of them, and a helper changes places."""
    asked = {f"{step.role}.{part}": f"{role}.{part}" for part in ("hands", "body")}
    needs = tuple(
        Need(Text(asked[need.subject.value], need.subject.span), need.level) if need.subject.value in asked else need
        for need in step.needs
    )
    helpers = tuple(step.role if name.value == role.value and step.role else name for name in step.helpers)
    return replace(step, role=role, needs=needs, helpers=helpers)


def with_phase(whole: Protocol, old: Phase, new: Phase) -> Protocol:
    """The protocol with one phase exchanged."""
    return replace(whole, phases=tuple(new if phase is old else phase for phase in whole.phases))
