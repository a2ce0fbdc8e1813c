"""Changing single entries in the text of tailoring.yaml; every other character stays, and so do all comments.

What is taken out stays in the file as a comment, so that nothing anybody wrote is lost. After each change the text is
read again and must say what it was meant to say, and nothing else.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from ..language.editing import CannotEditError, in_flow
from ..language.yaml_nodes import Document, Mapping, Node, Plain, Route, Scalar
from ..language.yaml_reader import read_yaml

__all__ = ["CannotEditError", "TakenOut", "Write", "edited"]


@dataclass(frozen=True, slots=True)
class TakenOut:
    """What stands at a route becomes a comment; ``note`` is the line above it."""

    route: Route
    note: str


@dataclass(frozen=True, slots=True)
class Write:
    """What stands at a route becomes another value."""

    route: Route
    value: Plain


def edited(text: str, path: str, edits: list[TakenOut | Write]) -> str:
    """The text after the edits; routes are those of the text as given, and none lies inside another one taken out.

    Raises CannotEditError, with the line, if the text cannot be read as meant or its layout does not allow an edit.
    """
    for edit in sorted(edits, key=lambda one: _last_first(one.route), reverse=True):
        document = _read(text, path)
        node = document.at(edit.route)
        if node is None:
            raise CannotEditError(f"{path} has nothing at {'.'.join(map(str, edit.route))}")
        if isinstance(edit, Write):
            found, meant = _Text(text).written(node, edit.value), _with(document, edit.route, edit.value)
        else:
            route = _alone(document, edit.route)
            found, meant = _Text(text).without(document, route, edit.note), _with(document, route, None)
        again = read_yaml(found.encode(), path)
        if again.document is None or again.problems or again.document.plain() != meant:
            raise CannotEditError(
                f"the layout of {path} line {node.span.line} does not allow the program to change it; "
                "write the entry over several lines, with one field a line"
            )
        text = found
    return text


def _last_first(route: Route) -> tuple[tuple[int, str], ...]:
    """Sorts routes so that a later entry of a list is changed before an earlier one, whose number then stays."""
    return tuple((step, "") if isinstance(step, int) else (-1, step) for step in route)


def _read(text: str, path: str) -> Document:
    reading = read_yaml(text.encode(), path)
    if reading.document is None or reading.problems:
        line = reading.problems[0].span.line if reading.problems else 1
        raise CannotEditError(f"{path} line {line} cannot be read as meant")
    return reading.document


def _alone(document: Document, route: Route) -> Route:
    """The outermost thing that holds nothing but what stands at a route: nothing empty is left behind."""
    while len(route) > 1 and len(_inside(document.at(route[:-1]))) == 1:
        route = route[:-1]
    return route


def _inside(node: Node | None) -> tuple[object, ...]:
    if node is None or isinstance(node, Scalar):
        return ()
    return node.entries if isinstance(node, Mapping) else node.items


def _with(document: Document, route: Route, value: Plain) -> Plain:
    """What the file says with another value at a route; without it if that is None."""
    whole = document.plain()
    holder: Plain = whole
    for step in route[:-1]:
        holder = holder[step]  # type: ignore[index]
    assert isinstance(holder, dict | list)
    if value is None:
        del holder[route[-1]]  # type: ignore[arg-type]
    else:
        holder[route[-1]] = value  # type: ignore[index]
    return whole


class _Text:
    """A text as its lines, with the offsets of its places."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.lines = text.split("\n")
        self.newline = "\r\n" if "\r\n" in text else "\n"

    def written(self, node: Node, value: Plain) -> str:
        """The text with a value in the place of a node, on one line."""
        span = node.span
        start, end = self._offset(span.line, span.column), self._offset(span.end_line, span.end_column)
        old = self.text[start:end]
        block = not isinstance(node, Scalar) and old[0] not in "{["
        if not isinstance(node, Scalar) and re.search(r"(?:^|\s)#", old):
            raise CannotEditError(f"there are comments in the value in line {span.line}, which would be lost")
        # A block may begin right below its key, where brackets may not.
        return f"{self.text[:start]}{' ' if block else ''}{in_flow(value)}{self.text[end:]}"

    def without(self, document: Document, route: Route, note: str) -> str:
        """The text with what stands at a route as a comment."""
        start, end, lines = self._extent(document, route)
        if lines:
            first, last = lines
            indent = re.match(r" *", self.lines[first - 1])
            assert indent is not None
            kept = [self._comment(indent[0], line) for line in self.lines[first - 1 : last]]
            told = [f"{indent[0]}# {note}", *kept]
            return "\n".join([*self.lines[: first - 1], *(self._ended(line) for line in told), *self.lines[last:]])
        row = self.text.count("\n", 0, start)
        line = self.lines[row]
        indent_ = line[: len(line) - len(line.lstrip(" "))]
        gone = self.text[start:end].strip().strip(",").strip().split("\n")
        told = [f"{indent_}# {note}", *(f"{indent_}#   {one.strip()}" for one in gone)]
        cut = self.text[:start] + self.text[end:]
        at = self._offset(row + 1, 1)
        return cut[:at] + "".join(f"{one}{self.newline}" for one in told) + cut[at:]

    def _extent(self, document: Document, route: Route) -> tuple[int, int, tuple[int, int] | None]:
        """The offsets between which a thing with what divides it from its neighbours stands.

        The third is the first and last of its lines if whole lines are its own.
        """
        holder, step = document.at(route[:-1]), route[-1]
        node = document.at(route)
        assert holder is not None
        assert node is not None
        spans = [
            (entry.key.span, entry.value.span) for entry in (holder.entries if isinstance(holder, Mapping) else ())
        ]
        names: list[object] = [entry.key.value for entry in holder.entries] if isinstance(holder, Mapping) else []
        if not isinstance(holder, Mapping | Scalar):
            spans = [(item.span, item.span) for item in holder.items]
            names = list(range(len(spans)))
        number = names.index(step)
        first, last = spans[number]
        start, end = self._offset(first.line, first.column), self._offset(last.end_line, last.end_column)
        flow = self.text[self._offset(holder.span.line, holder.span.column)] in "{["
        before = self.lines[first.line - 1][: first.column - 1]
        if not flow and re.fullmatch(r" *" if isinstance(holder, Mapping) else r" *- +", before):
            return start, end, (first.line, last.end_line)
        if number + 1 < len(spans):
            following = spans[number + 1][0]
            return start, self._offset(following.line, following.column), None
        earlier = spans[number - 1][1]
        return self._offset(earlier.end_line, earlier.end_column), end, None

    def _comment(self, indent: str, line: str) -> str:
        rest = line.removeprefix(indent).rstrip("\r")
        return f"{indent}#   {rest}" if rest.strip() else f"{indent}#"

    def _ended(self, line: str) -> str:
        return f"{line}\r" if self.newline == "\r\n" else line

    def _offset(self, line: int, column: int) -> int:
        return sum(len(one) + 1 for one in self.lines[: line - 1]) + column - 1
