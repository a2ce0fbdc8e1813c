"""Which steps can matter to one another: what each step may read or change, whatever the order.

Contact acts on outsides, and outsides change as covers come and go. A footprint is therefore closed over everything
that could ever cover a thing, and over everything that could ever rest on it. Two steps whose footprints do not
meet (but in what both only read) can change places without anybody noticing: same slips, same world.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from .graph import BoundEffect, StepGraph
from .order import bits

HANDLED = frozenset({"opens", "touches", "passes", "uses", "lays", "covers", "dons", "uncovers"})
"""The effects in which the owner's hands meet something, or are judged."""


@dataclass(frozen=True, slots=True)
class Footprint:
    """What a step may read and what it may change, as bits: subjects, above them facts, the field, drying, packs."""

    reads: int
    changes: int

    def meets(self, other: Footprint) -> bool:
        """Whether the order of the two steps can make a difference."""
        return bool(
            self.changes & (other.reads | other.changes) or other.changes & (self.reads | self.changes),
        )


def footprints(graph: StepGraph) -> tuple[Footprint, ...]:
    """The footprint of every step."""
    closure, opened = _closure(graph), _surely_opened(graph)
    return tuple(_footprint(graph, number, closure, opened) for number in range(len(graph.steps)))


def conflicts(graph: StepGraph) -> tuple[int, ...]:
    """For each step the mask of the other steps whose order against it can make a difference."""
    prints = footprints(graph)
    return tuple(
        sum(1 << other for other, theirs in enumerate(prints) if other != number and mine.meets(theirs))
        for number, mine in enumerate(prints)
    )


def _closure(graph: StepGraph) -> list[int]:
    """For each subject, as a mask: itself, what it may cover or be covered by, its packs, and what may rest on it."""
    near = [1 << number for number in range(len(graph.subjects))]
    for deed in graph.deeds:
        for effect in deed.effects:
            pair = _joined(graph, deed.owner, effect)
            if pair is not None:
                one, other, mutual = pair
                near[one] |= 1 << other
                near[other] |= 1 << one if mutual else 0
    return [_reach(near, number) for number in range(len(near))]


def _joined(graph: StepGraph, owner: str, effect: BoundEffect) -> tuple[int, int, bool] | None:
    """Two subjects an effect may join: a cover and its wearer (both ways), a surface and what rests there (one way)."""
    if effect.field == "covers":
        return effect.thing, effect.target, True
    if effect.field == "dons":
        place = graph.subjects[effect.thing].worn_on or "hands"
        return graph.parts[owner, place], effect.thing, True
    if effect.field in ("lays", "presents"):
        return effect.target, effect.thing, False
    return None


def _reach(near: list[int], start: int) -> int:
    found, left = 1 << start, near[start]
    while left & ~found:
        new = left & ~found
        found |= new
        for number in bits(new):
            left |= near[number]
    return found


def _footprint(graph: StepGraph, number: int, closure: list[int], opened: list[int]) -> Footprint:
    deed, above = graph.deeds[number], len(graph.subjects)
    field_bit = 1 << above + len(graph.facts)
    drying_bit, packs_from = field_bit << 1, above + len(graph.facts) + 2
    touched = _things(graph, number)
    # A need that is not met raises its subject, so that one slip is told once: it can change what it reads.
    changes = _all(closure, touched | {need.subject for need in deed.needs})
    # What a page says of somebody's hands at their own step must not depend on the orders left out.
    present = (
        graph.parts[person.value, "hands"]
        for person in (graph.steps[number].role, *graph.steps[number].helpers)
        if person
    )
    reads = field_bit | _all(closure, present)
    facts = sum(1 << fact for fact, _, _ in deed.requires) | deed.confirms | deed.withdraws
    changes |= facts << above
    if deed.ends_field:
        changes |= field_bit
    if deed.ignition or deed.dries or any(graph.subjects[thing].hazard == "fire" for thing in touched):
        changes |= drying_bit
    for pack in _packs_around(graph, touched):
        # Where the pack is sure to be open the step only relies on it; elsewhere a slip would open it.
        if opened[number] >> pack & 1:
            reads |= 1 << packs_from + pack
        else:
            changes |= 1 << packs_from + pack
    for effect in deed.effects:
        if effect.field == "opens":
            changes |= 1 << packs_from + effect.thing
    return Footprint(reads, changes)


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


def _things(graph: StepGraph, number: int) -> set[int]:
    """Every subject a step's effects may look at or change by name; the owner's hands meet most of them."""
    deed = graph.deeds[number]
    things = set()
    for effect in deed.effects:
        things.add(effect.thing)
        if effect.target >= 0:
            things.add(effect.target)
        if effect.field in HANDLED:
            things.add(deed.hands)
        if effect.field == "covers" and (role := graph.subjects[effect.thing].role) is not None:
            things.add(graph.parts[role, "hands"])
    return things


def _all(closure: list[int], things: Iterable[int]) -> int:
    mask = 0
    for thing in things:
        mask |= closure[thing]
    return mask
