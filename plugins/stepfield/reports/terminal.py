"""Text of a protocol on a terminal: nothing in it can steer the terminal, and its width is known."""

from __future__ import annotations

import unicodedata

JOINERS = "\u200c\u200d\u00ad"
"""Unseen characters that scripts and emoji need; they do no harm."""


def harmless(text: str) -> str:
    """The text on one line, with control, direction and other unseen characters written out as their codes."""
    return "".join(" " if char in "\n\t" else _shown(char) for char in text.replace("\r\n", "\n"))


def width(text: str) -> int:
    """How many columns a harmless text takes."""
    return sum(_columns(char) for char in text)


def _shown(char: str) -> str:
    kind = unicodedata.category(char)
    if kind in ("Cc", "Cs", "Zl", "Zp") or (kind == "Cf" and char not in JOINERS):
        return f"\\x{ord(char):02x}" if ord(char) < 0x100 else f"\\u{ord(char):04x}"
    return char


def _columns(char: str) -> int:
    if unicodedata.combining(char) or char in JOINERS:
        return 0
    return 2 if unicodedata.east_asian_width(char) in "WF" else 1
