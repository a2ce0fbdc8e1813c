"""The computed state of a person's hands just before and after a step, over every order of every scenario."""

from __future__ import annotations

from dataclasses import dataclass

from ..asepsis import Exploration, Proof, World
from ..language.model import Level


@dataclass(frozen=True, slots=True)
class Hands:
    """What is known of a person's hands at one moment.

    ``level`` is what every order guarantees, ``varies`` whether some order gives better. ``covered`` and ``soiled`` are
    "no", "maybe" or "yes". ``glove`` tells that whatever covers them is worn on the hands.
    """

    level: Level
    varies: bool
    covered: str
    glove: bool
    soiled: str

    @property
    def words(self) -> str:
        """The state in words, the level first."""
        if self.varies:
            level = f"at least {self.level.word}" if self.level else "perhaps contaminated"
        else:
            level = self.level.word
        cover = "gloved" if self.glove else "covered"
        covered = {"yes": cover, "maybe": f"{cover} in some orders", "no": ""}[self.covered]
        soiled = {"yes": "soiled", "maybe": "perhaps soiled", "no": ""}[self.soiled]
        return ", ".join(word for word in (level, covered, soiled) if word)


Seen = tuple[Level, bool, bool, bool]
"""Level of the outside, covered, covered by something worn on hands, soiled."""


class HandStates:
    """Looks up, for any step and role, the states the exploration saw; each world is looked at once."""

    def __init__(self, proof: Proof) -> None:
        self.proof = proof
        self._seen: dict[tuple[int, int, int], Seen] = {}

    def at(self, step: int, role: str, *, after: bool = False) -> Hands | None:
        """The state of a role's hands just before a step (or after it); None where the step never happens."""
        hands = self.proof.graph.parts.get((role, "hands"))
        if hands is None:
            return None
        seen = {
            self._look(number, found, world, hands)
            for number, found in enumerate(self.proof.explorations)
            for world in {pair[1] if after else pair[0] for pair in found.happened.get(step, ())}
        }
        return _merged(seen) if seen else None

    def _look(self, exploration: int, found: Exploration, number: int, hands: int) -> Seen:
        key = (exploration, number, hands)
        known = self._seen.get(key)
        if known is None:
            world = World(found.graph, found.worlds[number])
            outside = world.outside(hands)
            worn = found.graph.subjects[outside].worn_on == "hands"
            known = (world.level(hands), outside != hands, worn, world.is_soiled(outside))
            self._seen[key] = known
        return known


def _merged(seen: set[Seen]) -> Hands:
    levels = {level for level, _, _, _ in seen}
    return Hands(
        level=min(levels),
        varies=len(levels) > 1,
        covered=_how_often([covered for _, covered, _, _ in seen]),
        glove={worn for _, covered, worn, _ in seen if covered} == {True},
        soiled=_how_often([soiled for _, _, _, soiled in seen]),
    )


def _how_often(cases: list[bool]) -> str:
    return "yes" if all(cases) else "maybe" if any(cases) else "no"
