"""Where a value stands in its file. Every value of a protocol set carries its place."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """A stretch of one file; lines and columns count from 1, the end column is just past the last character."""

    path: str
    line: int
    column: int
    end_line: int
    end_column: int


@dataclass(frozen=True, slots=True)
class Text:
    """A piece of text (a name or a sentence) and the place it was read from."""

    value: str
    span: Span

    def __str__(self) -> str:
        return self.value


@dataclass(frozen=True, slots=True)
class Problem:
    """Something wrong with the text itself, seen while reading: no order of steps is involved.

    ``rule`` is the name of the rule that reports it; ``subject`` the name or field concerned; ``hint`` what to
    write instead, if that is known.
    """

    rule: str
    span: Span
    message: str
    protocol: str | None = None
    step: str | None = None
    subject: str | None = None
    hint: str | None = None
    related: tuple[tuple[Span, str], ...] = ()
