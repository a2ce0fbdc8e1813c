"""One layout for every file: keys in the order of the schema, two columns a level, lines of at most 120 characters.

Nothing of the meaning changes and no comment is lost: what comes out is read again, and if it does not say the very
same, the text stays as it was.
"""

from __future__ import annotations

import re
import textwrap
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from .files import place_of
from .key_order import Shape
from .source import Problem, Span
from .yaml_nodes import Document, Entry, Mapping, Node, Scalar, Sequence
from .yaml_reader import read_yaml

WIDEST = 120
MOST_TIMES = 5
_HEAD = re.compile(r"[|>][-+0-9]*")


@dataclass(frozen=True, slots=True)
class Laid:
    """A file's text in the one layout, or its old text with the problems for which it was left alone."""

    text: str
    problems: tuple[Problem, ...] = ()


def laid_out(data: bytes, path: str, inside: str) -> Laid:
    """The text of a file in the one layout; ``inside`` is its path below the set's folder.

    Line ends become those of Unix. A file that cannot be read is left alone.
    """
    reading = read_yaml(data, path)
    kind = place_of(inside, "").kind
    if reading.problems or reading.document is None or kind is None:
        return Laid(reading.text, reading.problems)
    text = old = re.sub(r"\r\n?", "\n", reading.text)
    # Empty lines that come together when keys change places are one the next time.
    for _ in range(MOST_TIMES):
        new = _once(text, path, kind)
        if new is None:
            return Laid(reading.text, (_unsure(path),))
        if new == text:
            return Laid(text if _says_the_same(reading.document, old, text) else reading.text)
        text = new
    return Laid(reading.text, (_unsure(path),))


def _once(text: str, path: str, kind: str) -> str | None:
    """The text laid out; None where that might change what it says."""
    document = read_yaml(text.encode(), path).document
    if document is None:
        return None
    if not isinstance(document.root, Mapping) or not document.root.entries:
        return text
    layout = _Layout(text)
    new = layout.whole(document.root, Shape.of(kind))
    if _says_the_same(document, text, new):
        return new
    tidy = "\n".join(layout.tidied()) + "\n"
    return tidy if _says_the_same(document, text, tidy) else None


def comments_of(text: str) -> Counter[str]:
    """Every comment of a text that can be read, and how often it stands there."""
    reading = read_yaml(text.encode(), "x")
    layout = _Layout(text)
    if reading.document is not None:
        layout.learn(reading.document.root)
    return Counter(comment.strip() for number in range(len(layout.lines)) for comment in layout.comment(number))


def _says_the_same(document: Document, text: str, new: str) -> bool:
    again = read_yaml(new.encode(), document.path)
    same = again.document is not None and not again.problems and again.document.plain() == document.plain()
    return same and comments_of(new) == comments_of(text)


def _unsure(path: str) -> Problem:
    message = "this file cannot be laid out without a risk to what it says, and is left as it is"
    return Problem("bad-yaml", Span(path, 1, 1, 1, 1), message)


@dataclass(frozen=True, slots=True)
class _Place:
    """The lines of an entry, the column it gets and the one it starts at now."""

    line: int
    end: int
    column: int
    start: int


class _Layout:
    """Lays out one text; lines count from 0 here."""

    def __init__(self, text: str) -> None:
        self.lines = text.split("\n")
        while self.lines and not self.lines[-1].strip():
            self.lines.pop()
        self.verbatim: set[int] = set()
        self.covered: dict[int, int] = {}

    def whole(self, root: Mapping, shape: Shape) -> str:
        """The whole file."""
        self.learn(root)
        first = root.entries[0].key.span.line - 1
        last = root.entries[-1].value.span.end_line - 1
        last = max(last, root.entries[-1].key.span.line - 1)
        head = _squeezed([line.strip() for line in self.lines[:first]], first=True)
        foot = _squeezed([line.strip() for line in self.lines[last + 1 :]])
        body = self.mapping(root, shape, 0, first, last)
        while body and not body[0]:
            body.pop(0)
        return "\n".join([*head, *body, *foot]) + "\n"

    def tidied(self) -> list[str]:
        """The lines as they are, without spaces at their ends."""
        return [line if number in self.verbatim else line.rstrip() for number, line in enumerate(self.lines)]

    def learn(self, node: Node) -> None:
        """Notes which lines are the inside of block texts, and up to where values reach in each line."""
        if isinstance(node, Scalar):
            span = node.span
            start, end = span.line - 1, span.end_line - 1
            if self._is_block_text(node):
                self.verbatim.update(range(start + 1, end + 1))
            else:
                for number in range(start, end):
                    self.covered[number] = max(self.covered.get(number, 0), len(self.lines[number]))
                self.covered[end] = max(self.covered.get(end, 0), span.end_column - 1)
            return
        for inner in node.items if isinstance(node, Sequence) else [one.value for one in node.entries]:
            self.learn(inner)
        for entry in node.entries if isinstance(node, Mapping) else ():
            number = entry.key.span.end_line - 1
            self.covered[number] = max(self.covered.get(number, 0), entry.key.span.end_column - 1)

    def comment(self, number: int) -> Iterator[str]:
        """The comment of a line, if it has one."""
        if number in self.verbatim:
            return
        line = self.lines[number]
        start = self.covered.get(number, 0)
        found = re.search(r"(?:^|(?<=[\s,\]}]))#.*$" if start == 0 else r"(?<=[\s])#.*$", line[start:])
        if found:
            yield found[0]

    def mapping(self, node: Mapping, shape: Shape, column: int, start: int, end: int) -> list[str]:
        """The lines of a block mapping, from its first key's line; every entry takes the comments above it along."""
        firsts = [start, *(self._above(entry.key.span.line - 1) for entry in node.entries[1:])]
        bounds = [*firsts[1:], end + 1]
        known = {name: number for number, name in enumerate(shape.keys(entry.key.value for entry in node.entries))}
        chunks = []
        for number, (entry, first, bound) in enumerate(zip(node.entries, firsts, bounds, strict=True)):
            lines = self.entry(entry, shape.below(entry.key.value), column, first, bound - 1)
            chunks.append((known.get(entry.key.value, len(known)) if known else 0, number, lines))
        return [line for _, _, lines in sorted(chunks, key=lambda chunk: chunk[:2]) for line in lines]

    def entry(self, entry: Entry, shape: Shape, column: int, start: int, end: int) -> list[str]:
        """One key with its value and the comments above it."""
        line = entry.key.span.line - 1
        above = [f"{' ' * column}{one.strip()}".rstrip() for one in self.lines[start:line]]
        key = self._slice(entry.key.span)
        place = _Place(line, end, column, entry.key.span.column - 1)
        return [*_squeezed(above), *self.value(f"{' ' * column}{key}:", entry.value, shape, place)]

    def sequence(self, node: Sequence, shape: Shape, column: int, start: int, end: int) -> list[str]:
        """The lines of a block list, from its first dash's line."""
        dashes = [self._dash(item, node) for item in node.items]
        firsts = [start, *map(self._above, dashes[1:])]
        bounds = [*firsts[1:], end + 1]
        out: list[str] = []
        for item, dash, first, bound in zip(node.items, dashes, firsts, bounds, strict=True):
            above = [f"{' ' * column}{one.strip()}".rstrip() for one in self.lines[first:dash]]
            out += _squeezed(above)
            if isinstance(item, Mapping) and not self._is_flow(item) and item.span.line - 1 == dash:
                lines = self.mapping(item, shape.below(0), column + 2, dash, bound - 1)
                number = next(n for n, one in enumerate(lines) if one.strip() and not one.lstrip().startswith("#"))
                head = [f"{' ' * column}{one.strip()}".rstrip() for one in lines[:number]]
                out += [*head, f"{' ' * column}- {lines[number].lstrip()}", *lines[number + 1 :]]
            else:
                place = _Place(dash, bound - 1, column, node.span.column - 1)
                out += self.value(f"{' ' * column}-", item, shape.below(0), place)
        return out

    def value(self, lead: str, node: Node, shape: Shape, place: _Place) -> list[str]:
        """A value behind its key or dash, which is ``lead``."""
        line, end, column = place.line, place.end, place.column
        if not isinstance(node, Scalar) and not self._is_flow(node):
            first = node.span.line - 1
            if first == line:  # a list in a list's own line
                return self._moved(place)
            remark = "".join(f"  {one}" for one in self.comment(line))
            above = [f"{' ' * (column + 2)}{one.strip()}".rstrip() for one in self.lines[line + 1 : first]]
            if isinstance(node, Mapping):
                inner = self.mapping(node, shape, column + 2, first, end)
            else:
                inner = self.sequence(node, shape, column + 2, first, end)
            return [f"{lead}{remark}".rstrip(), *_squeezed(above), *inner]
        span = node.span
        if span.line - 1 == span.end_line - 1 == line == end and span.column < span.end_column:
            remark = "".join(f"  {one}" for one in self.comment(line))
            whole = f"{lead} {self.flow(node, shape)}{remark}".rstrip()
            if len(whole) > WIDEST and isinstance(node, Scalar) and not remark:
                return self._folded(lead, node, column) or [whole]
            return [whole]
        return self._moved(place)

    def flow(self, node: Node, shape: Shape) -> str:
        """A value that stands in one line, its keys in order where they are known."""
        text = self._slice(node.span)
        if isinstance(node, Scalar):
            return text
        if isinstance(node, Sequence):
            return f"[{', '.join(self.flow(item, shape.below(number)) for number, item in enumerate(node.items))}]"
        if any(one.value.span.column == one.value.span.end_column for one in node.entries):
            return text
        known = {name: number for number, name in enumerate(shape.keys(one.key.value for one in node.entries))}
        entries = sorted(node.entries, key=lambda one: known.get(one.key.value, len(known)) if known else 0)
        told = (f"{self._slice(one.key.span)}: {self.flow(one.value, shape.below(one.key.value))}" for one in entries)
        return f"{{{', '.join(told)}}}"

    def _folded(self, lead: str, node: Scalar, column: int) -> list[str] | None:
        """A long text in several lines; None where its spaces would not come through that."""
        value = node.value
        if not isinstance(value, str) or value != " ".join(value.split()) or not value:
            return None
        wide = WIDEST - column - 2
        lines = textwrap.wrap(value, wide, break_long_words=False, break_on_hyphens=False)
        return [f"{lead} >-", *(f"{' ' * (column + 2)}{line}" for line in lines)]

    def _moved(self, place: _Place) -> list[str]:
        """The lines of an entry as they are, moved as a whole to its column."""
        shift = place.column - place.start
        out = [f"{' ' * place.column}{self.lines[place.line][place.start :]}".rstrip()]
        for number in range(place.line + 1, place.end + 1):
            one = self.lines[number]
            if one.strip():
                indent = len(one) - len(one.lstrip())
                one = f"{' ' * max(0, indent + shift)}{one.lstrip()}"
            out.append(one if number in self.verbatim else one.rstrip())
        return out

    def _above(self, line: int) -> int:
        """The first of the comments and empty lines right above a line."""
        while line > 0 and line - 1 not in self.verbatim and re.match(r"\s*(#|$)", self.lines[line - 1]):
            line -= 1
        return line

    def _dash(self, item: Node, node: Sequence) -> int:
        """The line of an item's dash."""
        line = item.span.line - 1
        mark = re.compile(rf"\s{{{node.span.column - 1}}}-(\s|$)")
        while line > node.span.line - 1 and not (line not in self.verbatim and mark.match(self.lines[line])):
            line -= 1
        return line

    def _is_flow(self, node: Node) -> bool:
        line = self.lines[node.span.line - 1] if node.span.line <= len(self.lines) else ""
        return line[node.span.column - 1 : node.span.column] in ("{", "[")

    def _is_block_text(self, node: Scalar) -> bool:
        if node.plain or node.span.line > len(self.lines):
            return False
        return _HEAD.match(self.lines[node.span.line - 1][node.span.column - 1 :]) is not None

    def _slice(self, span: Span) -> str:
        lines = self.lines[span.line - 1 : span.end_line]
        if not lines:
            return ""
        lines = [*lines[:-1], lines[-1][: span.end_column - 1]]
        return "\n".join([lines[0][span.column - 1 :], *lines[1:]])


def _squeezed(lines: list[str], *, first: bool = False) -> list[str]:
    """Lines with no two empty ones in a row, and none at the start of a file."""
    out: list[str] = []
    for line in lines:
        if line or (out[-1] if out else not first):
            out.append(line)
    return out
