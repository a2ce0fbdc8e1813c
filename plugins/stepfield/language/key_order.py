"""In which order the keys of a file are written: the order of the schema's properties."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from .schemas import Schema, schema


class Shape:
    """What the schema says of one value, as far as the order of its keys goes."""

    def __init__(self, root: Schema, layers: list[Schema]) -> None:
        self.root, self.layers = root, layers

    @classmethod
    def of(cls, kind: str) -> Shape:
        """The shape of a whole file."""
        root = schema(kind)
        return cls(root, list(_opened(root, root)))

    def keys(self, present: Iterable[str]) -> list[str]:
        """The known keys in their order; none where names are free, because there the order may mean something.

        Where the schema has alternatives, the one that fits most of the keys ``present`` comes first.
        """
        names = set(present)
        known = [layer["properties"] for layer in self.layers if "properties" in layer]
        known.sort(key=lambda fields: -len(names & fields.keys()))
        return list(dict.fromkeys(name for fields in known for name in fields))

    def below(self, key: str | int) -> Shape:
        """The shape of the value under a key, or of the entries of a list."""
        found: list[Schema] = []
        for layer in self.layers:
            if isinstance(key, int):
                inner: Any = layer.get("items")
            else:
                inner = layer.get("properties", {}).get(key, layer.get("additionalProperties"))
            if isinstance(inner, dict):
                found += _opened(inner, self.root)
        return Shape(self.root, found)


def _opened(one: Schema, root: Schema) -> Iterator[Schema]:
    """A schema with what it refers to and its alternatives."""
    yield one
    if "$ref" in one:
        yield from _opened(root["$defs"][one["$ref"].rpartition("/")[2]], root)
    for inner in (*one.get("anyOf", ()), *(one[word] for word in ("then", "else") if word in one)):
        yield from _opened(inner, root)
