"""Text the parser lets pass although YAML 1.2.2 forbids it, so that no other reader reads a file differently."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol

_EXPLICIT_INDENT = re.compile(r"[|>][-+]?[1-9]")
_GLUED_TO_HEADER = re.compile(r"[|>][-+0-9]*#")
_MAY_HIDE = re.compile(r"(?:^|[\s,\[{-])\?|,#", re.MULTILINE)


class Mark(Protocol):
    """A place in the text as the parser gives it; everything counts from 0."""

    @property
    def index(self) -> int:
        """How many characters stand before it."""

    @property
    def line(self) -> int:
        """How many lines stand before it."""

    @property
    def column(self) -> int:
        """How many characters of its line stand before it."""


@dataclass(frozen=True, slots=True)
class Fault:
    """Something forbidden at a line and column, both counted from 0."""

    line: int
    column: int
    message: str
    hint: str | None


def at_start(text: str, start: Mark, parent: int) -> Iterator[Fault]:
    """Faults in how a quoted, bracketed or block value begins, below something indented by ``parent`` (-1 at the top).

    On a line of its own it has to be indented more than what it belongs to (chapter 8.2).
    """
    before = text[start.index - start.column : start.index]
    if start.column <= parent and not before.strip():
        yield Fault(start.line, start.column, "this value is not indented below its key", "indent it with spaces")
    if text[start.index : start.index + 1] in ("[", "{"):
        yield from glued(text, start.line, start.column + 1, start.index + 1)


def at_end(text: str, start: Mark, end: Mark, parent: int) -> Iterator[Fault]:
    """Faults inside a quoted or bracketed value and right behind it.

    Every line of it has to be indented more than what it belongs to (chapters 7.3.1 and 7.4).
    """
    if text.startswith("#", end.index):
        yield from glued(text, end.line, end.column, end.index)
    if end.line == start.line or parent < 0:
        return
    for number, line in enumerate(text[start.index : end.index].split("\n")[1:], start.line + 1):
        if line.strip() and _indent(line) <= parent:
            opened = f"{text[start.index]} opens in line {start.line + 1}"
            message = f"this line belongs to what {opened}, but is not indented"
            yield Fault(number, 0, message, "close that before, or indent this line with spaces")
            return


def glued(text: str, line: int, column: int, index: int) -> Iterator[Fault]:
    """A ``#`` right behind a quote, a bracket or a comma: a comment needs a space before it (chapter 6.6)."""
    if text[index : index + 1] == "#":
        hint = "put a space before it, or the '#' inside the quotes"
        yield Fault(line, column, "a comment needs a space before its '#'", hint)


def in_block_text(text: str, start: Mark, parent: int) -> Iterator[Fault]:
    """Faults in a block text (``|`` or ``>``): see chapters 8.1.1 and 8.1.3."""
    if _GLUED_TO_HEADER.match(text, start.index):
        yield Fault(start.line, start.column, "a comment needs a space before its '#'", "put a space before it")
    if not _EXPLICIT_INDENT.match(text, start.index) and _has_overlong_blank_line(text, start.index, parent):
        message = "a blank line above this text has more spaces than the text itself"
        yield Fault(start.line, start.column, message, "delete the spaces of the blank line")


def may_hide_something(text: str) -> bool:
    """Whether the text has a ``?`` or ``,#`` that only a look at each token can tell from plain text."""
    return ("?" in text or ",#" in text) and _MAY_HIDE.search(text) is not None


def _has_overlong_blank_line(text: str, start: int, parent: int) -> bool:
    longest = 0
    at = text.find("\n", start) + 1
    while 0 < at < len(text):
        end = text.find("\n", at)
        line = text[at : end if end >= 0 else len(text)].rstrip("\r")
        if line.strip(" "):
            return parent < _indent(line) < longest
        longest = max(longest, len(line))
        at = end + 1
    return False


def _indent(line: str) -> int:
    return len(line) - len(line.lstrip(" "))
