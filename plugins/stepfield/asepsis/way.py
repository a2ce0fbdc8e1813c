"""A shortest order that shows a slip."""

from __future__ import annotations

import heapq
import itertools
from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass

from .explore import Edge, Exploration
from .graph import StepGraph
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
    shortest = _Search(settlings, combination, step, limit).run(key, _phase_starts(settlings, combination, earlier))
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
    came: dict[int, tuple[int, Edge | None, Picks]] = {
        node: (node, None, ())
        for (node, mask), _ in zip(settlings.starts, found.starts, strict=True)
        if mask & combination
    }
    queue, starts = deque(came), []
    while queue:
        node = queue.popleft()
        if found.done[node] & earlier == earlier:
            starts.append((node, tuple((edge.step, edge.answer) for edge in _back(came, node)[0])))
            continue
        for edge in found.edges[node]:
            if edge.to not in came and settlings.of(edge.picks) & combination:
                came[edge.to] = (node, edge, ())
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


def _needed(graph: StepGraph, step: int) -> int:
    """Steps of the same phase that have to be done whenever a step happens, each of which takes one move to do."""
    phase_of, order = graph.order.phase_of, graph.order
    here = sum(1 << other for other, at in enumerate(phase_of) if at == phase_of[step])
    # A repeat may take back what comes before a step that is done: then only the steps right before are sure.
    taken_back = any(phase_of[asking] == phase_of[step] for asking in graph.repeats)
    before = order.before[step] if taken_back else order.ancestors()[step]
    return before & here & ~sum(1 << other for other in bits(here) if graph.conditions[other])


class _Search:
    """The shortest orders from the start of a phase to a slip at one of its steps.

    Two passes. The first goes straight for the slip (A*: a moment is as promising as the steps to it and the steps that
    must still follow are few) and so learns how short an order can be. The second goes breadth-first past all that
    cannot be part of so short an order, to find among several the one whose steps come first in the text.
    """

    def __init__(self, settlings: Settlings, combination: int, step: int, limit: int) -> None:
        self.settlings, self.combination, self.limit = settlings, combination, limit
        self.relevant, self.needed = _relevant(settlings, step), _needed(settlings.found.graph, step)
        self.stepping = Stepping(settlings.found.graph, reduced=False)
        self.came: dict[Moment, tuple[int, Moment | None, Way]] = {}
        self.heap: list[tuple[int, int, int, int, Moment]] = []
        self.count = itertools.count()

    def run(self, key: SlipKey, starts: list[tuple[int, Way]]) -> Way | None:
        """A shortest way to the slip, the failing step included; None where the limit was reached before."""
        found = self.settlings.found
        moments = [
            ((found.done[node], self.stepping.intern(found.worlds[found.world[node]]), found.settled[node]), way)
            for node, way in starts
        ]
        straight = self._pass(key, moments, None)
        return straight and (self._pass(key, moments, len(straight)) or straight)

    def _pass(self, key: SlipKey, starts: list[tuple[Moment, Way]], least: int | None) -> Way | None:
        """The first pass, or where it is known how many steps are the ``least``, the second."""
        self.came, self.heap, looked_at = {}, [], 0
        for moment, way in starts:
            self._add(moment, len(way), None, way, least)
        while self.heap and (looked_at if least is None else len(self.came)) <= self.limit:
            *_, length, moment = heapq.heappop(self.heap)
            if length > self.came[moment][0] or moment[0] == self.stepping.all_done:
                continue
            looked_at += 1
            for step, answer, slips, then, picks in self.stepping.moves(moment, self.relevant):
                if not self.settlings.of(picks) & self.combination:
                    continue
                if key in slips:
                    return (*self._way(moment), (step, answer))
                self._add(then, length + 1, moment, ((step, answer),), least)
        return None

    def _add(self, moment: Moment, length: int, before: Moment | None, way: Way, least: int | None) -> None:
        """Queues a moment unless a way as short is known, or it leads to no order short enough."""
        known = self.came.get(moment)
        if known is not None and known[0] <= length:
            return
        in_all = length + (self.needed & ~moment[0]).bit_count() + 1
        if least is not None and in_all > least:
            return
        self.came[moment] = (length, before, way)
        rank = (in_all, -length) if least is None else (length, 0)
        heapq.heappush(self.heap, (*rank, next(self.count), length, moment))

    def _way(self, moment: Moment | None) -> Way:
        parts: list[Way] = []
        while moment is not None:
            _, moment, part = self.came[moment]
            parts.append(part)
        return tuple(one for part in reversed(parts) for one in part)
