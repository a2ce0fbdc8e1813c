"""What of a world no step to come can notice: worlds that differ in nothing else are one (the cone of influence).

A level matters only while some step left may read or change it, a confirmed fact only while some step left asks for
it. Soil, covers, resting places, open packs and what has left are judged at the end, or change with others: they stay.
"""

from __future__ import annotations

from .footprint import Footprints
from .graph import StepGraph
from .order import bits
from .world import Packed


class Forgetting:
    """Sets what does not matter any more to nothing."""

    def __init__(self, graph: StepGraph, footprints: Footprints) -> None:
        everything = (1 << len(graph.subjects)) - 1
        prints = [footprints.of(step) for step in range(len(graph.steps))]
        subjects = [(mine.reads | mine.changes) & everything for mine in prints]
        facts = [sum({1 << fact for fact, _, _ in deed.requires}) for deed in graph.deeds]
        self.kept: dict[int, int] = {}
        self.lanes: list[tuple[int, dict[int, tuple[int, int]]]] = [
            (sum(1 << step for step in lane), {}) for lane in graph.order.lanes.values()
        ]
        for (_, from_here), lane in zip(self.lanes, graph.order.lanes.values(), strict=True):
            noticed = (0, 0)
            for step in reversed(lane):
                noticed = from_here[step] = (noticed[0] | subjects[step], noticed[1] | facts[step])

    def matters(self, left: int) -> tuple[int, int]:
        """The masks of subjects and of facts that the steps left can notice, in each lane from the first one on."""
        subjects = facts = 0
        for lane, from_here in self.lanes:
            own = left & lane
            if own:
                noticed = from_here[(own & -own).bit_length() - 1]
                subjects |= noticed[0]
                facts |= noticed[1]
        return subjects, facts

    def forgotten(self, world: Packed, subjects: int, facts: int) -> Packed:
        """The world without the levels and the facts that do not matter."""
        kept = self.kept.get(subjects)
        if kept is None:
            kept = self.kept[subjects] = sum(255 << 8 * number for number in bits(subjects))
        levels = (int.from_bytes(world[0], "little") & kept).to_bytes(len(world[0]), "little")
        return (levels, *world[1:6], world[6] & facts, *world[7:])
