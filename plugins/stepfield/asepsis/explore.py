"""Every order of one protocol, with every choice and every answer, explored breadth-first.

Every transition is kept, because "does every order fail?" is asked afterwards.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import NamedTuple

from ..language.model import Level
from .graph import StepGraph
from .happen import end_slips
from .stepping import Moment, Picks, Settled, Stepping
from .world import Packed, Slip, SlipKey, World

FIRST_ASKED = 10_000
"""How many nodes are explored before it is asked for the first time whether to go on."""


class Edge(NamedTuple):
    """One step happening: from the node it is listed under to node ``to``, with the slips seen on the way.

    ``picks`` are the choices that had to be settled before the next steps' turn could come.
    """

    step: int
    answer: str | None
    to: int
    slips: tuple[SlipKey, ...]
    picks: Picks


@dataclass(slots=True)
class Exploration:
    """All that can happen.

    ``starts`` are the first nodes with the choices settled for them. A node is (``done``, ``world``, ``settled``) at
    its number; ``ends`` are the nodes with nothing left to do, with the slips of the end. ``happened`` maps a step to
    the pairs (world before, world after), as numbers into ``worlds``. ``reduced`` tells that orders that make no
    difference were left out; ``complete`` is false when the bound on states was reached.
    """

    graph: StepGraph
    choices: tuple[str, ...]
    reduced: bool
    starts: list[tuple[int, Picks]] = field(default_factory=list)
    done: list[int] = field(default_factory=list)
    world: list[int] = field(default_factory=list)
    settled: list[Settled] = field(default_factory=list)
    edges: list[list[Edge]] = field(default_factory=list)
    ends: dict[int, tuple[SlipKey, ...]] = field(default_factory=dict)
    slips: dict[SlipKey, Slip] = field(default_factory=dict)
    worlds: list[Packed] = field(default_factory=list)
    happened: dict[int, set[tuple[int, int]]] = field(default_factory=dict)
    complete: bool = True
    conflicts: list[int] = field(default_factory=list)
    """Where the exploration is reduced: for each step the mask of the steps whose order against it can matter."""

    def answers(self, node: int) -> Settled:
        """The answers to the graph's tracked questions, as known at a node."""
        return self.settled[node][len(self.choices) :]

    def levels(self, step: int, subject: int, *, after: bool = False) -> frozenset[Level]:
        """Every level the outside of a subject can have just before (or after) a step; empty if it never happens."""
        numbers = {pair[1] if after else pair[0] for pair in self.happened.get(step, ())}
        return frozenset(World(self.graph, self.worlds[number]).level(subject) for number in numbers)


def explore(
    graph: StepGraph,
    limit: int,
    *,
    reduced: bool = False,
    goes_on: Callable[[Exploration], bool] | None = None,
) -> Exploration:
    """Explores up to ``limit`` nodes; ``reduced`` as for Stepping.

    ``goes_on`` is asked now and then on the way whether to go on to the limit.
    """
    return _Explorer(graph, limit, reduced, goes_on).run()


class _Explorer:
    def __init__(
        self, graph: StepGraph, limit: int, reduced: bool, goes_on: Callable[[Exploration], bool] | None
    ) -> None:
        self.limit, self.stepping, self.goes_on = limit, Stepping(graph, reduced=reduced), goes_on
        self.bound = limit if goes_on is None else min(limit, FIRST_ASKED)
        self.found = Exploration(
            graph=graph,
            choices=self.stepping.choices,
            reduced=self.stepping.persistent is not None,
            worlds=self.stepping.worlds,
            slips=self.stepping.slips,
            conflicts=self.stepping.persistent.conflicts if self.stepping.persistent is not None else [],
        )
        self.number: dict[Moment, int] = {}
        self.phase_of = graph.order.phase_of
        self.waiting: dict[int, list[int]] = {}

    def run(self) -> Exploration:
        """Phase after phase: all the ways a phase can begin are known before its first step is tried."""
        self.search()
        self.found.happened = self.stepping.happened()
        return self.found

    def search(self) -> None:
        """Fills in what can happen, up to the bound."""
        found, stepping = self.found, self.stepping
        found.starts.extend((self.node(moment), picks) for moment, picks in stepping.starts())
        for phase in range(len(found.graph.protocol.phases)):
            nodes = self.waiting.get(phase, [])
            if stepping.persistent is not None:
                worlds = dict.fromkeys(found.world[node] for node in nodes)
                stepping.persistent.begin(phase, [found.worlds[world] for world in worlds])
            for node in nodes:  # grows while the phase is explored
                self.leave(node)
                if len(found.done) > self.bound and self.is_over():
                    found.complete = False
                    return
        for node in self.waiting.get(-1, ()):
            world = World(found.graph, found.worlds[found.world[node]])
            found.ends[node] = stepping.note(end_slips(found.graph, world))

    def is_over(self) -> bool:
        """Whether to stop at the bound reached; if not, the next one is twice as far."""
        if self.bound >= self.limit or (self.goes_on is not None and not self.goes_on(self.found)):
            return True
        self.bound = min(self.limit, 2 * self.bound)
        return False

    def leave(self, node: int) -> None:
        """Lets every step happen that can happen next."""
        found = self.found
        moment = (found.done[node], found.world[node], found.settled[node])
        found.edges[node] = [
            Edge(step, answer, self.node(then), slips, picks)
            for step, answer, slips, then, picks in self.stepping.moves(moment)
        ]

    def node(self, moment: Moment) -> int:
        """The number of a moment; a new one waits for its phase, or with -1 for the end."""
        node = self.number.setdefault(moment, len(self.found.done))
        if node == len(self.found.done):
            self.found.done.append(moment[0])
            self.found.world.append(moment[1])
            self.found.settled.append(moment[2])
            self.found.edges.append([])
            left = self.stepping.all_done & ~moment[0]
            phase = self.phase_of[(left & -left).bit_length() - 1] if left else -1
            self.waiting.setdefault(phase, []).append(node)
        return node
