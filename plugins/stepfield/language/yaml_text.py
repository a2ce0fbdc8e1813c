"""From bytes to text that may be read as YAML: size, encoding, and characters nobody can see."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator

from .source import Problem, Span

MOST_BYTES = 1_048_576
_MOST_SHOWN = 20

# What YAML calls printable (1.2.2, chapter 5.1), less the characters that turn the direction of writing, the line
# breaks that only some programs see, a lone carriage return and a byte order mark in the middle. Two texts that look
# alike must read alike.
UNSEEN = re.compile(
    "[^\t\n\r\x20-\x7e\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]"
    "|[\u202a-\u202e\u2066-\u2069\u2028\u2029\ufeff]"
    "|\r(?!\n)"
)
_BYTE_ORDER_MARKS = {b"\xff\xfe": "UTF-16", b"\xfe\xff": "UTF-16"}


class UnreadableError(Exception):
    """The bytes cannot be read as text; carries the problem that says why, and what of the text can be shown."""

    def __init__(self, problem: Problem, text: str = "") -> None:
        super().__init__(problem.message)
        self.problem = problem
        self.text = text


def decoded(data: bytes, path: str) -> tuple[str, list[Problem]]:
    """The text of a file, and its problems with unseen characters, which are replaced so that reading can go on.

    Raises UnreadableError if the file is too large or not UTF-8.
    """
    if len(data) > MOST_BYTES:
        raise UnreadableError(
            _problem(_point(path, 1, 1), f"the file is larger than 1 MiB ({MOST_BYTES:,} bytes)", "split it")
        )
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        raise UnreadableError(_not_utf8(data, error.start, path), data.decode("utf-8", "replace")) from None
    text = text.removeprefix("\ufeff")
    problems = list(_unseen(text, path))
    return (UNSEEN.sub("\ufffd", text) if problems else text), problems


def unseen_name(character: str) -> str:
    """How an unseen character is called in a message: its code and, where it has one, its name."""
    name = unicodedata.name(character, "control character").lower()
    return f"U+{ord(character):04X} ({'carriage return alone' if character == chr(13) else name})"


def _not_utf8(data: bytes, start: int, path: str) -> Problem:
    before = data[:start].decode("utf-8")
    line = before.count("\n") + 1
    column = len(before) - (before.rfind("\n") + 1) + 1
    kind = _BYTE_ORDER_MARKS.get(data[:2])
    looks = f"it looks like {kind}" if kind else f"byte 0x{data[start]:02x} cannot stand here"
    return _problem(
        _point(path, line, column),
        f"the file is not UTF-8 text: {looks}",
        "save it as UTF-8 (without choosing another encoding)",
    )


def _unseen(text: str, path: str) -> Iterator[Problem]:
    for number, match in enumerate(UNSEEN.finditer(text)):
        line = text.count("\n", 0, match.start()) + 1
        column = match.start() - (text.rfind("\n", 0, match.start()) + 1) + 1
        if number == _MOST_SHOWN:
            yield _problem(
                _point(path, line, column), "from here on there are more characters that cannot be seen", "delete them"
            )
            return
        message = f"a character that cannot be seen stands here: {unseen_name(match.group())}"
        yield _problem(
            Span(path, line, column, line, column + 1), message, "delete it and type the text around it again"
        )


def _point(path: str, line: int, column: int) -> Span:
    return Span(path, line, column, line, column)


def _problem(span: Span, message: str, hint: str) -> Problem:
    return Problem("bad-yaml", span, message, hint=hint)
