"""The language reference, drawn from the schemas: which fields a file has, what they mean, and an example of each."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

Schema = Mapping[str, Any]
_PLAIN = re.compile(r"[A-Za-z][A-Za-z0-9 .'/()_-]*")
_TYPED = re.compile(r"true|false|null|~", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Field:
    """One field: its name, meaning, what is expected, an example as written in YAML, and the shape it leads to."""

    name: str
    anchor: str
    meaning: str
    expects: str | None
    example: str | None
    required: bool
    effect: int | None
    """For what a step does: its place in the order in which effects happen."""
    shape: str | None


@dataclass(frozen=True, slots=True)
class Shape:
    """A kind of file, or a shape that files have in common, with its fields."""

    name: str
    anchor: str
    title: str
    meaning: str
    fields: tuple[Field, ...]


@dataclass(frozen=True, slots=True)
class Reference:
    """The whole language: kinds of file, the shapes inside them, and the small words (levels, times, names)."""

    files: tuple[Shape, ...]
    shapes: tuple[Shape, ...]
    words: tuple[Field, ...]


def reference(schemas: Mapping[str, Schema], shared: Schema) -> Reference:
    """Draws up the reference from the schemas of the file kinds (by kind) and the shared definitions."""
    definitions: Schema = shared["$defs"]
    files = tuple(_shape(kind, "file", schema, definitions) for kind, schema in schemas.items())
    inside = {name: spec for schema in schemas.values() for name, spec in schema.get("$defs", {}).items()}
    every = {**definitions, **inside}
    shapes = tuple(_shape(name, "shape", spec, every) for name, spec in every.items() if "properties" in spec)
    words = tuple(
        _field(name, "word", spec, every, required=False) for name, spec in every.items() if "properties" not in spec
    )
    return Reference(files, shapes, words)


def _shape(name: str, group: str, spec: Schema, definitions: Schema) -> Shape:
    required = spec.get("required", ())
    anchor = f"{group}_{name}"
    fields = (
        _field(field, anchor, inner, definitions, required=field in required)
        for field, inner in spec["properties"].items()
    )
    return Shape(name, anchor, spec.get("title", name), spec["description"], tuple(fields))


def _field(name: str, group: str, spec: Schema, definitions: Schema, *, required: bool) -> Field:
    target = next(_targets(spec, definitions), None)
    examples = spec.get("examples", ())
    effect = spec.get("x-effect", {}).get("order")
    return Field(
        name=name,
        anchor=f"{group}_{name}",
        meaning=spec.get("description", ""),
        expects=_expects(spec, definitions),
        example=flow(examples[0]) if examples else None,
        required=required,
        effect=effect,
        shape=target,
    )


def _expects(spec: Schema, definitions: Schema) -> str | None:
    if "x-expects" in spec:
        return str(spec["x-expects"])
    name = str(spec.get("$ref", "")).rpartition("/")[2]
    return _expects(definitions[name], definitions) if name in definitions else None


def _targets(spec: Any, definitions: Schema) -> Iterator[str]:
    """The shapes with fields of their own that a field leads to, however it is wrapped."""
    if isinstance(spec, Mapping):
        name = str(spec.get("$ref", "")).rpartition("/")[2]
        if name in definitions:
            if "properties" in definitions[name]:
                yield name
            else:
                yield from _targets(
                    {key: definitions[name].get(key) for key in ("items", "additionalProperties")}, definitions
                )
        for key in ("items", "additionalProperties", "anyOf", "oneOf"):
            yield from _targets(spec.get(key), definitions)
    elif isinstance(spec, list):
        for inner in spec:
            yield from _targets(inner, definitions)


def flow(value: Any) -> str:
    """A value as it is written in YAML on one line, without quotes where none are needed."""
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{flow(key)}: {flow(inner)}" for key, inner in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(flow(inner) for inner in value) + "]"
    if isinstance(value, str):
        is_plain = _PLAIN.fullmatch(value) and not _TYPED.fullmatch(value) and not value.endswith(" ")
        is_date_or_version = re.fullmatch(r"\d+[.-]\d+[.-]\d+|\d+(\.\d+)? (s|min|h|d)", value)
        return value if is_plain or is_date_or_version else json.dumps(value, ensure_ascii=False)
    return json.dumps(value)
