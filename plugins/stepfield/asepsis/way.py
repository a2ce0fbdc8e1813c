"""A shortest order that shows a slip."""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass

from .explore import Edge, Exploration
from .sharing import Settlings
from .stepping import Picks
from .world import SlipKey

Way = tuple[tuple[int, str | None], ...]
"""Steps in the order they happen, each with its answer if one was given."""


@dataclass(frozen=True, slots=True)
class Sighting:
    """Where a slip shows first: the way there, the node behind it, and what choices the way settles."""

    way: Way
    node: int
    settled: Mapping[str, str]


def first_sighting(key: SlipKey, settlings: Settlings, combination: int) -> Sighting:
    """The sighting of a slip that takes fewest steps, for one combination of choices (a mask with a single bit).

    Raises ValueError if no order with that combination shows the slip.
    """
    found = settlings.found
    came: dict[int, tuple[int, Edge | None, Picks]] = {}
    queue: deque[int] = deque()
    for (node, mask), (_, picks) in zip(settlings.starts, found.starts, strict=True):
        if mask & combination and node not in came:
            came[node] = (node, None, picks)
            queue.append(node)
    while queue:
        node = queue.popleft()
        if key in found.ends.get(node, ()):
            return _sighting(found, came, node, None)
        for edge in found.edges[node]:
            if not settlings.of(edge.picks) & combination:
                continue
            if key in edge.slips:
                return _sighting(found, came, node, edge)
            if edge.to not in came:
                came[edge.to] = (node, edge, edge.picks)
                queue.append(edge.to)
    raise ValueError(f"no order shows {key}")


def _sighting(
    found: Exploration, came: Mapping[int, tuple[int, Edge | None, Picks]], node: int, last: Edge | None
) -> Sighting:
    edges, picks = _back(came, node)
    if last is not None:
        edges.append(last)
    settled = {found.choices[position]: option for position, option in picks}
    behind = node if last is None else last.to
    return Sighting(tuple((edge.step, edge.answer) for edge in edges), behind, settled)


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
