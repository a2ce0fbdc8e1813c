"""Places in a text as the checker counts them (from 1, in characters) and as editors do (from 0, in UTF-16 units)."""

from __future__ import annotations

from dataclasses import dataclass

from ..language.source import Span


@dataclass(frozen=True, slots=True, order=True)
class Position:
    """A place between two characters: line from 0, ``unit`` in UTF-16 code units from 0."""

    line: int
    unit: int


@dataclass(frozen=True, slots=True)
class Range:
    """A stretch of text; the end is just past it."""

    start: Position
    end: Position


def units(text: str) -> int:
    """How many UTF-16 code units a text takes."""
    return len(text.encode("utf-16-le", "surrogatepass")) // 2


def range_of(span: Span, lines: list[str]) -> Range:
    """A stretch of a file as an editor counts it; never wider than the lines there are."""
    start = _position(span.line, span.column, lines)
    end = _position(span.end_line, span.end_column, lines)
    if end <= start:
        end = Position(start.line, start.unit + 1)
    return Range(start, end)


def place_of(position: Position, lines: list[str]) -> tuple[int, int]:
    """(line, column), both from 1, of a place that an editor names."""
    if not 0 <= position.line < len(lines):
        return max(1, position.line + 1), 1
    taken = 0
    for column, char in enumerate(lines[position.line], start=1):
        if taken >= position.unit:
            return position.line + 1, column
        taken += units(char)
    return position.line + 1, len(lines[position.line]) + 1


def _position(line: int, column: int, lines: list[str]) -> Position:
    text = lines[line - 1] if 1 <= line <= len(lines) else ""
    return Position(max(0, line - 1), units(text[: max(0, column - 1)]))
