"""The attributes of a thing, set to what they are in a clinic that adopted the set."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from .model import Level, Subject
from .values import flag, level, text_or, whole
from .yaml_nodes import Mapping

_READ: dict[str, tuple[str, Callable[[Mapping, str], Any]]] = {
    "title": ("title", lambda node, key: text_or(node, key, "")),
    "starts": ("starts", lambda node, key: level(node.get(key), Level.CONTAMINATED)),
    "worn_on": ("worn_on", lambda node, key: text_or(node, key, "")),
    "barrier": ("fluid_proof", lambda node, key: text_or(node, key, "") == "fluid-proof"),
    "count": ("count", lambda node, key: whole(node, key, 1)),
    "counted": ("counted", flag),
    "sharp": ("sharp", flag),
    "sharps": ("sharps", flag),
    "reusable": ("reusable", flag),
    "hazard": ("hazard", lambda node, key: text_or(node, key, "")),
    "spare": ("spare", lambda node, key: whole(node, key, 0)),
}
"""By the name of a field, the attribute it stands for and how it is read."""


def with_attributes(subject: Subject, node: Mapping) -> Subject:
    """The thing with the attributes that a mapping names."""
    found = {}
    for entry in node.entries:
        if entry.key.value in _READ:
            attribute, read = _READ[entry.key.value]
            found[attribute] = read(node, entry.key.value)
    return replace(subject, **found)


def attribute_of(subject: Subject, field: str) -> object:
    """What a thing has for a field of a file."""
    return getattr(subject, _READ[field][0])
