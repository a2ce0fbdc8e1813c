"""What a step does to the world: one small function an effect, found by the name of its YAML field.

``Doing`` is one step happening: it holds the world that changes and collects the slips. After a slip it carries on as if
what was asked for had held, so that one slip is told once.
"""

from __future__ import annotations

from collections.abc import Callable

from ..language.model import Kind, Level
from ..language.source import Span
from .graph import BoundEffect, Deed, StepGraph
from .world import Slip, World

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
        have = Level(self.world.levels[outside])
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
        low = min(world.touch_level(first), world.touch_level(second))
        self._lower_by_contact(one, first, low, other, span)
        self._lower_by_contact(other, second, low, one, span)
        if world.is_soiled(first) or world.is_soiled(second):
            self.soil(first, span)
            self.soil(second, span)

    def _lower_by_contact(self, named: int, thing: int, low: Level, other: int, span: Span) -> None:
        have = Level(self.world.levels[thing])
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
        for item in world.resting_on(thing):
            lying = world.outside(item)
            if lying == thing:
                continue
            soil = world.is_soiled(thing) and not world.is_soiled(lying)
            if world.levels[lying] > world.levels[thing] or soil:
                world.levels[lying] = min(world.levels[lying], world.levels[thing])
                world.soiled |= int(world.is_soiled(thing)) << lying
                self.settle(lying)

    def guard_wearer(self, item: int, hands: int, span: Span) -> None:
        """A sterile thing goes onto a person only while that person's hands are at least disinfected outside."""
        if self.world.levels[item] == Level.STERILE:
            self.need(hands, Level.DISINFECTED, span)


Act = Callable[[Doing, BoundEffect], None]
ACTS: dict[str, Act] = {}
"""Every effect by its YAML field."""


def effect(function: Act) -> Act:
    """Registers an effect under its own name."""
    ACTS[function.__name__] = function
    return function


@effect
def opens(doing: Doing, effect: BoundEffect) -> None:
    """The owner's hands meet the wrapper where it lies; what the pack holds can be taken from now on."""
    doing.present(effect.thing, effect.span)
    doing.contact(doing.deed.hands, effect.thing, effect.span)
    doing.world.opened |= 1 << effect.thing


@effect
def touches(doing: Doing, effect: BoundEffect) -> None:
    """The owner's hands meet the thing."""
    doing.take(effect.thing, effect.span)
    doing.contact(doing.deed.hands, effect.thing, effect.span)


@effect
def passes(doing: Doing, effect: BoundEffect) -> None:
    """From the owner's hands into another's."""
    touches(doing, effect)
    doing.contact(effect.thing, effect.target, effect.span)


@effect
def uses(doing: Doing, effect: BoundEffect) -> None:
    """Held by the owner, the thing meets the target; a long instrument, so the hands do not."""
    touches(doing, effect)
    doing.present(effect.target, effect.span)
    _note_use_on_site(doing, effect)
    doing.contact(effect.thing, effect.target, effect.span)


@effect
def lays(doing: Doing, effect: BoundEffect) -> None:
    """Out of the owner's hands onto a surface."""
    touches(doing, effect)
    presents(doing, effect)


@effect
def presents(doing: Doing, effect: BoundEffect) -> None:
    """From an opened pack onto a surface, touched by nobody."""
    doing.take(effect.thing, effect.span)
    doing.present(effect.target, effect.span)
    doing.contact(effect.thing, effect.target, effect.span)
    doing.world.rests[effect.thing] = effect.target


@effect
def covers(doing: Doing, effect: BoundEffect) -> None:
    """The owner covers the thing named first with the item named second."""
    item, subject = effect.target, doing.graph.subjects[effect.thing]
    doing.take(item, effect.span)
    doing.present(effect.thing, effect.span)
    doing.contact(doing.deed.hands, item, effect.span)
    if subject.role is not None and subject.name.value.endswith((".hands", ".body")):
        doing.guard_wearer(item, doing.graph.parts[subject.role, "hands"], effect.span)
    doing.world.put_on(effect.thing, item)
    doing.settle(doing.world.outside(effect.thing))


@effect
def dons(doing: Doing, effect: BoundEffect) -> None:
    """The owner puts the item on where it is worn, touching only its inside."""
    doing.take(effect.thing, effect.span)
    doing.guard_wearer(effect.thing, doing.deed.hands, effect.span)
    place = doing.graph.subjects[effect.thing].worn_on or "hands"
    doing.world.put_on(doing.graph.parts[doing.deed.owner, place], effect.thing)


@effect
def uncovers(doing: Doing, effect: BoundEffect) -> None:
    """The owner's hands meet the topmost cover, which comes off."""
    stack = doing.world.covers.get(effect.thing)
    if stack is None:
        doing.slip("cover-missing", doing.name(effect.thing), effect.span)
        return
    doing.contact(doing.deed.hands, effect.thing, effect.span)
    doing.world.take_off(stack[-1])
    doing.settle(doing.world.outside(effect.thing))


@effect
def doffs(doing: Doing, effect: BoundEffect) -> None:
    """The owner takes the item off by its inside."""
    wearer = doing.world.wearer(effect.thing)
    own = wearer is not None and doing.graph.subjects[wearer].role == doing.deed.owner
    if wearer is None or not own or doing.world.covers[wearer][-1] != effect.thing:
        above = doing.name(doing.world.covers[wearer][-1]) if wearer is not None and own else None
        doing.slip("cover-missing", doing.name(effect.thing), effect.span, by=above)
    if own:
        doing.world.take_off(effect.thing)


@effect
def makes(doing: Doing, effect: BoundEffect) -> None:
    """Washed, scrubbed, wiped or prepared: the outside has that level and carries no soil."""
    doing.present(effect.thing, effect.span)
    outside = doing.world.outside(effect.thing)
    doing.world.levels[outside] = effect.level or Level.CONTAMINATED
    doing.world.soiled &= ~(1 << outside)


@effect
def wets(doing: Doing, effect: BoundEffect) -> None:
    """Strike-through: a cover that is not fluid-proof falls to the level of what lies under it."""
    doing.present(effect.thing, effect.span)
    stack = doing.world.covers.get(effect.thing)
    if stack is not None and not doing.graph.subjects[stack[-1]].fluid_proof:
        under = stack[-2] if len(stack) > 1 else effect.thing
        doing.lower(stack[-1], doing.world.touch_level(under))


@effect
def contaminates(doing: Doing, effect: BoundEffect) -> None:
    """The outside falls to contaminated, knowingly."""
    doing.present(effect.thing, effect.span)
    doing.lower(doing.world.outside(effect.thing), Level.CONTAMINATED)


@effect
def soils(doing: Doing, effect: BoundEffect) -> None:
    """The outside becomes soiled, knowingly."""
    doing.present(effect.thing, effect.span)
    doing.soil(doing.world.outside(effect.thing), effect.span)


@effect
def counts(doing: Doing, effect: BoundEffect) -> None:
    """These items are counted."""
    doing.present(effect.thing, effect.span)
    doing.world.counted |= 1 << effect.thing
    doing.world.pending.pop(_count_slot(effect.thing), None)


@effect
def discards(doing: Doing, effect: BoundEffect) -> None:
    """Leaves the scene, into a container if one is named."""
    doing.take(effect.thing, effect.span)
    container = doing.graph.subjects[effect.target] if effect.target >= 0 else None
    if container is not None:
        doing.present(effect.target, effect.span)
    if doing.graph.subjects[effect.thing].sharp and not (container is not None and container.sharps):
        doing.slip("sharp-loose", doing.name(effect.thing), effect.span, by=container.name.value if container else None)
    doing.world.gone |= 1 << effect.thing


@effect
def hands_over(doing: Doing, effect: BoundEffect) -> None:
    """Leaves to reprocessing, contained."""
    doing.take(effect.thing, effect.span)
    doing.world.gone |= 1 << effect.thing


def _count_slot(item: int) -> int:
    return 2 * item


def _wet_slot(item: int) -> int:
    return 2 * item + 1


def _note_use_on_site(doing: Doing, effect: BoundEffect) -> None:
    """Counted items must have been counted by now and again later; burning ones are wet until their wait is over."""
    item, world = doing.graph.subjects[effect.thing], doing.world
    if doing.graph.subjects[effect.target].kind is not Kind.SITE:
        return
    if item.counted:
        if not world.counted >> effect.thing & 1:
            doing.slip("count-missing", item.name.value, effect.span, by="before")
            world.counted |= 1 << effect.thing
        world.pending[_count_slot(effect.thing)] = doing.deed.number
    if item.hazard == "fire":
        world.pending[_wet_slot(effect.thing)] = doing.deed.number


def do_step(graph: StepGraph, deed: Deed, world: World) -> list[Slip]:
    """Lets one step happen in ``world`` (changed in place) and tells what went wrong, in the order it did.

    First drying waits end, then what the step requires and needs is judged, then the effects happen in their fixed
    order, then facts change and the field may be ended.
    """
    doing = Doing(graph, deed, world)
    for slot, step in list(world.pending.items()):
        if slot & 1 and step in deed.dries:
            del world.pending[slot]
    for fact, name, span in deed.requires:
        if not world.facts >> fact & 1:
            doing.slip("fact-missing", name, span)
            world.facts |= 1 << fact
    for need in deed.needs:
        doing.need(need.subject, need.level, need.span)
    if deed.ignition:
        _judge_ignition(doing)
    for bound in deed.effects:
        ACTS[bound.field](doing, bound)
    world.facts = (world.facts | deed.confirms) & ~deed.withdraws
    world.field_ended |= int(deed.ends_field)
    return doing.slips


def _judge_ignition(doing: Doing) -> None:
    for slot, used_at in sorted(doing.world.pending.items()):
        if slot & 1:
            item, step = doing.graph.subjects[slot >> 1], doing.graph.steps[doing.deed.number]
            doing.slip("fire-risk", item.name.value, step.id.span, by=doing.graph.steps[used_at].id.value)
            del doing.world.pending[slot]


def end_slips(graph: StepGraph, world: World) -> list[Slip]:
    """What is wrong with a world in which the protocol has ended."""
    slips = []
    for number, subject in enumerate(graph.subjects):
        name, span = subject.name.value, subject.name.span
        if world.is_soiled(number) and not world.is_gone(number):
            slips.append(Slip("left-soiled", None, name, span))
        stack = world.covers.get(number, ())
        if stack and subject.role is None:
            slips.append(Slip("left-on", None, name, span, by=graph.subjects[stack[-1]].name.value))
        elif stack:
            worn = (graph.subjects[item].name for item in stack)
            slips += [Slip("left-on", None, item.value, item.span, by=name) for item in worn]
        if subject.sharp and not world.in_pack(number) and not world.is_gone(number):
            slips.append(Slip("sharp-loose", None, name, span))
    for slot, step in sorted(world.pending.items()):
        if not slot & 1:
            item = graph.subjects[slot >> 1].name.value
            slips.append(Slip("count-missing", step, item, graph.steps[step].id.span, by="after"))
    return slips
