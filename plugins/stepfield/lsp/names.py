"""The names in a file: what stands at a place, and where it was declared."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass

from ..language.model import Protocol, ProtocolSet, Step
from ..language.source import Span, Text


@dataclass(frozen=True, slots=True)
class Named:
    """A name at a place, and the step it is written in, if any."""

    text: Text
    step: Step | None


def name_at(protocol_set: ProtocolSet, path: str, line: int, column: int) -> Named | None:
    """The shortest name that a place in a file lies in."""
    found = [
        Named(text, step)
        for text, step in _texts(protocol_set, None)
        if text.span.path == path and _holds(text.span, line, column)
    ]
    return min(found, key=lambda one: len(one.text.value), default=None)


def declared(protocol_set: ProtocolSet, path: str, name: Named) -> Span | None:
    """Where a name is declared: a step, a subject, a role, a choice, a phase, a part or a requirement."""
    value = name.text.value
    for protocol in protocol_set.protocols:
        if protocol.path != path and all(step.span.path != path for step in protocol.steps):
            continue
        found = _in_protocol(protocol, value, name)
        if found is not None:
            return found
    if protocol_set.clinic is not None:
        role = next((role.id.span for role in protocol_set.clinic.roles if role.id.value == value), None)
        if role is not None:
            return role
    return next((one.id.span for one in protocol_set.requirements if one.id.value == value), None)


def _in_protocol(protocol: Protocol, value: str, name: Named) -> Span | None:
    prefix = name.step.id.value.rpartition(".")[0] if name.step is not None else ""
    steps = {step.id.value: step.id.span for step in protocol.steps}
    for wanted in (value, f"{prefix}.{value}"):
        if wanted in steps:
            return steps[wanted]
    if value in protocol.subjects and protocol.subjects[value].role is None:
        return protocol.subjects[value].name.span
    for choice in protocol.choices:
        if choice.id.value == value:
            return choice.id.span
        for option, _ in choice.options:
            if option.value == value and option.span.path == name.text.span.path:
                return option.span
    return None


def _holds(span: Span, line: int, column: int) -> bool:
    return (span.line, span.column) <= (line, column) <= (span.end_line, span.end_column)


def _texts(value: object, step: Step | None) -> Iterator[tuple[Text, Step | None]]:
    """Every piece of text with a place, however deep, with the step around it."""
    if isinstance(value, Text):
        yield value, step
        return
    around = value if isinstance(value, Step) else step
    if is_dataclass(value):
        for one in fields(value):
            if not (isinstance(value, ProtocolSet) and one.name in ("problems", "sources")):
                yield from _texts(getattr(value, one.name), around)
    elif isinstance(value, tuple):
        for inner in value:
            yield from _texts(inner, around)
    elif isinstance(value, Mapping):
        for inner in value.values():
            yield from _texts(inner, around)
