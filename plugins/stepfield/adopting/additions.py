"""Adding entries to the text of tailoring.yaml; every character that stands there stays.

What comes out is read again and must say what it said before, the new entries besides, and nothing else.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ..language.editing import CannotEditError, in_flow
from ..language.yaml_nodes import Document, Mapping, Node, Plain, Scalar
from ..language.yaml_reader import read_yaml

WIDEST = 120
_WORDS = re.compile(r"[A-Za-z][\w ,.;()'-]*[\w.)]")
"""Text that needs no quotes outside of brackets."""


@dataclass(frozen=True, slots=True)
class Addition:
    """One entry: in the list under ``key``, or in the mapping under it if the entry has a name.

    ``remarks`` become comments below its fields, where the layout has a place for them.
    """

    key: str
    value: dict[str, Plain]
    name: str | None = None
    remarks: tuple[str, ...] = ()


def with_additions(text: str, path: str, additions: Sequence[Addition], comments: Sequence[str] = ()) -> str:
    """The text with entries added in their order, and comments at its end.

    ``text`` is the file decoded, without a byte order mark. Raises CannotEditError if it cannot be read as meant, has
    an entry of the same name, or has a layout that does not allow it.
    """
    for one in additions:
        document = _read(text, path)
        meant = _meant(document, one)
        text = _Text(text).with_entry(document, one)
        if _read(text, path).plain() != meant:
            raise CannotEditError(f"the layout of {path} does not allow an entry to be added under `{one.key}`")
    newline = "\r\n" if "\r\n" in text else "\n"
    told = "".join(f"{comment}{newline}" for comment in comments)
    return text if not told else f"{text}{'' if text.endswith(newline) or not text else newline}{told}"


def in_block(value: dict[str, Plain], column: int) -> list[str]:
    """The lines of a mapping, one field after another, each in brackets as long as it fits into its line."""
    return [line for key, inner in value.items() for line in field_lines(in_flow(key), inner, column)]


def field_lines(key: str, value: Plain, column: int) -> Iterator[str]:
    """The lines of one field of a mapping."""
    indent = " " * column
    whole = f"{indent}{key}: {in_flow(value)}"
    if isinstance(value, str) and _WORDS.fullmatch(value) and value.casefold() not in ("true", "false", "null"):
        whole = f"{indent}{key}: {value}"
    if len(whole) <= WIDEST:
        yield whole
    elif isinstance(value, str) and value == " ".join(value.split()):
        yield f"{indent}{key}: >-"
        wide = WIDEST - column - 2
        lines = textwrap.wrap(value, wide, break_long_words=False, break_on_hyphens=False)
        yield from (f"{indent}  {line}" for line in lines)
    elif isinstance(value, dict) and value:
        yield f"{indent}{key}:"
        yield from in_block(value, column + 2)
    elif isinstance(value, list) and value:
        yield f"{indent}{key}:"
        for item in value:
            yield from item_lines(item, column + 2)
    else:
        yield whole


def item_lines(value: Plain, column: int) -> Iterator[str]:
    """An entry of a list, from the column of its dash."""
    whole = f"{' ' * column}- {in_flow(value)}"
    if len(whole) <= WIDEST or not isinstance(value, dict):
        yield whole
    else:
        first, *rest = in_block(value, column + 2)
        yield f"{' ' * column}- {first.lstrip()}"
        yield from rest


def _read(text: str, path: str) -> Document:
    reading = read_yaml(text.encode(), path)
    if reading.document is None or reading.problems:
        raise CannotEditError(f"{path} cannot be read as meant")
    return reading.document


def _meant(document: Document, one: Addition) -> Plain:
    """What the file says with an entry more."""
    whole = document.plain()
    assert isinstance(whole, dict)
    if one.name is None:
        holder = whole.setdefault(one.key, [])
        assert isinstance(holder, list)
        holder.append(one.value)
        return whole
    named = whole.setdefault(one.key, {})
    assert isinstance(named, dict)
    if one.name in named:
        raise CannotEditError(f"{document.path} has an entry for '{one.name}' under `{one.key}` already")
    named[one.name] = one.value
    return whole


class _Text:
    """A text as its lines."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.lines = text.split("\n")
        self.newline = "\r\n" if "\r\n" in text else "\n"

    def with_entry(self, document: Document, one: Addition) -> str:
        """The text with one entry more."""
        root = document.root
        assert isinstance(root, Mapping)
        if self._is_flow(root):
            raise CannotEditError(f"{document.path} stands in brackets as a whole; write each of its fields on a line")
        holder = root.get(one.key)
        if holder is None:
            last = len(self.lines) - (self.lines[-1] == "")
            return self._below(last, [f"{one.key}:", *_lines(one, 2)])
        assert not isinstance(holder, Scalar)
        inside: list[Node] = (
            [entry.value for entry in holder.entries] if isinstance(holder, Mapping) else [*holder.items]
        )
        if self._is_flow(holder):
            told = in_flow(one.value) if one.name is None else f"{in_flow(one.name)}: {in_flow(one.value)}"
            if not inside:
                return self._at(holder.span.line, holder.span.column + 1, told)
            return self._at(inside[-1].span.end_line, inside[-1].span.end_column, f", {told}")
        column = holder.entries[0].key.span.column if isinstance(holder, Mapping) else holder.span.column
        return self._below(self._end(inside[-1].span.end_line, column), _lines(one, column - 1))

    def _end(self, line: int, column: int) -> int:
        """The last line of an entry that ends at a line: comments below it that stand further in are its own."""
        while line < len(self.lines) and self.lines[line].startswith(" " * column):
            if not self.lines[line].lstrip().startswith("#"):
                break
            line += 1
        return line

    def _is_flow(self, node: Node) -> bool:
        return self.text[self._offset(node.span.line, node.span.column)] in "{["

    def _at(self, line: int, column: int, told: str) -> str:
        at = self._offset(line, column)
        return f"{self.text[:at]}{told}{self.text[at:]}"

    def _below(self, line: int, written: Sequence[str]) -> str:
        """The text with whole lines below one of its lines."""
        if line >= len(self.lines):
            return f"{self.text}{self.newline}{self.newline.join(written)}{self.newline}"
        told = "".join(f"{one}{self.newline}" for one in written)
        return self._at(line + 1, 1, told)

    def _offset(self, line: int, column: int) -> int:
        return sum(len(one) + 1 for one in self.lines[: line - 1]) + column - 1


def _lines(one: Addition, column: int) -> list[str]:
    """The lines of an entry of a block, with its remarks as comments."""
    indent = " " * column
    if one.name is None:
        first, *rest = in_block(one.value, column + 2)
        return [f"{indent}- {first.lstrip()}", *rest, *(f"{indent}  # {remark}" for remark in one.remarks)]
    # Field by field, so that a reason can be written below.
    fields = in_block(one.value, column + 2)
    return [f"{indent}{in_flow(one.name)}:", *fields, *(f"{indent}  # {remark}" for remark in one.remarks)]
