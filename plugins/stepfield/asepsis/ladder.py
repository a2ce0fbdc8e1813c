"""When to leave the search for other ways to settle the same question, which are in climbing.py."""

from __future__ import annotations

from collections import Counter

from .explore import Exploration
from .graph import StepGraph
from .proof import Climbed

HOPELESS = 2
"""A search that looks like coming to this many times its bound is not gone on with."""


class Ladder:
    """The rungs beside the search, climbed once at most; without ``drawing`` the solver does more than it has to."""

    def __init__(self, graph: StepGraph, limit: int, *, drawing: bool = True) -> None:
        self.graph, self.limit, self.drawing = graph, limit, drawing
        self.climbed: Climbed | None = None

    def goes_on(self, found: Exploration) -> bool:
        """Whether a search is to go on: not if it looks hopeless and everything can be settled without it."""
        if self.climbed is None and _states_to_come(found) > HOPELESS * self.limit:
            self.climb(found)
        return self.climbed is None or self.climbed.reason is not None

    def climb(self, found: Exploration) -> Climbed:
        """Settles everything, or tells why not."""
        if self.climbed is None:
            from .climbing import climbed  # seldom needed

            self.climbed = climbed(self.graph, found.choices, drawing=self.drawing)
        return self.climbed


def _states_to_come(found: Exploration) -> int:
    """How many states a search would come to, if it grew no wider from here to the middle of its phase."""
    order, done = found.graph.order, found.done[-1]
    left = ((1 << len(order.phase_of)) - 1) & ~done
    if not left:
        return len(found.done)
    phase = order.phase_of[(left & -left).bit_length() - 1]
    earlier = sum(1 << step for step, at in enumerate(order.phase_of) if at < phase)
    size = sum(at == phase for at in order.phase_of)
    widths = Counter((node & ~earlier).bit_count() for node in found.done if node & earlier == earlier)
    level = max(widths) - 1
    return len(found.done) + widths[level] * max(0, size // 2 - level)
