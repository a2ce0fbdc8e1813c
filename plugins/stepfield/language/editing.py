"""Adding to the text of a protocol file without touching a character of what stands there.

Everything is an insertion at a place the reader found, in the style of what stands around it; comments and layout stay.
What comes out is read again and must say what it was meant to say, and nothing else.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Sequence

from .source import Span
from .yaml_nodes import Document, Entry, Mapping, Node, Plain, Route, Scalar, plain
from .yaml_nodes import Sequence as List
from .yaml_reader import read_yaml

LEFT_OUT = frozenset({"id", "after", "when", "asks", "repeat", "waits", "within"})
"""What a step that is done once more does not take along: its name, its place in the order, its questions."""
_SAFE = re.compile(
    r"[A-Za-z][\w.-]*(?: [\w.-]+)*|[0-9]+(?:\.[0-9]+)? (?:s|min|h|d)|[0-9]+(?:\.[0-9]+){2}(?:-[A-Za-z][\w.-]*)?"
)
"""Words, lengths of time and versions, which are text without quotes too."""


class CannotEditError(Exception):
    """The text can't be changed by insertions alone; says why, for people."""


class Editor:
    """One file's text and what is to be added to it: first the waits, then at most one line.

    ``text`` is the file decoded, without a byte order mark. Raises CannotEditError if it can't be read as meant.
    """

    def __init__(self, text: str, path: str) -> None:
        reading = read_yaml(text.encode(), path)
        if reading.document is None or reading.problems:
            raise CannotEditError(f"{path} cannot be read as meant")
        self.text, self.path = text, path
        self.document: Document = reading.document
        self.expected: Plain = reading.document.plain()
        self.lines = text.split("\n")
        self.newline = "\r\n" if "\r\n" in text else "\n"
        self.insertions: list[tuple[int, str]] = []

    def wait(self, at: Span, names: Sequence[str]) -> None:
        """Lets the step or use whose mapping stands at a place come after what is named."""
        route, node = self._mapping(at)
        entry = node.entry("after")
        meant = self._plain(route)
        assert isinstance(meant, dict)
        if entry is None:
            meant["after"] = list(names)
            self._new_field(node, f"after: [{', '.join(names)}]")
            return
        listed = meant["after"]
        if not isinstance(listed, list) or not isinstance(entry.value, List):
            raise CannotEditError(f"the `after` in line {entry.key.span.line} is no list")
        known = [name for name in names if name not in listed]
        listed += known
        self._longer(entry.value, known)

    def use(self, fields: dict[str, Plain], beside: Span, *, behind: bool) -> None:
        """Writes the use of a part, given by its fields, before or behind the line at a place."""
        self._new_line([[f"{key}: {in_flow(value)}"] for key, value in fields.items()], fields, beside, behind=behind)

    def again(self, step: Span, name: str, after: Sequence[str], beside: Span, *, behind: bool) -> None:
        """Writes the step at a place once more, under a new name, before or behind the line at another place."""
        _, source = self._mapping(step)
        _, neighbour = self._mapping(beside)
        bracketed = self._is_flow(neighbour) or self._is_flow(source)
        fields, meant = [[f"id: {name}"]], dict[str, Plain](id=name)
        if after:
            fields.append([f"after: [{', '.join(after)}]"])
            meant["after"] = list(after)
        for entry in source.entries:
            if entry.key.value not in LEFT_OUT:
                meant[entry.key.value] = plain(entry.value)
                fields.append([self._entry_in_flow(entry)] if bracketed else self._raw(entry))
        self._new_line(fields, meant, beside, behind=behind)

    def result(self) -> str:
        """The text with everything added.

        Raises CannotEditError if it would not say exactly what was meant.
        """
        text = self.text
        for offset, added in sorted(self.insertions, key=lambda one: one[0], reverse=True):
            text = text[:offset] + added + text[offset:]
        reading = read_yaml(text.encode(), self.path)
        if reading.document is None or reading.problems or reading.document.plain() != self.expected:
            raise CannotEditError("the layout of the file does not allow it")
        return text

    def _new_field(self, node: Mapping, field: str) -> None:
        """A field behind the last of those that say what the line is: in a line of its own, or in the brackets."""
        heads = [found for key in ("id", "role", "use", "as") if (found := node.entry(key)) is not None]
        head = max(heads, key=lambda entry: entry.key.span, default=None)
        if head is None:
            raise CannotEditError(f"line {node.span.line} has no name to write behind")
        if self._is_flow(node):
            self._insert(self._offset(head.value.span.end_line, head.value.span.end_column), f", {field}")
        else:
            self._below(head.value.span.end_line, [" " * (head.key.span.column - 1) + field])

    def _longer(self, node: List, names: Sequence[str]) -> None:
        """More names at the end of a list."""
        if not names:
            return
        flow = self.text.startswith("[", self._offset(node.span.line, node.span.column))
        if not node.items:
            self._insert(self._offset(node.span.line, node.span.column) + 1, ", ".join(names))
            return
        last = node.items[-1].span
        if flow:
            self._insert(self._offset(last.end_line, last.end_column), "".join(f", {name}" for name in names))
        else:
            self._below(last.end_line, [f"{' ' * (node.span.column - 1)}- {name}" for name in names])

    def _new_line(self, fields: list[list[str]], meant: dict[str, Plain], beside: Span, *, behind: bool) -> None:
        """A line of a list, given by the lines of its fields, before or behind another."""
        route, neighbour = self._mapping(beside)
        lines, holder = self.document.at(route[:-1]), self._plain(route[:-1])
        if not isinstance(lines, List) or not isinstance(holder, list):
            raise CannotEditError(f"line {beside.line} stands in no list")
        holder.insert(int(route[-1]) + behind, meant)
        span, dash = neighbour.span, " " * (lines.span.column - 1)
        if self.text.startswith("[", self._offset(lines.span.line, lines.span.column)):
            told = "{" + ", ".join(_in_one(field) for field in fields) + "}"
            end = self._offset(span.end_line, span.end_column)
            self._insert(
                end if behind else self._offset(span.line, span.column), f", {told}" if behind else f"{told}, "
            )
            return
        if not re.fullmatch(r" *- +", self.lines[span.line - 1][: span.column - 1]):
            raise CannotEditError(f"line {span.line} does not begin with what it is about")
        if self._is_flow(neighbour):
            written = [dash + "- {" + ", ".join(_in_one(field) for field in fields) + "}"]
        else:
            flat = [line for field in fields for line in field]
            written = [f"{dash}- {flat[0]}", *(f"{dash}  {line}" if line.strip() else "" for line in flat[1:])]
        if behind:
            self._below(span.end_line, written)
        else:
            self._below(self._above_comments(span.line, dash) - 1, written)

    def _above_comments(self, line: int, indent: str) -> int:
        """The first of the lines that belong to a line: comments right above it, indented as it is."""
        while line > 1 and self.lines[line - 2].startswith(f"{indent}#"):
            line -= 1
        return line

    def _raw(self, entry: Entry) -> list[str]:
        """A field of a block mapping as it stands, without its indentation."""
        indent = entry.key.span.column - 1
        first, last = entry.key.span.line - 1, entry.value.span.end_line
        inside = self.lines[first + 1 : last]
        if any(line[:indent].strip() for line in inside):
            raise CannotEditError(f"the layout from line {first + 1} on is not regular enough to repeat")
        return [line.rstrip("\r") for line in (self.lines[first][indent:], *(line[indent:] for line in inside))]

    def _entry_in_flow(self, entry: Entry) -> str:
        return f"{entry.key.value}: {in_flow(plain(entry.value))}"

    def _mapping(self, at: Span) -> tuple[Route, Mapping]:
        for route, _, span in self.document.spans():
            if span == at:
                node: Node | None = self.document.at(route)
                if isinstance(node, Mapping):
                    return route, node
        raise CannotEditError(f"there is nothing to write beside in line {at.line}")

    def _plain(self, route: Route) -> Plain:
        """What is meant to stand at a route of the file."""
        meant: Plain = self.expected
        for step in route:
            if isinstance(step, str):
                assert isinstance(meant, dict)
                meant = meant[step]
            else:
                assert isinstance(meant, list)
                meant = meant[step]
        return meant

    def _is_flow(self, node: Node) -> bool:
        return not isinstance(node, Scalar) and self.text[self._offset(node.span.line, node.span.column)] in "{["

    def _offset(self, line: int, column: int) -> int:
        return sum(len(one) + 1 for one in self.lines[: line - 1]) + column - 1

    def _below(self, line: int, written: Iterable[str]) -> None:
        """Whole lines below a line of the file (0 for its start)."""
        text = self.newline.join(written)
        if line >= len(self.lines):
            self._insert(len(self.text), self.newline + text)
        else:
            self._insert(self._offset(line + 1, 1), text + self.newline)

    def _insert(self, offset: int, text: str) -> None:
        self.insertions.append((offset, text))


def in_flow(value: Plain) -> str:
    """A value on one line, in brackets where it holds others."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{in_flow(key)}: {in_flow(inner)}" for key, inner in value.items()) + "}"
    if isinstance(value, list):
        return f"[{', '.join(map(in_flow, value))}]"
    if isinstance(value, str) and _SAFE.fullmatch(value) and value not in ("true", "false", "null"):
        return value
    return json.dumps(value, ensure_ascii=False)


def _in_one(field: list[str]) -> str:
    if len(field) > 1:
        raise CannotEditError("what stands in brackets cannot hold this step")
    return field[0]
