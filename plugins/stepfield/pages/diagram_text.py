"""How wide text is and where it breaks, worked out here so that a picture is the same on every machine.

Widths are those of a wide screen typeface, in parts of the type size: text in a narrower one always fits.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from functools import lru_cache

_WIDTHS = {
    **dict.fromkeys("il|'", 0.34),
    **dict.fromkeys("jI.,:;", 0.36),
    **dict.fromkeys(' ftr()[]/\\-!"', 0.47),
    **dict.fromkeys("ABCDEFGHJKLNOPQRSTUVXYZ&", 0.79),
    **dict.fromkeys("#+<=>^~", 0.84),
    **dict.fromkeys("mwMW%@", 1.0),
}
_USUAL, _WIDE = 0.64, 1.05


def width(text: str, size: float) -> float:
    """How wide a line is at a type size; never too little for the usual typefaces."""
    return _width(text) * size


@lru_cache(maxsize=8192)
def _width(text: str) -> float:
    return sum(map(_of, text))


@lru_cache(maxsize=4096)
def _of(sign: str) -> float:
    known = _WIDTHS.get(sign)
    if known is not None:
        return known
    if unicodedata.combining(sign) or unicodedata.category(sign) == "Cf":
        return 0.0
    return _USUAL if ord(sign) < 0x2000 or unicodedata.east_asian_width(sign) in ("N", "Na", "H") else _WIDE


def wrapped(text: str, room: float, size: float, most: int) -> tuple[str, ...]:
    """The text in lines no wider than ``room``; at most so many, the last one cut where text is left over."""
    lines = list(_lines(text, room, size))
    if len(lines) <= most:
        return tuple(lines)
    return (*lines[: most - 1], _cut(" ".join(lines[most - 1 :]), room, size))


def fitted(text: str, room: float, size: float) -> str:
    """The text on one line, cut with an ellipsis where it is too wide."""
    line = " ".join(text.split())
    return line if width(line, size) <= room else _cut(line, room, size)


def _lines(text: str, room: float, size: float) -> Iterator[str]:
    line = ""
    for word in _words(text, room, size):
        longer = f"{line} {word}" if line else word
        if line and width(longer, size) > room:
            yield line
            line = word
        else:
            line = longer
    if line:
        yield line


def _words(text: str, room: float, size: float) -> Iterator[str]:
    """The words of a text; one that is wider than the room is broken where it must be."""
    for word in text.split():
        rest = word
        while width(rest, size) > room and len(rest) > 1:
            end = len(rest) - 1
            while end > 1 and width(rest[:end], size) > room:
                end -= 1
            yield rest[:end]
            rest = rest[end:]
        yield rest


def _cut(text: str, room: float, size: float) -> str:
    left, end = room - width("…", size), 0
    while end < len(text) and (left := left - _of(text[end]) * size) >= 0:
        end += 1
    return f"{text[:end].rstrip()}…"
