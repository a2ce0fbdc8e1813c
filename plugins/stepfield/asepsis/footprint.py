"""Which steps can matter to one another: what each step may read or change, whatever the order.

Contact acts on outsides, and outsides change as covers come and go: a footprint is closed over everything that could
ever cover a thing, and over everything that could ever rest on it. Two steps whose footprints do not meet, but in what
both only read, can change places without anybody noticing: same slips, same world. What is known to be impossible in
the phase (see possible.py) makes footprints smaller: a contact that changes nothing only reads.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from ..language.model import Level
from .effects import SCOPES
from .graph import BoundEffect, Deed, StepGraph
from .nearness import Nearness
from .order import bits
from .possible import Possible, guarded_hands, met


@dataclass(frozen=True, slots=True)
class Footprint:
    """What a step may read and what it may change, as bits: subjects, above them facts, the field, drying, packs."""

    reads: int
    changes: int


class Footprints:
    """The footprints of a protocol's steps; worked out phase by phase where something is known of the phase."""

    def __init__(self, graph: StepGraph, near: Nearness) -> None:
        self.graph, self.near = graph, near
        self.above = len(graph.subjects)
        self.field_bit = 1 << self.above + len(graph.facts)
        self.packs_from = self.above + len(graph.facts) + 2
        self.opened = _surely_opened(graph)

    def of(self, step: int, known: Possible | None = None) -> Footprint:
        """The footprint of one step, given what is known of its phase."""
        deed, graph = self.graph.deeds[step], self.graph
        reads = changes = 0
        for need in deed.needs:
            if known is not None and known.is_at_least(need.subject, need.level):
                reads |= self.near.covers[need.subject]
            else:
                # A need that is not met raises its subject, so that one slip is told once: it can change what it reads.
                changes |= self.near.all[need.subject]
        for effect in deed.effects:
            more_read, more_changed = self._effect(deed, effect, known)
            reads, changes = reads | more_read, changes | more_changed
        people = [person for person in (graph.steps[step].role, *graph.steps[step].helpers) if person is not None]
        for person in people:
            # What a page says of somebody's hands at their own step must not depend on the orders left out.
            reads |= self.near.covers[graph.parts[person.value, "hands"]]
        facts = sum(1 << fact for fact, _, _ in deed.requires) | deed.confirms | deed.withdraws
        changes |= facts << self.above | (self.field_bit if deed.ends_field else 0)
        things = [thing for effect in deed.effects for thing in (effect.thing, effect.target) if thing >= 0]
        if deed.ignition or deed.dries or any(graph.subjects[thing].hazard == "fire" for thing in things):
            changes |= self.field_bit << 1
        packs_read, packs_changed = self._packs(step, things, known)
        return Footprint(reads | self.field_bit | packs_read, changes | packs_changed)

    def conflicts(self, steps: Iterable[int], known: Possible | None = None) -> dict[int, int]:
        """For each of the steps the mask of those others whose order against it can make a difference.

        That is where one of the two may change what the other reads or changes.
        """
        alike: dict[Footprint, int] = defaultdict(int)
        for step in steps:
            alike[self.of(step, known)] |= 1 << step
        reading, changing = _by_bit(alike)
        found: dict[int, int] = {}
        for mine, some in alike.items():
            against = 0
            for bit in bits(mine.changes):
                against |= reading[bit] | changing[bit]
            for bit in bits(mine.reads):
                against |= changing[bit]
            found |= {step: against & ~(1 << step) for step in bits(some)}
        return found

    def _effect(self, deed: Deed, effect: BoundEffect, known: Possible | None) -> tuple[int, int]:
        near, scope, reads, changes = self.near, SCOPES[effect.field], 0, 0
        pairs = met(deed, effect)
        for pair in pairs:
            silent = known is not None and known.is_silent(*pair)
            for subject in pair:
                reads |= near.covers[subject]
                changes |= 0 if silent else near.all[subject]
        hands = guarded_hands(self.graph, deed, effect)
        if hands is not None:
            safe = known is not None and known.is_at_least(hands, Level.DISINFECTED)
            reads |= near.covers[hands]
            changes |= 0 if safe else near.all[hands]
        if scope.takes:
            reads |= near.covers[effect.thing]
            changes |= 1 << effect.thing
        elif not pairs:
            changes |= near.all[effect.thing]
        if scope.layers:
            changes |= near.all[effect.thing] | (near.all[effect.target] if effect.target >= 0 else 0)
        for thing in (effect.thing, effect.target):
            if thing >= 0:
                gone = known is None or known.gone >> thing & 1
                reads |= near.covers[thing]
                changes |= 1 << thing if gone else 0
        return reads, changes

    def _packs(self, step: int, things: Iterable[int], known: Possible | None) -> tuple[int, int]:
        reads = changes = 0
        for pack in _packs_around(self.graph, things):
            # Where the pack is sure to be open the step only relies on it; elsewhere a slip would open it.
            if self.opened[step] >> pack & 1 or (known is not None and known.opened >> pack & 1):
                reads |= 1 << self.packs_from + pack
            else:
                changes |= 1 << self.packs_from + pack
        for effect in self.graph.deeds[step].effects:
            if effect.field == "opens":
                changes |= 1 << self.packs_from + effect.thing
        return reads, changes


def _by_bit(alike: Mapping[Footprint, int]) -> tuple[dict[int, int], dict[int, int]]:
    """For each bit the mask of the steps that may read it, and of those that may change it."""
    reading: dict[int, int] = defaultdict(int)
    changing: dict[int, int] = defaultdict(int)
    for mine, some in alike.items():
        for bit in bits(mine.reads):
            reading[bit] |= some
        for bit in bits(mine.changes):
            changing[bit] |= some
    return reading, changing


def _surely_opened(graph: StepGraph) -> list[int]:
    """For each step the mask of the packs that some step without a condition always opens before it."""
    opened = [0] * len(graph.steps)
    ancestors = graph.order.ancestors()
    for opener, deed in enumerate(graph.deeds):
        packs = sum({1 << effect.thing for effect in deed.effects if effect.field == "opens"})
        if not packs or graph.conditions[opener]:
            continue
        for step, mask in enumerate(ancestors):
            opened[step] |= packs if mask >> opener & 1 else 0
    return opened


def _packs_around(graph: StepGraph, things: Iterable[int]) -> set[int]:
    packs = set()
    for thing in things:
        pack = graph.subjects[thing].held_in
        while pack is not None:
            packs.add(graph.number[pack])
            pack = graph.subjects[graph.number[pack]].held_in
    return packs
