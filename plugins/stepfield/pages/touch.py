"""What hands may touch and how people stand at a moment, over every order of every choice that leads there.

The checker leaves out orders that make no difference to it and forgets what it needs no more; whoever asks about any
thing at any moment needs all of it. So every order is explored once more, up to a bound.
"""

from __future__ import annotations

from ..asepsis import Proof
from ..asepsis.happening import Happenings, happenings
from ..asepsis.touching import Told, Touching
from ..asepsis.world import LEVELS
from .hands import Hands, merged

MOST_STATES = 4_000
"""How many states are looked at before the lists are given up; few protocols of three people have a thousand."""


class Moments:
    """How everybody stands just before and after each step, and what each may touch before it."""

    def __init__(self, found: Happenings) -> None:
        self.found, self.graph = found, found.graph
        self._touching = Touching(found)
        self._told: dict[tuple[int, str], Told] = {}
        self._parts: dict[tuple[int, str, str, bool], Hands | None] = {}

    def part(self, step: int, role: str, part: str, *, after: bool = False) -> Hands | None:
        """How a part of a person stands just before a step (or after it); None where the step never happens."""
        key = (step, role, part, after)
        if key not in self._parts:
            self._parts[key] = self._part(step, role, part, after=after)
        return self._parts[key]

    def _part(self, step: int, role: str, part: str, *, after: bool) -> Hands | None:
        subject, subjects = self.graph.parts[role, part], self.graph.subjects
        seen = {
            (LEVELS[level], outside != subject, subjects[outside].worn_on == part, soiled)
            for outside, level, soiled in self._touching.standings(step, subject, after=after)
        }
        return merged(seen) if seen else None

    def told(self, step: int, role: str) -> Told:
        """What the hands of a role may touch just before a step, and what they may not."""
        known = self._told.get((step, role))
        if known is None:
            known = self._told[step, role] = self._touching.told(step, [role])[role]
        return known

    def in_place(self, step: int) -> frozenset[str]:
        """The things that cover something in every order just before a step."""
        return self._touching.in_place(step)

    def happens(self, step: int) -> bool:
        """Whether some order reaches the step."""
        return bool(self.found.happened.get(step))


def moments_of(proof: Proof | None, most: int = MOST_STATES) -> Moments | None:
    """The moments of a protocol; None where not every order of it could be explored within the bound."""
    if proof is None or not proof.complete:
        return None
    found = happenings(proof.graph, most)
    return Moments(found) if found.complete else None
