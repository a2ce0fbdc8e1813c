"""The schemas of the files: found, loaded, and asked whether a file fits.

The only module that knows the schema libraries. A compiled validator answers yes or no in microseconds. Only when it
says no is the slower library loaded that can list everything that is wrong.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import jsonschema_rs

from .yaml_nodes import Plain, Route

KINDS = ("accepted", "clinic", "protocol", "part", "evidence", "packs", "screens", "tailoring", "upstream")
SHARED = "definitions"
Schema = Mapping[str, Any]
_BELOW = ("properties", "items", "additionalProperties", "propertyNames")


@dataclass(frozen=True, slots=True)
class Misfit:
    """One place where a file does not fit: which keyword of the schema says so, about what.

    ``layers`` are the schemas that speak of the same value, the outermost first; ``instance`` is the value, or for
    a key that does not fit (``of_key``) the key, the route then leading to its mapping.
    """

    keyword: str
    wanted: Any
    route: Route
    instance: Any
    layers: tuple[Schema, ...]
    of_key: bool


@dataclass(frozen=True, slots=True)
class EffectForm:
    """How an effect is written in a step, and what kinds of things it takes: the schema's ``x-effect``."""

    field: str
    order: int
    form: str
    thing: str | None
    target: str | None


def schema_folder() -> Path:
    """Where the schemas lie: inside the installed package, or beside the sources."""
    here = Path(__file__).resolve()
    packed = here.parents[1] / "schema"
    return packed if packed.is_dir() else here.parents[3] / "schema"


@cache
def schema(kind: str) -> dict[str, Any]:
    """The schema of one kind of file, with the shared definitions put in so that it stands alone."""
    alone: dict[str, Any] = json.loads(_text(kind).replace(f'"{SHARED}.schema.json#/', '"#/'))
    if kind != SHARED:
        alone["$defs"] = {**schema(SHARED)["$defs"], **alone.get("$defs", {})}
    return alone


@cache
def effect_forms() -> tuple[EffectForm, ...]:
    """Every effect a step can have, in the order in which effects happen."""
    fields: Schema = schema(SHARED)["$defs"]["step"]["properties"]
    marked = ((name, spec["x-effect"]) for name, spec in fields.items() if "x-effect" in spec)
    forms = (EffectForm(name, at["order"], at["form"], at.get("thing"), at.get("target")) for name, at in marked)
    return tuple(sorted(forms, key=lambda form: form.order))


def forget() -> None:
    """Reads the schemas anew when they are next asked for: somebody may be changing them."""
    for remembered in (schema, effect_forms, _gate, _text):
        remembered.cache_clear()


def fits(kind: str, content: Plain) -> bool:
    """Whether the content of a file fits the schema of its kind."""
    return _gate(kind).is_valid(content)


def misfits(kind: str, content: Plain) -> Iterator[Misfit]:
    """Everything in the content of a file that does not fit the schema of its kind."""
    from jsonschema import Draft202012Validator

    whole = schema(kind)
    for error in Draft202012Validator(whole).iter_errors(content):
        yield from _narrowed(error, whole)


@cache
def _gate(kind: str) -> jsonschema_rs.Draft202012Validator:
    return jsonschema_rs.Draft202012Validator(schema(kind))


@cache
def _text(kind: str) -> str:
    return (schema_folder() / f"{kind}.schema.json").read_text(encoding="utf-8")


def _narrowed(error: Any, whole: Schema) -> Iterator[Misfit]:
    """The error itself, or what is wrong with the one alternative that the value was meant to be."""
    if error.validator == "anyOf":
        branches: dict[Any, list[Any]] = {}
        for inner in error.context:
            branches.setdefault(inner.relative_schema_path[0], []).append(inner)
        meant = [found for found in branches.values() if not any(_wrong_type(inner) for inner in found)]
        if len(meant) == 1:
            for inner in meant[0]:
                yield from _narrowed(inner, whole)
            return
    layers, of_key = _layers(list(error.absolute_schema_path), whole)
    route = tuple(error.absolute_path)
    yield Misfit(error.validator, error.validator_value, route, error.instance, layers, of_key)


def _wrong_type(error: Any) -> bool:
    return error.validator == "type" and not error.relative_path


def _layers(path: list[Any], whole: Schema) -> tuple[tuple[Schema, ...], bool]:
    """The schemas passed on the way to a keyword since the value it judges was entered, and whether that is a key."""
    at: Any = whole
    layers: list[Schema] = [whole]
    of_key = False
    number = 0
    while True:
        step = path[number]
        while step not in at and "$ref" in at:  # the library leaves references out of the path
            at = whole["$defs"][at["$ref"].rpartition("/")[2]]
            layers.append(at)
        number += 1
        if number == len(path):
            return tuple(layers), of_key
        at = at[step]
        if step in _BELOW:
            if step == "properties":
                at = at[path[number]]
                number += 1
            layers, of_key = [at], step == "propertyNames"
        else:
            if step == "anyOf":
                at = at[path[number]]
                number += 1
            layers.append(at)
