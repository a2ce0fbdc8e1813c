"""Which of the steps whose turn it is need to be tried at all, because the order of the others makes no difference.

This is the method of stubborn (or persistent) sets, after Valmari and Godefroid: from one ready step, take in every
step that could still happen before it and whose order against it can matter, and for a step that waits, one it waits
for. Trying only the ready steps of such a set still shows every slip and every end: what else happens first can be
moved behind.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from .footprint import Footprints
from .graph import StepGraph
from .order import bits
from .possible import Possible
from .world import Packed


class PersistentSets:
    """For a set of steps done, the ready steps that must be tried; told phase by phase.

    ``conflicts`` are, for each step of the phases begun, the mask of the steps whose order against it can matter.
    """

    def __init__(self, graph: StepGraph, footprints: Footprints) -> None:
        self.graph, self.footprints = graph, footprints
        self.unready = _unready(graph)
        self.conflicts = [0] * len(graph.steps)
        self.earlier = graph.order.ancestors()
        self.later = _turned_round(self.earlier)
        self.asking = sum(1 << step for step in graph.repeats)
        self.taken_back_by = [
            sum(1 << asking for asking, (_, undone) in graph.repeats.items() if undone >> step & 1)
            for step in range(len(graph.steps))
        ]

    def begin(self, phase: int, worlds: Iterable[Packed]) -> None:
        """Learns what may be the case in a phase from the worlds it can start in."""
        steps = [step for step, at in enumerate(self.graph.order.phase_of) if at == phase]
        known = Possible(self.graph, self.footprints.near, steps, worlds)
        for step, mask in self.footprints.conflicts(steps, known).items():
            self.conflicts[step] = mask | self.unready[step]

    def of(self, ready: tuple[int, ...], left: int, redone: int) -> tuple[int, ...]:
        """The smallest such set found.

        ``ready`` are the steps whose turn it is, ``left`` the mask of the steps not done in this phase, ``redone`` the
        mask of the done ones that a repeat may still bring back.
        """
        best = ready
        turn = sum(1 << step for step in ready)
        for seed in ready:
            if len(best) == 1:
                break
            if left & self.asking:
                tried = self._closed(seed, turn, left, redone) & turn
            else:
                tried = self._closed_onward(seed, turn, left, len(best))
            if tried.bit_count() < len(best):
                best = tuple(bits(tried))
        return best

    def _closed_onward(self, seed: int, turn: int, left: int, most: int) -> int:
        """The ready steps of such a set where nothing is taken back any more: who waits, waits for all before it.

        A waiting step cannot happen before a ready one that comes before it, so one such step in the set is enough.
        Given up with everything whose turn it is where the set comes to ``most`` steps or more.
        """
        taken, held, open_steps = 0, 0, 1 << seed
        while open_steps:
            step = open_steps.bit_length() - 1
            taken |= 1 << step
            held |= self.later[step]
            against = self.conflicts[step] & left & ~self.later[step]
            open_steps = (open_steps | against & turn) & ~taken
            waiting = against & ~turn & ~held
            while waiting:
                before_it = self.earlier[waiting.bit_length() - 1] & turn
                first = before_it & open_steps or before_it
                first &= -first
                open_steps |= first
                waiting &= ~self.later[first.bit_length() - 1]
            if (taken | open_steps).bit_count() >= most:
                return turn
        return taken

    def _closed(self, seed: int, turn: int, left: int, redone: int) -> int:
        taken, open_steps = 0, 1 << seed
        while open_steps:
            step = (open_steps & -open_steps).bit_length() - 1
            taken |= 1 << step
            if turn >> step & 1:
                before_it = (left | redone) & ~(0 if redone else self.later[step])
                open_steps |= self.conflicts[step] & before_it
            elif left >> step & 1:
                waits_for = self.graph.order.before[step] & left
                open_steps |= waits_for & -waits_for
            else:
                # Done, and back only when a repeat takes it back.
                open_steps |= self.taken_back_by[step] & (left | redone)
            open_steps &= ~taken
        return taken


def _turned_round(earlier: Sequence[int]) -> list[int]:
    """For each step the mask of the steps that always come after it."""
    later = [0] * len(earlier)
    for step in sorted(range(len(earlier)), key=lambda step: -earlier[step].bit_count()):
        left = earlier[step]
        while left:
            # Whoever is before the earlier step learns of this one from there.
            near = left.bit_length() - 1
            later[near] |= later[step] | 1 << step
            left &= ~(earlier[near] | 1 << near)
    return later


def _unready(graph: StepGraph) -> list[int]:
    """Order that matters though nothing is shared: a repeat takes back what lets a step of somebody else be ready."""
    extra = [0] * len(graph.steps)
    for asking, (_, undone) in graph.repeats.items():
        for step, before in enumerate(graph.order.before):
            same_phase = graph.order.phase_of[step] == graph.order.phase_of[asking]
            if same_phase and before & undone and not undone >> step & 1:
                extra[asking] |= 1 << step
                extra[step] |= 1 << asking
    return extra
