"""Text the parser lets pass although YAML 1.2.2 forbids it, so that no other reader reads a file differently."""

from __future__ import annotations

import re

_EXPLICIT_INDENT = re.compile(r"[|>][-+]?[1-9]")
_GLUED_TO_HEADER = re.compile(r"[|>][-+0-9]*#")
_MAY_HIDE = re.compile(r"(?:^|[\s,\[{-])\?|,#", re.MULTILINE)


def glued_comment(text: str, end: int) -> bool:
    """Whether a ``#`` stands right behind a quote or a bracket: a comment needs a space before it (chapter 6.6)."""
    return text[end : end + 1] == "#"


def badly_indented_line(text: str, start: int, end: int, parent: int) -> int | None:
    """The first line inside a bracketed or quoted value that is not indented more than what the value belongs to.

    ``start`` and ``end`` are positions in the text, ``parent`` is the indentation of the surrounding block (-1 at
    the top). The result counts from 1 for the line after the first; None if all is well (chapters 7.3.1 and 7.4).
    """
    for number, line in enumerate(text[start:end].split("\n")[1:], 1):
        if line.strip() and _indent(line) <= parent:
            return number
    return None


def block_text_fault(text: str, start: int, parent: int) -> str | None:
    """What is wrong with a block text (``|`` or ``>``) that begins at a position, if anything.

    See chapters 8.1.1 and 8.1.3. ``parent`` is the indentation of the surrounding block.
    """
    if _GLUED_TO_HEADER.match(text, start):
        return "a comment needs a space before its '#'"
    if _EXPLICIT_INDENT.match(text, start):
        return None
    longest = 0
    at = text.find("\n", start) + 1
    while 0 < at < len(text):
        end = text.find("\n", at)
        line = text[at : end if end >= 0 else len(text)].rstrip("\r")
        if line.strip(" "):
            indent = _indent(line)
            too_long = parent < indent < longest
            return "a blank line above this text has more spaces than the text itself" if too_long else None
        longest = max(longest, len(line))
        at = end + 1
    return None


def may_hide_something(text: str) -> bool:
    """Whether the text has a ``?`` or ``,#`` that only a look at each token can tell from plain text."""
    return _MAY_HIDE.search(text) is not None


def _indent(line: str) -> int:
    return len(line) - len(line.lstrip(" "))
