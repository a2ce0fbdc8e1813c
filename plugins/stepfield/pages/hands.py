"""The computed state of a person's hands just before and after a step, over every order of every scenario."""

from __future__ import annotations

from dataclasses import dataclass

from ..asepsis import Proof, World
from ..asepsis.happen import do_step
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


Seen = tuple[Level, bool, bool, bool]
"""Level of the outside, covered, covered by something worn on hands, soiled."""


class HandStates:
    """Looks up the states of hands that occur in some order; the proof must be complete.

    Only for those who take part in a step: what the exploration leaves out makes no difference to them. What it forgets
    after a step may be just what this tells, so the state after is worked out from the world before.
    """

    def __init__(self, proof: Proof) -> None:
        self._graph, self._found = proof.graph, proof.exploration
        self._seen: dict[tuple[int, int], Seen] = {}
        self._at: dict[tuple[int, str, bool], Hands | None] = {}

    def at(self, step: int, role: str, *, after: bool = False) -> Hands | None:
        """The state of a role's hands just before a step (or after it); None where the step never happens.

        Raises ValueError if the role takes no part in the step.
        """
        if role not in {str(person) for person in (self._graph.steps[step].role, *self._graph.steps[step].helpers)}:
            raise ValueError(f"{role} takes no part in {self._graph.steps[step].id}")
        if (step, role, after) not in self._at:
            self._at[step, role, after] = self._find(step, role, after=after)
        return self._at[step, role, after]

    def _find(self, step: int, role: str, *, after: bool) -> Hands | None:
        hands = self._graph.parts[role, "hands"]
        worlds = {before for before, _ in self._found.happened.get(step, ())}
        seen = {self._after(step, world, hands) if after else self._before(world, hands) for world in worlds}
        return merged(seen) if seen else None

    def _before(self, number: int, hands: int) -> Seen:
        known = self._seen.get((number, hands))
        if known is None:
            known = self._seen[number, hands] = look(World(self._graph, self._found.worlds[number]), hands)
        return known

    def _after(self, step: int, number: int, hands: int) -> Seen:
        world = World(self._graph, self._found.worlds[number])
        do_step(self._graph, self._graph.deeds[step], world)
        return look(world, hands)


def look(world: World, subject: int, part: str = "hands") -> Seen:
    """How a part of a person is seen in one world."""
    outside = world.outside(subject)
    worn = world.graph.subjects[outside].worn_on == part
    return world.level(subject), outside != subject, worn, world.is_soiled(outside)


def merged(seen: set[Seen]) -> Hands:
    """What holds over all the ways in which a part is seen; there must be one."""
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
