"""One step in the middle of happening: contact, soil, falling levels, and the slips they make.

After a slip the step carries on as if what was asked for had held, so that one slip is told once.
"""

from __future__ import annotations

from ..language.model import Kind, Level
from ..language.source import Span
from .graph import Deed, StepGraph
from .world import LEVELS, Slip, World

SKIN = ("hands", "face")


class Doing:
    """One step in the middle of happening."""

    __slots__ = ("deed", "graph", "slips", "world")

    def __init__(self, graph: StepGraph, deed: Deed, world: World) -> None:
        self.graph, self.deed, self.world = graph, deed, world
        self.slips: list[Slip] = []

    def name(self, subject: int) -> str:
        """The protocol's name of a subject."""
        return self.graph.subjects[subject].name.value

    def slip(
        self,
        kind: str,
        subject: str,
        span: Span,
        *,
        have: Level | None = None,
        asked: Level | None = None,
        by: str | None = None,
    ) -> None:
        """Notes that something goes wrong at this step."""
        self.slips.append(Slip(kind, self.deed.number, subject, span, have, asked, by))

    def need(self, subject: int, asked: Level, span: Span) -> None:
        """Judges a needed level on the outside of a subject; carries on at that level."""
        outside = self.world.outside(subject)
        have = LEVELS[self.world.levels[outside]]
        if have < asked:
            self.slip("needs-not-met", self.name(subject), span, have=have, asked=asked)
            self.world.levels[outside] = asked

    def present(self, thing: int, span: Span) -> None:
        """Judges that a thing is there at all; carries on with its pack opened, or as if it had never left."""
        world = self.world
        if world.is_gone(thing):
            self.slip("not-available", self.name(thing), span, by="gone")
            world.gone &= ~(1 << thing)
        elif world.in_pack(thing):
            pack = self.graph.subjects[thing].held_in
            self.slip("not-available", self.name(thing), span, by=pack)
            while pack is not None:
                world.opened |= 1 << self.graph.number[pack]
                pack = self.graph.subjects[self.graph.number[pack]].held_in

    def take(self, thing: int, span: Span) -> None:
        """Takes a thing in hand: it must be there and not on somebody else, and it no longer rests anywhere."""
        self.present(thing, span)
        wearer = self.world.wearer(thing)
        role = self.graph.subjects[wearer].role if wearer is not None else None
        if role is not None and role != self.deed.owner:
            self.slip("not-available", self.name(thing), span, by=self.name(wearer) if wearer is not None else None)
        self.world.rests.pop(thing, None)

    def contact(self, one: int, other: int, span: Span) -> None:
        """Two outsides meet: both fall to the lower level, and soil is shared."""
        world = self.world
        first, second = world.outside(one), world.outside(other)
        if first == second:
            return
        if world.levels[first] != world.levels[second]:
            low = min(world.touch_level(first), world.touch_level(second))
            self._lower_by_contact(one, first, low, other, span)
            self._lower_by_contact(other, second, low, one, span)
        if world.is_soiled(first) or world.is_soiled(second):
            self.soil(first, span)
            self.soil(second, span)

    def _lower_by_contact(self, named: int, thing: int, low: Level, other: int, span: Span) -> None:
        have = LEVELS[self.world.levels[thing]]
        if have <= low:
            return
        if self.world.in_field(thing):
            self.slip("field-broken", self.name(named), span, have=have, asked=low, by=self.name(other))
            return
        self.lower(thing, low)

    def lower(self, thing: int, level: Level) -> None:
        """Lets a thing fall to a level, and what rests on it with it."""
        self.world.levels[thing] = min(self.world.levels[thing], level)
        self.settle(thing)

    def soil(self, thing: int, span: Span) -> None:
        """Soils a thing, and what rests on it; bare hands and faces are kept clean after the slip is told."""
        subject = self.graph.subjects[thing]
        if self.world.is_soiled(thing):
            return
        if subject.kind is Kind.PERSON and self.name(thing).rpartition(".")[2] in SKIN:
            self.slip("skin-exposed", self.name(thing), span)
            return
        self.world.soiled |= 1 << thing
        self.settle(thing)

    def settle(self, thing: int) -> None:
        """What rests on a surface is never better than the surface's outside, and shares its soil."""
        world = self.world
        level, soiled = world.touch_level(thing), world.is_soiled(thing)
        for item in world.resting_on(thing):
            lying = world.outside(item)
            if lying == thing:
                continue
            if world.levels[lying] > level or (soiled and not world.is_soiled(lying)):
                world.levels[lying] = min(world.levels[lying], level)
                world.soiled |= int(soiled) << lying
                self.settle(lying)

    def put_on(self, subject: int, cover: int) -> None:
        """Puts a cover on; where it lay before, something worse may come to light."""
        before = self.world.wearer(cover)
        self.world.put_on(subject, cover)
        if before is not None:
            self.settle(self.world.outside(before))

    def guard_wearer(self, item: int, hands: int, span: Span) -> None:
        """A sterile thing goes onto a person only while that person's hands are at least disinfected outside."""
        if self.world.levels[item] == Level.STERILE:
            self.need(hands, Level.DISINFECTED, span)
