"""Single fields of a step: compared without their places, and set to new values."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import fields, is_dataclass, replace
from typing import Any

from .model import Need, Step
from .schemas import effect_forms
from .source import Span, Text

_NAMES = {"with": "helpers"}
"""Fields that the model calls otherwise than the language does."""
_IN_ORDER = frozenset({"asks", "do", "why", "takes", "repeat", "role"})


def bare(value: Any) -> Any:
    """A value without the places it was read from, to be compared; line breaks in texts make no difference."""
    if isinstance(value, Text):
        return " ".join(value.value.split())
    if isinstance(value, tuple):
        return tuple(map(bare, value))
    if is_dataclass(value) and not isinstance(value, type):
        found = {field.name: getattr(value, field.name) for field in fields(value)}
        return tuple(
            (name, bare(one)) for name, one in found.items() if not isinstance(one, Span) and name != "used_at"
        )
    return value


def field_of(step: Step, field: str) -> Any:
    """What stands in one field of a step, without places; what ``sterile`` stands for does not count as needs."""
    if field == "sterile":
        return bool(sterile_needs(step))
    if field == "needs":
        own = sterile_needs(step)
        return tuple(sorted(bare(need) for need in step.needs if need not in own))
    if field in _effect_fields():
        found = [bare(effect) for effect in step.effects if effect.field == field]
        return tuple(found)
    value = bare(getattr(step, _NAMES.get(field, field)))
    return tuple(sorted(value)) if isinstance(value, tuple) and field not in _IN_ORDER else value


def with_fields(step: Step, given: Step, names: Collection[str]) -> Step:
    """The step with the fields named as ``given`` has them."""
    effects = _effect_fields()
    found: dict[str, Any] = {}
    for name in names:
        if name not in effects and name not in ("sterile", "needs"):
            found[_NAMES.get(name, name)] = getattr(given, _NAMES.get(name, name))
    changed = [name for name in names if name in effects]
    if changed:
        kept = [effect for effect in step.effects if effect.field not in changed]
        order = list(effects)
        new = [effect for effect in given.effects if effect.field in changed]
        # Sorting keeps the listed order inside one field.
        found["effects"] = tuple(sorted([*kept, *new], key=lambda effect: order.index(effect.field)))
    if {"sterile", "needs", "role"} & {*names}:
        found["needs"] = _needs(step, given, names)
    if "keeps" in names:
        told = found.get("meets", step.meets)
        known = {name.value for name in told}
        found["meets"] = (*told, *(kept.requirement for kept in given.keeps if kept.requirement.value not in known))
    return replace(step, **found)


def sterile_needs(step: Step) -> tuple[Need, ...]:
    """The needs that a step has because it says ``sterile``: they are written at one and the same place."""
    if step.role is None:
        return ()
    wanted = {f"{step.role}.hands", f"{step.role}.body"}
    found = tuple(need for need in step.needs if need.subject.value in wanted)
    one_place = len({need.subject.span for need in found}) == 1
    return found if len(found) == len(wanted) and one_place else ()


def _needs(step: Step, given: Step, names: Collection[str]) -> tuple[Need, ...]:
    was = sterile_needs(step)
    own = sterile_needs(given) if "sterile" in names else was
    written = [need for need in given.needs if need not in own] if "needs" in names else None
    if written is None:
        written = [need for need in step.needs if need not in was]
    role = given.role if "role" in names else step.role
    if role is not None:
        parts = [need.subject.value.rpartition(".")[2] for need in own]
        own = tuple(
            replace(need, subject=Text(f"{role}.{part}", need.subject.span))
            for part, need in zip(parts, own, strict=True)
        )
    replaced = {need.subject.value for need in own}
    return (*(need for need in written if need.subject.value not in replaced), *own)


def _effect_fields() -> tuple[str, ...]:
    return tuple(form.field for form in effect_forms())
