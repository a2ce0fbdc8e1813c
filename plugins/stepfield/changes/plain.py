"""A value of a protocol set without the places it was read from, so that two texts can be held against each other."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import fields, is_dataclass
from typing import Any

from ..language.source import Span, Text


def plain(value: Any) -> Hashable:
    """The value with every place left out; equal for two texts that say the same."""
    if isinstance(value, Text):
        return value.value
    if isinstance(value, Span):
        return None
    if is_dataclass(value) and not isinstance(value, type):
        return (type(value).__name__, *(plain(getattr(value, one.name)) for one in fields(value) if one.name != "path"))
    if isinstance(value, Mapping):
        return tuple((plain(key), plain(inner)) for key, inner in value.items())
    if isinstance(value, (list, tuple)):
        return tuple(plain(inner) for inner in value)
    if isinstance(value, (set, frozenset)):
        return frozenset(plain(inner) for inner in value)
    known: Hashable = value
    return known
