"""A shortest order that shows a slip."""

from __future__ import annotations

import heapq
from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass

from .explore import Edge, Exploration
from .order import bits
from .sharing import Settlings
from .stepping import Moment, Picks, Stepping
from .trace import replay
from .world import SlipKey

Way = tuple[tuple[int, str | None], ...]
"""Steps in the order they happen, each with its answer if one was given."""


@dataclass(frozen=True, slots=True)
class Sighting:
    """Where a slip shows first: the way there, the node behind it, and what choices the way settles."""

    way: Way
    node: int
    settled: Mapping[str, str]
    at_end: bool


def first_sightings(key: SlipKey, settlings: Settlings, combination: int) -> list[Sighting]:
    """The sightings of a slip that take fewest steps, for one combination of choices (a mask with a single bit).

    One at a step and one at an end, where there are such: the same slip can show at both. Empty if no order shows it.
    """
    found = settlings.found
    came: dict[int, tuple[int, Edge | None, Picks]] = {}
    queue: deque[int] = deque()
    seen: dict[bool, Sighting] = {}
    for (node, mask), (_, picks) in zip(settlings.starts, found.starts, strict=True):
        if mask & combination and node not in came:
            came[node] = (node, None, picks)
            queue.append(node)
    while queue and False not in seen:
        node = queue.popleft()
        if key in found.ends.get(node, ()):
            seen.setdefault(True, _sighting(found, came, node, None))
            if key[1] < 0:
                break
        for edge in found.edges[node]:
            if not settlings.of(edge.picks) & combination:
                continue
            if key in edge.slips:
                seen.setdefault(False, _sighting(found, came, node, edge))
            if edge.to not in came:
                came[edge.to] = (node, edge, edge.picks)
                queue.append(edge.to)
    return list(seen.values())


def _sighting(
    found: Exploration, came: Mapping[int, tuple[int, Edge | None, Picks]], node: int, last: Edge | None
) -> Sighting:
    edges, picks = _back(came, node)
    if last is not None:
        edges.append(last)
    settled = {found.choices[position]: option for position, option in picks}
    behind = node if last is None else last.to
    return Sighting(tuple((edge.step, edge.answer) for edge in edges), behind, settled, at_end=last is None)


def _back(came: Mapping[int, tuple[int, Edge | None, Picks]], node: int) -> tuple[list[Edge], list[tuple[int, str]]]:
    edges: list[Edge] = []
    picks: list[tuple[int, str]] = []
    while True:
        before, edge, settled = came[node]
        picks += settled
        if edge is None:
            return edges[::-1], picks
        edges.append(edge)
        node = before


def shortened(key: SlipKey, settlings: Settlings, combination: int, sighting: Sighting, limit: int) -> tuple[Way, bool]:
    """A shorter order for a slip that a reduced exploration sighted, and whether it is known to be a shortest one.

    Earlier phases have to be done whole, in whatever order, so the search starts from every way to begin the slip's
    phase. In the phase it tries every order of those steps that can matter to the slip, up to ``limit`` moments.
    """
    found, graph = settlings.found, settlings.found.graph
    step = found.slips[key].step
    if step is None or not found.reduced or sighting.at_end:
        return sighting.way, True
    phase = graph.order.phase_of[step]
    earlier = sum(1 << other for other, at in enumerate(graph.order.phase_of) if at < phase)
    search = _Search(settlings, combination, limit, _relevant(settlings, step))
    for node, way in _phase_starts(settlings, combination, earlier):
        search.add((found.done[node], search.known(node), found.settled[node]), way)
    shortest = search.run(key)
    return (_trimmed(key, settlings, sighting.way), False) if shortest is None else (shortest, True)


def _trimmed(key: SlipKey, settlings: Settlings, way: Way) -> Way:
    """The way without each step that no later one waits for and the slip shows without."""
    graph, ancestors = settlings.found.graph, settlings.found.graph.order.ancestors()
    for step, answer in way[-2::-1]:
        if answer is not None or any(ancestors[later] >> step & 1 for later, _ in way):
            continue
        shorter = tuple(one for one in way if one[0] != step)
        if key in {slip.key for slip in replay(graph, [one for one, _ in shorter])[-1].slips}:
            way = shorter
    return way


def _phase_starts(settlings: Settlings, combination: int, earlier: int) -> list[tuple[int, Way]]:
    """The nodes at which all earlier phases are just done, each with a shortest way there."""
    found = settlings.found
    ways: dict[int, Way] = {
        node: () for (node, mask), _ in zip(settlings.starts, found.starts, strict=True) if mask & combination
    }
    queue, starts = deque(ways), []
    while queue:
        node = queue.popleft()
        if found.done[node] & earlier == earlier:
            starts.append((node, ways[node]))
            continue
        for edge in found.edges[node]:
            if settlings.of(edge.picks) & combination and edge.to not in ways:
                ways[edge.to] = (*ways[node], (edge.step, edge.answer))
                queue.append(edge.to)
    return starts


def _relevant(settlings: Settlings, step: int) -> int:
    """The steps of the slip's phase that can matter to it: those before it, those it conflicts with, and so on."""
    graph = settlings.found.graph
    matters, ancestors = settlings.found.conflicts, graph.order.ancestors()
    phase = graph.order.phase_of[step]
    here = sum(1 << other for other, at in enumerate(graph.order.phase_of) if at == phase)
    asking = sum(1 << other for other in graph.repeats)
    relevant, new = 0, 1 << step
    while new:
        relevant |= new
        near = 0
        for other in bits(new):
            near |= matters[other] | ancestors[other]
        new = (near | asking) & here & ~relevant
    return relevant


class _Search:
    """Breadth-first over moments, from starts that are already some steps in."""

    def __init__(self, settlings: Settlings, combination: int, limit: int, relevant: int) -> None:
        self.settlings, self.combination, self.limit, self.relevant = settlings, combination, limit, relevant
        self.stepping = Stepping(settlings.found.graph, reduced=False)
        self.ways: dict[Moment, Way] = {}
        self.heap: list[tuple[int, int, Moment]] = []

    def known(self, node: int) -> int:
        """The number this search gives the world of a node."""
        found = self.settlings.found
        return self.stepping.intern(found.worlds[found.world[node]])

    def add(self, moment: Moment, way: Way) -> None:
        """Queues a moment unless a way as short is known."""
        if moment not in self.ways or len(way) < len(self.ways[moment]):
            self.ways[moment] = way
            heapq.heappush(self.heap, (len(way), len(self.ways), moment))

    def run(self, key: SlipKey) -> Way | None:
        """The shortest way to the slip, the failing step included."""
        while self.heap and len(self.ways) <= self.limit:
            length, _, moment = heapq.heappop(self.heap)
            if length > len(self.ways[moment]) or moment[0] == self.stepping.all_done:
                continue
            for step, answer, slips, then, picks in self.stepping.moves(moment, self.relevant):
                if not self.settlings.of(picks) & self.combination:
                    continue
                way = (*self.ways[moment], (step, answer))
                if key in slips:
                    return way
                self.add(then, way)
        return None
