"""A read file as small frozen nodes: what stands where, before anything is known of its meaning."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Literal

from .source import Span, Text

Value = str | int | float | bool | None
Plain = Value | list["Plain"] | dict[str, "Plain"]
Route = tuple[str | int, ...]
Part = Literal["key", "value"]


@dataclass(frozen=True, slots=True)
class Scalar:
    """A single value. ``plain`` tells whether it stood without quotes, so that messages can speak of quotes."""

    value: Value
    span: Span
    plain: bool = True


@dataclass(frozen=True, slots=True)
class Sequence:
    """A list."""

    items: tuple[Node, ...]
    span: Span


@dataclass(frozen=True, slots=True)
class Entry:
    """One key of a mapping with its value."""

    key: Text
    value: Node


@dataclass(frozen=True, slots=True)
class Mapping:
    """A mapping in written order; no key stands in it twice."""

    entries: tuple[Entry, ...]
    span: Span
    _by_key: dict[str, Entry] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        # A step is asked for each of the thirty fields it could have.
        object.__setattr__(self, "_by_key", {entry.key.value: entry for entry in reversed(self.entries)})

    def entry(self, key: str) -> Entry | None:
        """The entry with this key, if there is one."""
        return self._by_key.get(key)

    def get(self, key: str) -> Node | None:
        """The value under this key, if there is one."""
        found = self.entry(key)
        return None if found is None else found.value


Node = Scalar | Sequence | Mapping


@dataclass(frozen=True, slots=True)
class Document:
    """One file that could be read as YAML."""

    path: str
    root: Node

    def plain(self) -> Plain:
        """The content without places: dictionaries, lists, text, numbers, booleans and None."""
        return plain(self.root)

    def span_of(self, route: Route, part: Part = "value") -> Span:
        """The place of the value (or of the key) at a route of keys and list positions.

        A route that leads nowhere gives the place of the last thing on it that exists; so does the key of a list entry,
        which is the entry itself.
        """
        node, span = self.root, self.root.span
        for number, step in enumerate(route):
            last = number == len(route) - 1
            if isinstance(node, Mapping) and isinstance(step, str):
                entry = node.entry(step)
                if entry is None:
                    return span
                node = entry.value
                span = entry.key.span if last and part == "key" else node.span
            elif isinstance(node, Sequence) and isinstance(step, int) and 0 <= step < len(node.items):
                node = node.items[step]
                span = node.span
            else:
                return span
        return span

    def at(self, route: Route) -> Node | None:
        """The node at a route, if the route leads somewhere."""
        node: Node | None = self.root
        for step in route:
            if isinstance(node, Mapping) and isinstance(step, str):
                node = node.get(step)
            elif isinstance(node, Sequence) and isinstance(step, int) and 0 <= step < len(node.items):
                node = node.items[step]
            else:
                return None
        return node

    def spans(self) -> Iterator[tuple[Route, Span | None, Span]]:
        """Every route of the file with the place of its key (None in a list and for the whole) and of its value."""
        return _spans((), None, self.root)


def plain(node: Node) -> Plain:
    """A node without its places."""
    if isinstance(node, Scalar):
        return node.value
    if isinstance(node, Sequence):
        return [plain(item) for item in node.items]
    return {entry.key.value: plain(entry.value) for entry in node.entries}


def _spans(route: Route, key: Span | None, node: Node) -> Iterator[tuple[Route, Span | None, Span]]:
    yield route, key, node.span
    if isinstance(node, Sequence):
        for number, item in enumerate(node.items):
            yield from _spans((*route, number), None, item)
    elif isinstance(node, Mapping):
        for entry in node.entries:
            yield from _spans((*route, entry.key.value), entry.key.span, entry.value)
