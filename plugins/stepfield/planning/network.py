"""A simple temporal network: moments, and bounds on how far apart they may be.

The theory is R. Dechter, I. Meiri and J. Pearl, "Temporal constraint networks" (Artificial Intelligence 49, 1991): the
bounds can all be kept exactly if the graph of distances has no cycle of negative length.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

Reason = TypeVar("Reason")


@dataclass(frozen=True, slots=True)
class Bound(Generic[Reason]):
    """Moment ``late`` comes at most ``most`` seconds after moment ``early``; a negative number says "at least before".

    ``reason`` is whatever the bound comes from, for whoever has to explain a clash.
    """

    early: int
    late: int
    most: float
    reason: Reason


class Network(Generic[Reason]):
    """Moments numbered from 0, and the bounds between them."""

    def __init__(self, moments: int, bounds: Iterable[Bound[Reason]]) -> None:
        self.moments = moments
        self.bounds = tuple(bounds)

    def clash(self) -> tuple[Bound[Reason], ...]:
        """A closed chain of bounds that can't all be kept; empty if all can; by Bellman and Ford's algorithm."""
        distance = [0.0] * self.moments
        via: list[Bound[Reason] | None] = [None] * self.moments
        last: int | None = None
        for _ in range(self.moments):
            last = None
            for bound in self.bounds:
                reached = distance[bound.early] + bound.most
                if reached < distance[bound.late] - 1e-9:  # seconds; sums of decimal times are not exact
                    distance[bound.late], via[bound.late], last = reached, bound, bound.late
            if last is None:
                return ()
        return _cycle(via, last) if last is not None else ()

    def earliest(self, origin: int = 0) -> list[float]:
        """The earliest time of every moment after ``origin``, in seconds. Raises ValueError if the bounds clash."""
        return [-one for one in self._distances(origin, backward=True)]

    def latest(self, origin: int, end: float) -> list[float]:
        """The latest time of every moment if moment ``origin`` is to come at ``end``. Raises ValueError on a clash."""
        return [end + one for one in self._distances(origin, backward=False)]

    def _distances(self, origin: int, *, backward: bool) -> list[float]:
        """Shortest distances from a moment, or backward to it; no shorter than the other way allows."""
        distance = [float("inf")] * self.moments
        distance[origin] = 0.0
        for _ in range(self.moments):
            changed = False
            for bound in self.bounds:
                one, other = (bound.late, bound.early) if backward else (bound.early, bound.late)
                if distance[one] + bound.most < distance[other] - 1e-9:
                    distance[other] = distance[one] + bound.most
                    changed = True
            if not changed:
                return distance
        raise ValueError("the bounds can't all be kept")


def _cycle(via: Sequence[Bound[Reason] | None], start: int) -> tuple[Bound[Reason], ...]:
    """The closed chain that a moment which still changes after so many rounds must lead back to."""
    at = start
    for _ in range(len(via)):
        bound = via[at]
        if bound is None:  # never, as each moment on the way was reached by a bound
            return ()
        at = bound.early
    chain: list[Bound[Reason]] = []
    first = at
    while not chain or at != first:
        bound = via[at]
        if bound is None:
            return ()
        chain.append(bound)
        at = bound.early
    return tuple(reversed(chain))
