"""The paragraphs of a screen: what they say, how many lines they take, and where they can be parted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from ..diagram_text import width
from .sizes import DO, LEADING, SMALL, TEXT

BOLD = 1.15
"""How much wider bold letters are, at most."""
GUTTER = 2.2
"""Room left of every paragraph, for its sign or its number."""
SIGN = "\0"
"""Begins a word that stands for a sign; no text of a protocol can hold it."""
_SIZES = {"do": DO, "title": DO, "small": SMALL}
_INSET = {"warn": 0.7, "wait": 0.5, "ask": 0.5}
"""Room that a paragraph's own edge takes from its width, by kind."""
_AROUND = {"warn": 0.5, "ask": 0.2}
_GAP = 0.12
_BLANK = width(" ", 1.0)


@dataclass(frozen=True, slots=True)
class Paragraph:
    """One paragraph. ``kind`` chooses the look; ``lead`` are words before the text, in bold.

    ``signs`` stand in the room on the left: the word of a level, "drop" or "warning". ``mark`` is short text there.
    A sign may also stand in the text, as a word that begins with ``SIGN``.
    """

    kind: str
    text: str
    lead: str = ""
    signs: tuple[str, ...] = ()
    mark: str = ""

    @property
    def size(self) -> float:
        """The type size."""
        return _SIZES.get(self.kind, TEXT)

    @property
    def words(self) -> int:
        """How many words there are to read; a sign is one, and so is every letter of a script that has no blanks."""
        said = f"{self.lead} {self.text} {self.mark}"
        dense = 0 if said.isascii() else sum(1 for letter in said if ord(letter) >= 0x2E80)
        return len(said.split()) + len(self.signs) + dense

    @property
    def has_signs(self) -> bool:
        """Whether a sign stands in the text."""
        return SIGN in self.text

    @property
    def runs(self) -> tuple[tuple[bool, str], ...]:
        """The text in pieces: whether it is a sign, and its name or the words."""
        pieces: list[tuple[bool, str]] = []
        for word in self.text.split():
            if word.startswith(SIGN):
                pieces.append((True, word.removeprefix(SIGN)))
            elif pieces and not pieces[-1][0]:
                pieces[-1] = (False, f"{pieces[-1][1]} {word}")
            else:
                pieces.append((False, word))
        return tuple(pieces)

    def lines(self, room: float) -> int:
        """How many lines it takes in a column, its gutter included."""
        return _counted(self.lead, self.text, self._column(room), self.size)

    def height(self, room: float) -> float:
        """How high it is in a column, with the gap below."""
        return self.of_lines(self.lines(room))

    def _column(self, room: float) -> float:
        return room - GUTTER - _INSET.get(self.kind, 0.0)

    def of_lines(self, lines: int) -> float:
        """How high it is with so many lines."""
        return lines * self.size * LEADING + _AROUND.get(self.kind, 0.0) + _GAP

    def parted(self, room: float, height: float, *, at_least: bool) -> tuple[Paragraph, Paragraph] | None:
        """As much as fits a height (with ``at_least`` a line of it in any case), and the rest.

        None if not one line fits or nothing is left over.
        """
        lines = _filled(_marked(self.lead, self.text), self._column(room), self.size)
        fit = 1 if at_least else 0
        while fit < len(lines) and self.of_lines(fit + 1) <= height:
            fit += 1
        if fit in (0, len(lines)):
            return None
        lead, text = _sides(lines[:fit])
        lead_after, text_after = _sides(lines[fit:])
        first = replace(self, lead=lead, text=text)
        return first, replace(self, lead=lead_after, text=text_after, signs=(), mark="")


Word = tuple[str, bool]
"""A word, and whether it is bold."""


def lines_of(text: str, room: float, size: float, *, bold: bool = False) -> int:
    """How many lines a text takes in a column without gutter."""
    return _counted(text if bold else "", "" if bold else text, room, size)


@lru_cache(maxsize=32768)
def _counted(lead: str, text: str, room: float, size: float) -> int:
    """How many lines ``_filled`` would make. Roles and days share many texts, and each is asked for several times."""
    left, lines = room, 1
    for word, bold in _marked(lead, text):
        wide = _wide(word) * size * (BOLD if bold else 1.0)
        if wide > room:
            return len(_filled(_marked(lead, text), room, size))
        if wide > left and left < room:
            lines += 1
            left = room
        left -= wide + _BLANK * size * BOLD
    return lines


def _marked(lead: str, text: str) -> list[Word]:
    return [(word, True) for word in lead.split()] + [(word, False) for word in text.split()]


def _filled(words: Sequence[Word], room: float, size: float) -> list[list[Word]]:
    """The words in lines; one that is wider than a line is broken where it must be."""
    lines: list[list[Word]] = [[]]
    left = room
    for word, bold in words:
        for piece in _pieces(word, room / size / (BOLD if bold else 1.0)):
            wide = _wide(piece) * size * (BOLD if bold else 1.0)
            if lines[-1] and wide > left:
                lines.append([])
                left = room
            lines[-1].append((piece, bold))
            left -= wide + _BLANK * size * BOLD
    return lines


def _pieces(word: str, room: float) -> list[str]:
    if _wide(word) <= room:
        return [word]
    pieces, rest = [], word
    while rest:
        end = 1
        while end < len(rest) and _wide(rest[: end + 1]) <= room:
            end += 1
        pieces.append(rest[:end])
        rest = rest[end:]
    return pieces


@lru_cache(maxsize=16384)
def _wide(word: str) -> float:
    return 1.3 if word.startswith(SIGN) else width(word, 1.0)


def _sides(lines: Sequence[Sequence[Word]]) -> tuple[str, str]:
    words = [word for line in lines for word in line]
    return " ".join(word for word, bold in words if bold), " ".join(word for word, bold in words if not bold)
