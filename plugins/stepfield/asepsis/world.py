"""The state of everything that has a level, at one moment of one order.

A World is worked on in place while one step happens and packed into a hashable value between steps.
"""

from __future__ import annotations

from dataclasses import dataclass

from ..language.model import Kind, Level
from ..language.source import Span
from .graph import StepGraph

Pairs = tuple[tuple[int, int], ...]
Covers = tuple[tuple[int, tuple[int, ...]], ...]
Packed = tuple[bytes, int, Covers, int, int, Pairs, int, int, Pairs, Pairs, int]
"""levels, soiled, covers, opened, gone, rests, facts, counted, pending, wet, field ended; a World explains each."""


@dataclass(frozen=True, slots=True)
class Slip:
    """Something that goes wrong at a step, or (``step`` None) at the end; identified by (kind, step, subject).

    ``have`` and ``asked`` are levels, ``by`` the other thing or person concerned, ``span`` the place in the text.
    """

    kind: str
    step: int | None
    subject: str
    span: Span
    have: Level | None = None
    asked: Level | None = None
    by: str | None = None

    @property
    def key(self) -> tuple[str, int, str]:
        """What identifies the slip within its protocol; -1 stands for the end."""
        return (self.kind, -1 if self.step is None else self.step, self.subject)


LEVELS = tuple(Level)
"""Every level at its own number: looked up here it costs less than made anew."""
SlipKey = tuple[str, int, str]
"""(kind, step or -1 for the end, subject)."""


class World:
    """Levels, soil, covers, availability, resting places, facts and counts; subjects are numbers of the graph.

    ``pending`` maps a counted item to the step of its last use that no count followed yet; ``wet`` holds (item, step)
    for each use of a burning item on a site whose drying wait is not over.
    """

    __slots__ = (
        "counted",
        "covers",
        "facts",
        "field_ended",
        "gone",
        "graph",
        "levels",
        "opened",
        "pending",
        "rests",
        "soiled",
        "wet",
    )

    def __init__(self, graph: StepGraph, packed: Packed | None = None) -> None:
        self.graph = graph
        if packed is None:
            self.levels = bytearray(int(subject.starts) for subject in graph.subjects)
            self.soiled = self.opened = self.gone = self.facts = self.counted = self.field_ended = 0
            self.covers: dict[int, tuple[int, ...]] = {}
            self.rests: dict[int, int] = {}
            self.pending: dict[int, int] = {}
            self.wet: set[tuple[int, int]] = set()
            return
        levels, self.soiled, covers, self.opened, self.gone, rests, self.facts, self.counted, pending, wet, ended = (
            packed
        )
        self.levels, self.covers = bytearray(levels), dict(covers)
        # Most of the time nothing rests, is uncounted or wet.
        self.rests = dict(rests) if rests else {}
        self.pending = dict(pending) if pending else {}
        self.wet = set(wet) if wet else set()
        self.field_ended = ended

    def pack(self) -> Packed:
        """The same state as a value that can be hashed and compared."""
        return (
            bytes(self.levels),
            self.soiled,
            tuple(sorted(self.covers.items())),
            self.opened,
            self.gone,
            tuple(sorted(self.rests.items())) if self.rests else (),
            self.facts,
            self.counted,
            tuple(sorted(self.pending.items())) if self.pending else (),
            tuple(sorted(self.wet)) if self.wet else (),
            self.field_ended,
        )

    def outside(self, subject: int) -> int:
        """The topmost cover, or the subject itself when bare; covers may wear covers."""
        while (stack := self.covers.get(subject)) is not None:
            subject = stack[-1]
        return subject

    def level(self, subject: int) -> Level:
        """The level of the outside."""
        return LEVELS[self.levels[self.outside(subject)]]

    def is_soiled(self, thing: int) -> bool:
        """Whether this very thing (not its cover) carries patient material."""
        return bool(self.soiled >> thing & 1)

    def in_pack(self, thing: int) -> bool:
        """Whether it still lies in a pack nobody opened."""
        held_in = self.graph.subjects[thing].held_in
        return held_in is not None and not self.opened >> self.graph.number[held_in] & 1

    def is_gone(self, thing: int) -> bool:
        """Whether it was discarded or handed over."""
        return bool(self.gone >> thing & 1)

    def wearer(self, thing: int) -> int | None:
        """The subject that wears the thing as one of its covers, if any."""
        for subject, stack in self.covers.items():
            if thing in stack:
                return subject
        return None

    def put_on(self, subject: int, cover: int) -> None:
        """Makes ``cover`` the topmost cover; it leaves where it was before, and what it lay under comes off it."""
        if cover == subject:
            return
        self.take_off(cover)
        under, wearer = subject, self.wearer(subject)
        while wearer is not None and wearer != cover:
            under, wearer = wearer, self.wearer(wearer)
        if wearer is not None:
            self.take_off(under)
        self.rests.pop(cover, None)
        self.covers[subject] = (*self.covers.get(subject, ()), cover)

    def take_off(self, cover: int) -> None:
        """Takes the cover off whatever wears it."""
        subject = self.wearer(cover)
        if subject is not None:
            rest = tuple(thing for thing in self.covers[subject] if thing != cover)
            if rest:
                self.covers[subject] = rest
            else:
                del self.covers[subject]

    def touch_level(self, thing: int) -> Level:
        """The level a thing brings to a contact: a disinfected site counts as sterile, as skin cannot be."""
        level = LEVELS[self.levels[thing]]
        if level is Level.DISINFECTED and self.graph.subjects[thing].kind is Kind.SITE:
            return Level.STERILE
        return level

    def in_field(self, thing: int) -> bool:
        """Whether it is guarded now: a sterile cover in place, a sterile surface or a site at disinfected."""
        if self.field_ended:
            return False
        kind, level = self.graph.subjects[thing].kind, self.levels[thing]
        if kind is Kind.SITE:
            return level >= Level.DISINFECTED
        if level < Level.STERILE:
            return False
        return kind is Kind.SURFACE or self._covers_field(thing)

    def _covers_field(self, thing: int) -> bool:
        wearer = self.wearer(thing)
        return wearer is not None and self.graph.subjects[wearer].kind is not Kind.ITEM

    def resting_on(self, thing: int) -> list[int]:
        """What rests on the surface whose outside is ``thing``."""
        if not self.rests:
            return []
        under = {surface for surface in set(self.rests.values()) if self.outside(surface) == thing}
        return [item for item, surface in self.rests.items() if surface in under] if under else []
