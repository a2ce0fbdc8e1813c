"""Changing single fields and lines in the text of a protocol or a part, so that a patch is no longer than it must be.

After each change the text is read again and must say what it was meant to say, and nothing else; no comment is lost
but those of a line that is taken out.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from collections.abc import Mapping as Map
from typing import Any

from ..language.editing import CannotEditError, in_flow
from ..language.layout import comments_of
from ..language.yaml_nodes import Document, Mapping, Node, Plain, Route, Scalar
from ..language.yaml_nodes import Sequence as List
from ..language.yaml_reader import read_yaml
from .additions import WIDEST, field_lines, in_block

Files = Map[str, bytes]
_MARK = b"\xef\xbb\xbf"


def changed(files: Files, path: str, change: Callable[[str], str]) -> dict[str, bytes]:
    """The files with the text of one of them changed; a byte order mark stays."""
    mark = _MARK if files[path].startswith(_MARK) else b""
    return {**files, path: mark + change(files[path].removeprefix(_MARK).decode()).encode()}


def with_field(text: str, path: str, route: Route, key: str, value: Plain, order: Sequence[str] = ()) -> str:
    """The text with a field of the mapping at a route set, or added if it is not there.

    A new one goes behind those that come before it in ``order``, or else to the end. Raises CannotEditError if the
    layout does not allow it.
    """
    document = _read(text, path)
    holder = _mapping(document, route)
    new = _Text(text).with_field(holder, key, value, order)
    return _sure(text, new, document, lambda whole: _at(whole, route).__setitem__(key, value))


def without_field(text: str, path: str, route: Route, key: str) -> str:
    """The text without a field of the mapping at a route. Raises CannotEditError if the layout does not allow it."""
    document = _read(text, path)
    new = _Text(text).without_field(_mapping(document, route), key)
    return _sure(text, new, document, lambda whole: _at(whole, route).__delitem__(key))


def with_line(text: str, path: str, route: Route, value: dict[str, Plain], *, behind: bool) -> str:
    """The text with an entry more in a list, before or behind the one at a route.

    Raises CannotEditError if the layout does not allow it.
    """
    document = _read(text, path)
    holder = _list(document, route)
    number = int(route[-1])
    new = _Text(text).with_line(holder, number, value, behind=behind)
    return _sure(text, new, document, lambda whole: _at(whole, route[:-1]).insert(number + behind, value))


def without_line(text: str, path: str, route: Route) -> str:
    """The text without the entry of a list at a route, and without the comments right above and inside it.

    Raises CannotEditError if the layout does not allow it.
    """
    document = _read(text, path)
    holder, number = _list(document, route), int(route[-1])
    new = _Text(text).without_line(holder, number)
    return _sure(text, new, document, lambda whole: _at(whole, route[:-1]).__delitem__(number), lost=True)


def _read(text: str, path: str) -> Document:
    reading = read_yaml(text.encode(), path)
    if reading.document is None or reading.problems:
        raise CannotEditError(f"{path} cannot be read as meant")
    return reading.document


def _mapping(document: Document, route: Route) -> Mapping:
    holder = document.at(route)
    if not isinstance(holder, Mapping):
        raise CannotEditError(f"{document.path} has no fields at {'.'.join(map(str, route))}")
    return holder


def _list(document: Document, route: Route) -> List:
    holder = document.at(route[:-1])
    if not isinstance(holder, List) or not isinstance(route[-1], int):
        raise CannotEditError(f"{document.path} has no list at {'.'.join(map(str, route[:-1]))}")
    return holder


def _at(whole: Plain, route: Route) -> Any:
    for step in route:
        whole = whole[step]  # type: ignore[index]
    return whole


def _sure(text: str, new: str, document: Document, change: Callable[[Plain], object], *, lost: bool = False) -> str:
    """The new text, once it is sure that it says what was meant."""
    meant = document.plain()
    change(meant)
    again = read_yaml(new.encode(), document.path)
    if again.document is None or again.problems or again.document.plain() != meant:
        raise CannotEditError(f"the layout of {document.path} does not allow it")
    if not lost and comments_of(text) - comments_of(new):
        raise CannotEditError(f"a comment of {document.path} would be lost")
    return new


class _Text:
    """A text as its lines."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.lines = text.split("\n")
        self.newline = "\r\n" if "\r\n" in text else "\n"

    def with_field(self, holder: Mapping, key: str, value: Plain, order: Sequence[str]) -> str:
        entry = holder.entry(key)
        if entry is None:
            return self._with_new(holder, key, value, order)
        key_at, span = entry.key.span, entry.value.span
        in_line = key_at.line == span.line == span.end_line
        told = in_flow(value)
        if self._is_flow(holder) or (in_line and span.end_column - span.column > 0):
            start, end = self._offset(span.line, span.column), self._offset(span.end_line, span.end_column)
            line = self.lines[span.line - 1]
            if self._is_flow(holder) or len(line) - (end - start) + len(told) <= WIDEST:
                return f"{self.text[:start]}{told}{self.text[end:]}"
        lead = self.lines[key_at.line - 1][: key_at.column - 1]
        first, *rest = field_lines(in_flow(key), value, key_at.column - 1)
        return self._instead(key_at.line, max(span.end_line, key_at.line), [lead + first.lstrip(), *rest])

    def _with_new(self, holder: Mapping, key: str, value: Plain, order: Sequence[str]) -> str:
        """A field more, behind the last of those that come before it."""
        earlier = order[: order.index(key)] if key in order else [one.key.value for one in holder.entries]
        known = [one for one in holder.entries if one.key.value in earlier]
        if not holder.entries:
            at = self._offset(holder.span.line, holder.span.column) + 1
            return f"{self.text[:at]}{in_flow(key)}: {in_flow(value)}{self.text[at:]}"
        behind = known[-1] if known else holder.entries[0]
        end = behind.value.span
        if self._is_flow(holder):
            at = self._offset(end.end_line, end.end_column)
            return f"{self.text[:at]}, {in_flow(key)}: {in_flow(value)}{self.text[at:]}"
        lines = list(field_lines(in_flow(key), value, holder.entries[0].key.span.column - 1))
        return self._below(max(end.end_line, behind.key.span.line), lines)

    def without_field(self, holder: Mapping, key: str) -> str:
        names = [entry.key.value for entry in holder.entries]
        number = names.index(key)
        entry = holder.entries[number]
        first, last = entry.key.span, entry.value.span
        if not self._is_flow(holder):
            if self.lines[first.line - 1][: first.column - 1].strip():
                raise CannotEditError(f"`{key}` stands first in line {first.line}")
            return self._instead(first.line, max(last.end_line, first.line), [])
        start, end = self._offset(first.line, first.column), self._offset(last.end_line, last.end_column)
        if number + 1 < len(names):
            following = holder.entries[number + 1].key.span
            end = self._offset(following.line, following.column)
        elif number:
            earlier = holder.entries[number - 1].value.span
            start = self._offset(earlier.end_line, earlier.end_column)
        return f"{self.text[:start]}{self.text[end:]}"

    def with_line(self, holder: List, number: int, value: dict[str, Plain], *, behind: bool) -> str:
        item = holder.items[number]
        if self._is_flow(holder):
            told, span = in_flow(value), item.span
            line, column = (span.end_line, span.end_column) if behind else (span.line, span.column)
            at = self._offset(line, column)
            return f"{self.text[:at]}{f', {told}' if behind else f'{told}, '}{self.text[at:]}"
        column = holder.span.column - 1
        self._whole_line(item, column)
        first, *rest = in_block(value, column + 2)
        lines = [f"{' ' * column}- {first.lstrip()}", *rest]
        return self._below(item.span.end_line if behind else self._above(item.span.line) - 1, lines)

    def without_line(self, holder: List, number: int) -> str:
        if len(holder.items) == 1:
            raise CannotEditError("it is the only step of its list, and a list without steps cannot be written")
        item = holder.items[number]
        if not self._is_flow(holder):
            self._whole_line(item, holder.span.column - 1)
            return self._instead(self._above(item.span.line), item.span.end_line, [])
        start = self._offset(item.span.line, item.span.column)
        end = self._offset(item.span.end_line, item.span.end_column)
        if number + 1 < len(holder.items):
            following = holder.items[number + 1].span
            end = self._offset(following.line, following.column)
        else:
            earlier = holder.items[number - 1].span
            start = self._offset(earlier.end_line, earlier.end_column)
        return f"{self.text[:start]}{self.text[end:]}"

    def _whole_line(self, item: Node, column: int) -> None:
        """Makes sure that an entry of a block list begins its line with its dash."""
        if not re.fullmatch(rf" {{{column}}}- +", self.lines[item.span.line - 1][: item.span.column - 1]):
            raise CannotEditError(f"line {item.span.line} does not begin with what it is about")

    def _above(self, line: int) -> int:
        """The first of the comments right above a line."""
        while line > 1 and self.lines[line - 2].lstrip().startswith("#"):
            line -= 1
        return line

    def _instead(self, first: int, last: int, lines: Iterable[str]) -> str:
        """Other lines in the place of some."""
        end = "\r" if self.newline == "\r\n" else ""
        return "\n".join([*self.lines[: first - 1], *(f"{one}{end}" for one in lines), *self.lines[last:]])

    def _below(self, line: int, lines: list[str]) -> str:
        if line >= len(self.lines):
            return f"{self.text}{self.newline}{self.newline.join(lines)}"
        return self._instead(line + 1, line, lines)

    def _is_flow(self, node: Node) -> bool:
        return not isinstance(node, Scalar) and self.text[self._offset(node.span.line, node.span.column)] in "{["

    def _offset(self, line: int, column: int) -> int:
        return sum(len(one) + 1 for one in self.lines[: line - 1]) + column - 1
