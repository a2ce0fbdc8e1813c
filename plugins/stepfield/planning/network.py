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

    def tightest(self, early: int, late: int) -> tuple[Bound[Reason], ...]:
        """The chain of bounds that keeps moment ``late`` closest after ``early``; empty if none does.

        Raises ValueError if the bounds clash.
        """
        distance, via = self._searched(early)
        chain: list[Bound[Reason]] = []
        at = late
        while at != early and distance[late] < float("inf"):
            bound = via[at]
            if bound is None:  # never, as each moment that was reached has one
                return ()
            chain.append(bound)
            at = bound.early
        return tuple(reversed(chain))

    def earliest(self, origin: int = 0) -> list[float]:
        """The earliest time of every moment after ``origin``, in seconds. Raises ValueError if the bounds clash."""
        turned = Network(self.moments, (Bound(one.late, one.early, one.most, one.reason) for one in self.bounds))
        return [-one for one in turned._searched(origin)[0]]

    def latest(self, origin: int, end: float) -> list[float]:
        """The latest time of every moment if moment ``origin`` is to come at ``end``. Raises ValueError on a clash."""
        return [end + one for one in self._searched(origin)[0]]

    def _searched(self, origin: int) -> tuple[list[float], list[Bound[Reason] | None]]:
        """Shortest distances from a moment, and the last bound on the way to each."""
        distance = [float("inf")] * self.moments
        via: list[Bound[Reason] | None] = [None] * self.moments
        distance[origin] = 0.0
        for _ in range(self.moments):
            changed = False
            for bound in self.bounds:
                reached = distance[bound.early] + bound.most
                if reached < distance[bound.late] - 1e-9:
                    distance[bound.late], via[bound.late], changed = reached, bound, True
            if not changed:
                return distance, via
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
