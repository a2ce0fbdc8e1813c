"""The little markup that rule manuals are written in, as plain data: headings, paragraphs, lists, examples."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

_INLINE = re.compile(r"(`[^`]+`|\*\*[^*]+\*\*)")


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of text: plain, code or strong."""

    kind: str
    text: str


@dataclass(frozen=True, slots=True)
class Block:
    """A heading, a paragraph, code, or a list; a list has one line of pieces an entry, the others have one line."""

    kind: str
    lines: tuple[tuple[Piece, ...], ...]


def blocks(text: str) -> tuple[Block, ...]:
    """The blocks of a text; what is not recognised is a paragraph."""
    return tuple(_blocks(text.strip("\n").split("\n")))


def pieces(text: str) -> tuple[Piece, ...]:
    """The text of one line, with `code` and **strong** told apart."""
    found = []
    for part in _INLINE.split(text):
        if part.startswith("`") and part.endswith("`") and len(part) > 2:
            found.append(Piece("code", part[1:-1]))
        elif part.startswith("**") and part.endswith("**") and len(part) > 4:
            found.append(Piece("strong", part[2:-2]))
        elif part:
            found.append(Piece("plain", part))
    return tuple(found)


def _blocks(lines: list[str]) -> Iterator[Block]:
    at = 0
    while at < len(lines):
        line = lines[at]
        if line.startswith("```"):
            end = next((other for other in range(at + 1, len(lines)) if lines[other].startswith("```")), len(lines))
            yield Block("code", ((Piece("plain", "\n".join(lines[at + 1 : end])),),))
            at = end + 1
        elif line.startswith("#"):
            yield Block("heading", (pieces(line.lstrip("# ").strip()),))
            at += 1
        elif not line.strip():
            at += 1
        else:
            end = at
            while end < len(lines) and lines[end].strip() and not lines[end].startswith(("```", "#")):
                end += 1
            yield _paragraph(lines[at:end])
            at = end


def _paragraph(lines: list[str]) -> Block:
    if not lines[0].startswith("- "):
        return Block("paragraph", (pieces(" ".join(line.strip() for line in lines)),))
    entries: list[str] = []
    for line in lines:
        if line.startswith("- "):
            entries.append(line[2:].strip())
        else:
            entries[-1] += f" {line.strip()}"
    return Block("list", tuple(pieces(entry) for entry in entries))
