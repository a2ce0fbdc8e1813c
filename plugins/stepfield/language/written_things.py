"""Attributes of a thing as a file would write them: for entries of tailoring.yaml and for patches."""

from __future__ import annotations

from collections.abc import Callable

from .declared import title_from
from .model import Kind, Level, Subject
from .yaml_nodes import Plain

_WRITTEN: dict[str, Callable[[Subject], Plain]] = {
    "title": lambda one: one.title,
    "starts": lambda one: one.starts.word,
    "worn_on": lambda one: one.worn_on,
    "barrier": lambda one: "fluid-proof" if one.fluid_proof else "absorbent",
    "count": lambda one: one.count,
    "counted": lambda one: one.counted,
    "sharp": lambda one: one.sharp,
    "sharps": lambda one: one.sharps,
    "reusable": lambda one: one.reusable,
    "hazard": lambda one: one.hazard,
    "spare": lambda one: one.spare,
}
ATTRIBUTES = tuple(_WRITTEN)
"""The fields of a thing, in the order of the schema."""
_SURFACE = ("title", "starts")


def written_attribute(thing: Subject, field: str) -> Plain:
    """What a file would write for a field of a thing; None where nothing is said that could be written."""
    return _WRITTEN[field](thing)


def written_thing(thing: Subject) -> dict[str, Plain]:
    """The fields of a thing that say something, as they would stand where it is declared."""
    plain = _plain(thing)
    fields = _SURFACE if thing.kind in (Kind.SURFACE, Kind.SITE) else ATTRIBUTES
    values = {field: written_attribute(thing, field) for field in fields}
    return {field: value for field, value in values.items() if value != written_attribute(plain, field)}


def _plain(thing: Subject) -> Subject:
    """A thing of the same name and kind in the same place, of which nothing is said."""
    if thing.held_in is not None:
        starts = Level.STERILE
    else:
        starts = Level.CLEAN if thing.kind is Kind.PACK else Level.CONTAMINATED
    return Subject(thing.name, thing.kind, title_from(thing.name.value), starts, held_in=thing.held_in)
