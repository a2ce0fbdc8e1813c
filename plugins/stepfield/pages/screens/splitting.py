"""Splits what a screen says into screenfuls: nothing is made smaller, and nothing is cut off."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

from .paragraphs import Paragraph

LEAST_SECONDS = 8
"""A screenful stays at least so long, to be noticed and found again; common practice, no source."""
_BETWEEN = 0.55
"""Room below a card."""


@dataclass(frozen=True, slots=True)
class Card:
    """What belongs together: a step with its signs, or one thing to know. ``name`` is what its later pieces go by."""

    paragraphs: tuple[Paragraph, ...]
    name: str

    def height(self, room: float) -> float:
        """How high it is in a column."""
        return sum(paragraph.height(room) for paragraph in self.paragraphs) + _BETWEEN

    @property
    def words(self) -> int:
        """How many words there are to read."""
        return sum(paragraph.words for paragraph in self.paragraphs)


@dataclass(slots=True)
class Deal:
    """The cards of a whole screen dealt out: per card its pieces, each with the number of its screenful."""

    pieces: dict[int, list[tuple[int, Card]]] = field(default_factory=dict)
    words: list[int] = field(default_factory=list)

    def seconds(self, words_a_minute: int) -> tuple[int, ...]:
        """How long each screenful stays."""
        return tuple(max(LEAST_SECONDS, math.ceil(words * 60 / words_a_minute)) for words in self.words)

    @property
    def parted(self) -> tuple[int, ...]:
        """The cards that are too high for one screenful."""
        return tuple(number for number, pieces in self.pieces.items() if len(pieces) > 1)


def deal(groups: Sequence[tuple[Sequence[Card], float, float, int]], continued: Callable[[str], str]) -> Deal:
    """Deals out groups of cards, each group with the width and height of its room and the words of its head.

    Every group begins a new screenful. Cards are numbered through all groups. ``continued`` says that a piece goes on
    with the card of some name.
    """
    found = Deal()
    number = 0
    for cards, width, height, head in groups:
        left = -1.0
        for card in cards:
            high = card.height(width)
            fits = high <= height
            for piece in (card,) if fits else _pieces(card, width, height, continued):
                high = high if fits else piece.height(width)
                if high > left:
                    found.words.append(head)
                    left = height
                left -= high
                found.words[-1] += piece.words
                found.pieces.setdefault(number, []).append((len(found.words) - 1, piece))
            number += 1
    return found


def _pieces(card: Card, width: float, height: float, continued: Callable[[str], str]) -> Iterator[Card]:
    """A card in pieces that each fit a screenful; parted between paragraphs where possible, else between lines."""
    full = height - _BETWEEN
    again = Paragraph("note", continued(card.name))
    opening = [again] if again.height(width) <= full / 3 else []
    whole = full - sum(paragraph.height(width) for paragraph in opening)
    queue = list(card.paragraphs)
    now: list[Paragraph] = []
    left, fresh = full, True
    while queue:
        paragraph = queue.pop(0)
        high = paragraph.height(width)
        parts = None if high <= left or (high <= whole and not fresh) else paragraph.parted(width, left, at_least=fresh)
        if high <= left or (parts is None and fresh):
            now.append(paragraph)
            left, fresh = left - high, False
            continue
        if parts is not None:
            now.append(parts[0])
            queue.insert(0, parts[1])
        else:
            queue.insert(0, paragraph)
        yield Card(tuple(now), card.name)
        now, left, fresh = list(opening), whole, True
    yield Card(tuple(now), card.name)
