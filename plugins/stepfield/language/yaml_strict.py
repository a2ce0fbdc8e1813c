"""Text the parser lets pass although YAML 1.2.2 forbids it, found so that another reader never reads a file otherwise."""

from __future__ import annotations

import re
from itertools import takewhile


def glued_comment(text: str, end: int) -> bool:
    """Whether a ``#`` stands right behind a quoted text or a bracket: a comment needs a space before it (chapter 6.6)."""
    return text[end : end + 1] == "#"


def badly_indented_line(text: str, start: int, end: int, parent: int) -> int | None:
    """The first line inside a bracketed or quoted value that is not indented more than what the value belongs to.

    ``start`` and ``end`` are positions in the text, ``parent`` is the indentation of the surrounding block (-1 at the top).
    The result counts from 1 for the line after the first; None if all is well (chapters 7.3.1 and 7.4).
    """
    for number, line in enumerate(text[start:end].split("\n")[1:], 1):
        spaces = len(line) - len(line.lstrip(" "))
        if line.strip() and spaces <= parent:
            return number
    return None


def overlong_blank_line(block: str) -> bool:
    """Whether a blank line before a block text has more spaces than its first line (chapter 8.1.1.1)."""
    head, *lines = block.split("\n")
    if re.match(r"[|>][-+]?[1-9]", head):
        return False
    blank = list(takewhile(lambda line: not line.strip(" \r"), lines))
    if len(blank) == len(lines):
        return False
    first = lines[len(blank)]
    indent = len(first) - len(first.lstrip(" "))
    return any(len(line.rstrip("\r")) > indent for line in blank)


def may_hide_something(text: str) -> bool:
    """Whether the text has a ``?`` or ``,#`` that only a look at each token can tell from plain text."""
    return ",#" in text or re.search(r"(?:^|[\s,\[{])\?", text) is not None
