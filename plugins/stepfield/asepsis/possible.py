"""What may be the case at any moment of a phase, whatever the order: a sound first look, without exploring.

From the worlds a phase can start in, every effect of every step of the phase is applied again and again, adding what it
may bring about and taking nothing away, until nothing is added. What is not possible here is not possible in any order.
In a clean protocol most contacts turn out to change nothing: sterile meets sterile.
"""

from __future__ import annotations

from collections.abc import Iterable

from ..language.model import Kind, Level
from .effects import SCOPES
from .graph import BoundEffect, Deed, StepGraph
from .nearness import Nearness
from .order import bits
from .world import Packed, World


def met(deed: Deed, effect: BoundEffect) -> list[tuple[int, int]]:
    """The pairs of subjects that meet in an effect."""
    who = {"hands": deed.hands, "thing": effect.thing, "target": effect.target}
    return [(who[one], who[other]) for one, other in SCOPES[effect.field].meets]


def guarded_hands(graph: StepGraph, deed: Deed, effect: BoundEffect) -> int | None:
    """The hands that must be prepared before a sterile thing goes on, if the effect puts one on a person."""
    if not SCOPES[effect.field].dresses:
        return None
    if effect.target < 0:
        return deed.hands
    role = graph.subjects[effect.thing].role
    return None if role is None else graph.parts[role, "hands"]


class Possible:
    """For each subject the levels it may have (as bits), what may be soiled or gone, and what may be its outside.

    ``opened`` are the packs that are open in every world the phase can start in.
    """

    def __init__(self, graph: StepGraph, near: Nearness, steps: Iterable[int], worlds: Iterable[Packed]) -> None:
        self.graph = graph
        self.deeds = [graph.deeds[step] for step in steps]
        self.levels = [0] * len(graph.subjects)
        self.outsides = [0] * len(graph.subjects)
        self.rests = [0] * len(graph.subjects)
        self.soiled, self.gone, self.opened = 0, 0, -1
        for packed in worlds:
            self._join(World(graph, packed))
        changing = self._changing_covers()
        for number, covers in enumerate(near.covers):
            self.outsides[number] |= covers if covers & changing else 0
        before: object = None
        while before != (before := (tuple(self.levels), self.soiled, self.gone, tuple(self.rests))):
            self._happen(near)

    def touch(self, subject: int) -> int:
        """The levels a thing itself may bring to a contact."""
        levels = self.levels[subject]
        if self.graph.subjects[subject].kind is Kind.SITE and levels >> Level.DISINFECTED & 1:
            return levels & ~(1 << Level.DISINFECTED) | 1 << Level.STERILE
        return levels

    def is_silent(self, one: int, other: int) -> bool:
        """Whether a contact changes nothing in any order: one level on both sides, and no soil."""
        both = self.outsides[one] | self.outsides[other]
        levels = 0
        for outside in bits(both):
            levels |= self.touch(outside)
        return not both & self.soiled and levels.bit_count() == 1

    def is_at_least(self, subject: int, level: Level) -> bool:
        """Whether the outside is at a level in any order."""
        return all(not self.levels[outside] & (1 << level) - 1 for outside in bits(self.outsides[subject]))

    def _join(self, world: World) -> None:
        for number, level in enumerate(world.levels):
            self.levels[number] |= 1 << level
            self.outsides[number] |= 1 << world.outside(number)
        for item, surface in world.rests.items():
            self.rests[surface] |= 1 << item
        self.soiled |= world.soiled
        self.gone |= world.gone
        self.opened &= world.opened

    def _changing_covers(self) -> int:
        """Everything that is put on, taken off, covered or uncovered in the phase."""
        changing = 0
        for deed in self.deeds:
            for effect in deed.effects:
                if SCOPES[effect.field].layers:
                    changing |= 1 << effect.thing | (1 << effect.target if effect.target >= 0 else 0)
        return changing

    def _happen(self, near: Nearness) -> None:
        for deed in self.deeds:
            for need in deed.needs:
                self._raise(need.subject, need.level)
            for effect in deed.effects:
                for one, other in met(deed, effect):
                    self._meet(self.outsides[one], self.outsides[other], both=True)
                self._other(deed, effect, near)
        for surface, items in enumerate(self.rests):
            for item in bits(items):
                self._meet(self.outsides[surface], self.outsides[item], both=False)

    def _other(self, deed: Deed, effect: BoundEffect, near: Nearness) -> None:
        hands = guarded_hands(self.graph, deed, effect)
        if hands is not None:
            self._raise(hands, Level.DISINFECTED)
        scope = SCOPES[effect.field]
        if scope.sets:
            for outside in bits(self.outsides[effect.thing]):
                self.levels[outside] |= 1 << (effect.level or Level.CONTAMINATED)
        if scope.soils:
            self.soiled |= self.outsides[effect.thing]
        if scope.soaks:
            proof = sum(1 << one for one in bits(self.outsides[effect.thing]) if self.graph.subjects[one].fluid_proof)
            wet = self.outsides[effect.thing] & ~proof & ~(1 << effect.thing)
            self._meet(near.covers[effect.thing], wet, both=False)
        if scope.rests:
            self.rests[effect.target] |= 1 << effect.thing
        if scope.leaves:
            self.gone |= 1 << effect.thing

    def _raise(self, subject: int, level: Level) -> None:
        """A need that is not met raises its subject, so that one slip is told once."""
        for outside in bits(self.outsides[subject]):
            if self.levels[outside] & (1 << level) - 1:
                self.levels[outside] |= 1 << level

    def _meet(self, some: int, others: int, *, both: bool) -> None:
        """Lets the others (or both sides) fall to what the first side may bring, and share soil."""
        for one in bits(some):
            for other in bits(others):
                if one == other:
                    continue
                self.levels[other] |= _lower(self.levels[other], self.touch(one))
                if both:
                    self.levels[one] |= _lower(self.levels[one], self.touch(other))
        if some & self.soiled:
            self.soiled |= others
        if both and others & self.soiled:
            self.soiled |= some


def _lower(levels: int, other: int) -> int:
    """The levels a thing may have after it fell to the lower of its own and another's."""
    lowest = (other & -other).bit_length() - 1
    return levels | other & ((1 << levels.bit_length()) - 1) if lowest >= 0 else levels
