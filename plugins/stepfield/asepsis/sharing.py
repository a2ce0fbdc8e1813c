"""Which settlings of the choices lead where, in an exploration that shares what they have in common.

A set of settlings is a bit mask over all combinations of the choices looked at, in the order of their declaration; the
last choice turns fastest.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable, Mapping

from .explore import Edge, Exploration
from .stepping import Picks, Settled
from .world import SlipKey

MOST_COMBINATIONS = 4096
"""Beyond this many, combinations are not told apart: scenarios then name what the shown order settles."""


def _keep(_: Edge) -> bool:
    return True


class Settlings:
    """The combinations of choices that can reach each node of an exploration."""

    def __init__(self, found: Exploration) -> None:
        self.found = found
        named = {choice.id.value: choice.options for choice in found.graph.protocol.choices}
        self.options = [[option.value for option, _ in named[name]] for name in found.choices]
        self.count = combinations(found)
        self.told_apart = self.count <= MOST_COMBINATIONS
        self.everything = (1 << self.count) - 1 if self.told_apart else 1
        self._with = self._masks() if self.told_apart else {}
        self._order = sorted(range(len(found.done)), key=lambda node: found.done[node].bit_count())
        self._slipping: dict[SlipKey, list[tuple[int, Edge]]] = {}
        for node, edges in enumerate(found.edges if found.slips else ()):
            for edge in edges:
                for key in edge.slips:
                    self._slipping.setdefault(key, []).append((node, edge))
        self.starts = [(node, self.of(picks)) for node, picks in found.starts]
        self.reaching = self.forward(self.starts)

    def of(self, picks: Picks) -> int:
        """The combinations that fit what was settled along an edge."""
        mask = self.everything
        for pick in picks:
            mask &= self._with.get(pick, mask)
        return mask

    def along(self, node: int, edge: Edge) -> int:
        """The combinations that can go along an edge."""
        return self.reaching[node] & self.of(edge.picks)

    def forward(self, starts: Iterable[tuple[int, int]], keep: Callable[[Edge], bool] = _keep) -> list[int]:
        """For every node the combinations that reach it from the starts, along the edges kept."""
        done = self.found.done
        reach = [0] * len(done)
        for node, mask in starts:
            reach[node] |= mask
        again = True
        while again:
            again = False
            for node in self._order:
                for edge in self.found.edges[node] if reach[node] else ():
                    new = reach[node] & self.of(edge.picks) & ~reach[edge.to]
                    if new and keep(edge):
                        reach[edge.to] |= new
                        # Only a repeat leads back to a node that had its turn.
                        again = again or done[edge.to].bit_count() <= done[node].bit_count()
        return reach

    def failing(self, key: SlipKey) -> list[tuple[int, int]]:
        """Where a slip has been seen: (node behind it, combinations)."""
        seen = [(edge.to, self.along(node, edge)) for node, edge in self._slipping.get(key, ())]
        return seen + [(node, self.reaching[node]) for node, slips in self.found.ends.items() if key in slips]

    def answers_at_ends(self, reach: list[int], but: SlipKey | None = None) -> dict[Settled, int]:
        """The answers whole orders end with, and in which combinations; ends that have the slip ``but`` left out."""
        answers: dict[Settled, int] = {}
        for node, slips in self.found.ends.items():
            if reach[node] and but not in slips:
                given = self.found.answers(node)
                answers[given] = answers.get(given, 0) | reach[node]
        return answers

    def settled(self, combination: int) -> Mapping[str, str]:
        """What each choice stands at in a combination."""
        picked = {}
        for name, options in reversed(list(zip(self.found.choices, self.options, strict=True))):
            combination, position = divmod(combination, len(options))
            picked[name] = options[position]
        return {name: picked[name] for name in self.found.choices}

    def _masks(self) -> dict[tuple[int, str], int]:
        masks: dict[tuple[int, str], int] = {}
        for number, picked in enumerate(itertools.product(*self.options)):
            for position, option in enumerate(picked):
                masks[position, option] = masks.get((position, option), 0) | 1 << number
        return masks


def combinations(found: Exploration) -> int:
    """How many combinations there are of the choices that some step looks at."""
    options = (choice.options for choice in found.graph.protocol.choices if choice.id.value in found.choices)
    return math.prod(map(len, options))
