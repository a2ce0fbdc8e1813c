"""Changes that change nothing: other names, other words, another order of writing, a step that touches nothing."""

from __future__ import annotations

import dataclasses
import itertools
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from typing import Any

from stepfield.language.model import Phase, Protocol, Step
from stepfield.language.source import Text
from tests.mutation.editing import lane_of, with_phase

Change = tuple[str, Protocol, Mapping[str, str]]
"""What was done, the changed protocol, and its new names."""


def changes_of(whole: Protocol) -> Iterator[Change]:
    """Every neutral change of a protocol."""
    for name, names in (("steps", _step_names(whole)), ("things", _thing_names(whole)), ("facts", _fact_names(whole))):
        yield f"other names for {name}", renamed(whole, names), names
    yield "other titles", retitled(whole), {}
    yield "another order of writing", woven(whole), {}
    for phase in whole.phases:
        for pair in itertools.pairwise(phase.steps):
            if not {str(pair[0].role), *map(str, pair[0].helpers)} & {str(pair[1].role), *map(str, pair[1].helpers)}:
                yield f"{pair[1].id} written before {pair[0].id}", _rewritten(whole, phase, *pair), {}
        for role in whole.team:
            yield f"{role} looks up in {phase.id}", with_free_step(whole, phase, role), {}


def renamed(whole: Protocol, names: Mapping[str, str]) -> Protocol:
    """The protocol with every id of the mapping exchanged, wherever it stands as a name of its own."""
    changed = _exchange(whole, names)
    assert isinstance(changed, Protocol)
    return replace(changed, id=whole.id, path=whole.path)


def retitled(whole: Protocol) -> Protocol:
    """The protocol in other words: titles, what to do, why."""

    def told(step: Step) -> Step:
        return replace(step, do=Text("Do as was shown.", step.do.span), why=None)

    subjects = {name: replace(subject, title=f"The other {name}") for name, subject in whole.subjects.items()}
    phases = (replace(one, title="Next", steps=tuple(told(step) for step in one.steps)) for one in whole.phases)
    title = Text("Something else", whole.title.span)
    return replace(whole, title=title, purpose="Other words.", subjects=subjects, phases=tuple(phases))


def woven(whole: Protocol) -> Protocol:
    """The protocol with the lanes of every phase written one after the other, as far as shared steps allow."""
    return replace(whole, phases=tuple(_lane_after_lane(whole, phase) for phase in whole.phases))


def with_free_step(whole: Protocol, phase: Phase, role: Text) -> Protocol:
    """The protocol with one more step at the end of a phase, that does nothing."""
    plain = next(iter(phase.steps))
    empty: dict[str, Any] = {
        field.name: () for field in dataclasses.fields(Step) if isinstance(getattr(plain, field.name), tuple)
    }
    bare = {"why": None, "asks": None, "repeat": None, "takes": None, "ignition": False, "ends_field": False}
    free = replace(plain, **empty, **bare, id=Text("look-up", plain.id.span), role=role, part=None)
    return with_phase(whole, phase, replace(phase, steps=(*phase.steps, free)))


def _rewritten(whole: Protocol, phase: Phase, first: Step, second: Step) -> Protocol:
    steps = [second if step is first else first if step is second else step for step in phase.steps]
    return with_phase(whole, phase, replace(phase, steps=tuple(steps)))


def _lane_after_lane(whole: Protocol, phase: Phase) -> Phase:
    """Takes from the last lane of the team what it can, then from the one before, and so on."""
    lanes = [lane_of(phase, role.value) for role in reversed(whole.team)]
    written: list[Step] = []
    while len(written) < len(phase.steps):
        for lane in lanes:
            first = lane[0] if lane else None
            if first is not None and all(other[0] is first for other in lanes if first in other):
                written.append(first)
                for other in lanes:
                    if first in other:
                        other.remove(first)
                break
    return replace(phase, steps=tuple(written))


def _step_names(whole: Protocol) -> dict[str, str]:
    return {step.id.value: f"s{number}" for number, step in enumerate(reversed(whole.steps))}


def _thing_names(whole: Protocol) -> dict[str, str]:
    """Of what the protocol declares itself; the clinic's surfaces have the clinic's names."""
    things = [name for name, one in whole.subjects.items() if one.role is None and one.name.span.path == whole.path]
    return {name: f"thing{number}" for number, name in enumerate(reversed(things))}


def _fact_names(whole: Protocol) -> dict[str, str]:
    facts = dict.fromkeys(
        fact.value for step in whole.steps for fact in (*step.confirms, *step.requires, *step.withdraws)
    )
    return {name: f"fact{number}" for number, name in enumerate(facts)}


_EXCHANGES: dict[type, Callable[[Any, Mapping[str, str]], Any]] = {
    str: lambda value, names: names.get(value, value),
    Text: lambda value, names: Text(names.get(value.value, value.value), value.span),
    tuple: lambda value, names: tuple(_exchange(one, names) for one in value),
    dict: lambda value, names: {names.get(key, key): _exchange(one, names) for key, one in value.items()},
}


def _exchange(value: Any, names: Mapping[str, str]) -> Any:
    kind = dict if isinstance(value, Mapping) else type(value)
    if kind in _EXCHANGES:
        return _EXCHANGES[kind](value, names)
    if dataclasses.is_dataclass(value) and not isinstance(value, type) and kind.__name__ != "Span":
        fields = {one.name: _exchange(getattr(value, one.name), names) for one in dataclasses.fields(value)}
        return replace(value, **fields)
    return value
