"""What a step does to the world: one small function an effect, found by the name of its YAML field."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from ..language.model import Kind, Level
from .doing import Doing
from .graph import BoundEffect

Act = Callable[[Doing, BoundEffect], None]
Meeting = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Scope:
    """What an effect may do at most, for all that reasons about it without letting it happen.

    ``meets`` are the outsides that meet: of the owner's ``hands``, the ``thing`` and the ``target``. It may take the
    thing in hand (``takes``), put covers on or off (``layers``), dress a person, whose hands must be prepared
    (``dresses``), set a level, soil, soak a cover through, lay the thing to rest on the target, let the thing leave.
    """

    meets: tuple[Meeting, ...] = ()
    takes: bool = False
    layers: bool = False
    dresses: bool = False
    sets: bool = False
    soils: bool = False
    soaks: bool = False
    rests: bool = False
    leaves: bool = False


ACTS: dict[str, Act] = {}
"""Every effect by its YAML field."""
SCOPES: dict[str, Scope] = {}
"""What each effect may do at most, by the same name."""
IN_HAND: Meeting = ("hands", "thing")
ONTO_TARGET: Meeting = ("thing", "target")


def effect(scope: Scope) -> Callable[[Act], Act]:
    """Registers an effect under its own name."""

    def register(function: Act) -> Act:
        ACTS[function.__name__], SCOPES[function.__name__] = function, scope
        return function

    return register


@effect(Scope(meets=(IN_HAND,)))
def opens(doing: Doing, effect: BoundEffect) -> None:
    """The owner's hands meet the wrapper where it lies; what the pack holds can be taken from now on."""
    doing.present(effect.thing, effect.span)
    doing.contact(doing.deed.hands, effect.thing, effect.span)
    doing.world.opened |= 1 << effect.thing


@effect(Scope(meets=(IN_HAND,), takes=True))
def touches(doing: Doing, effect: BoundEffect) -> None:
    """The owner's hands meet the thing."""
    doing.take(effect.thing, effect.span)
    doing.contact(doing.deed.hands, effect.thing, effect.span)


@effect(Scope(meets=(IN_HAND, ONTO_TARGET), takes=True))
def passes(doing: Doing, effect: BoundEffect) -> None:
    """From the owner's hands into another's."""
    touches(doing, effect)
    doing.contact(effect.thing, effect.target, effect.span)


@effect(Scope(meets=(IN_HAND, ONTO_TARGET), takes=True))
def uses(doing: Doing, effect: BoundEffect) -> None:
    """Held by the owner, the thing meets the target; a long instrument, so the hands do not."""
    touches(doing, effect)
    doing.present(effect.target, effect.span)
    _note_use_on_site(doing, effect)
    doing.contact(effect.thing, effect.target, effect.span)


@effect(Scope(meets=(IN_HAND, ONTO_TARGET), takes=True, rests=True))
def lays(doing: Doing, effect: BoundEffect) -> None:
    """Out of the owner's hands onto a surface."""
    touches(doing, effect)
    presents(doing, effect)


@effect(Scope(meets=(ONTO_TARGET,), takes=True, rests=True))
def presents(doing: Doing, effect: BoundEffect) -> None:
    """From an opened pack onto a surface, touched by nobody."""
    doing.take(effect.thing, effect.span)
    doing.present(effect.target, effect.span)
    doing.contact(effect.thing, effect.target, effect.span)
    doing.world.rests[effect.thing] = effect.target


@effect(Scope(meets=(("hands", "target"),), layers=True, dresses=True))
def covers(doing: Doing, effect: BoundEffect) -> None:
    """The owner covers the thing named first with the item named second."""
    item, subject = effect.target, doing.graph.subjects[effect.thing]
    doing.take(item, effect.span)
    doing.present(effect.thing, effect.span)
    doing.contact(doing.deed.hands, item, effect.span)
    if subject.role is not None and subject.name.value.endswith((".hands", ".body")):
        doing.guard_wearer(item, doing.graph.parts[subject.role, "hands"], effect.span)
    doing.put_on(effect.thing, item)
    doing.settle(doing.world.outside(effect.thing))


@effect(Scope(takes=True, layers=True, dresses=True))
def dons(doing: Doing, effect: BoundEffect) -> None:
    """The owner puts the item on where it is worn, touching only its inside."""
    doing.take(effect.thing, effect.span)
    doing.guard_wearer(effect.thing, doing.deed.hands, effect.span)
    place = doing.graph.subjects[effect.thing].worn_on or "hands"
    doing.put_on(doing.graph.parts[doing.deed.owner, place], effect.thing)


@effect(Scope(meets=(IN_HAND,), layers=True))
def uncovers(doing: Doing, effect: BoundEffect) -> None:
    """The owner's hands meet the topmost cover, which comes off."""
    stack = doing.world.covers.get(effect.thing)
    if stack is None:
        doing.slip("cover-missing", doing.name(effect.thing), effect.span)
        return
    doing.contact(doing.deed.hands, effect.thing, effect.span)
    doing.world.take_off(stack[-1])
    doing.settle(doing.world.outside(effect.thing))


@effect(Scope(layers=True))
def doffs(doing: Doing, effect: BoundEffect) -> None:
    """The owner takes the item off by its inside."""
    wearer = doing.world.wearer(effect.thing)
    own = wearer is not None and doing.graph.subjects[wearer].role == doing.deed.owner
    if wearer is None or not own or doing.world.covers[wearer][-1] != effect.thing:
        above = doing.name(doing.world.covers[wearer][-1]) if wearer is not None and own else None
        doing.slip("cover-missing", doing.name(effect.thing), effect.span, by=above)
    if own:
        doing.world.take_off(effect.thing)


@effect(Scope(sets=True))
def makes(doing: Doing, effect: BoundEffect) -> None:
    """Washed, scrubbed, wiped or prepared: the outside has that level and carries no soil."""
    doing.present(effect.thing, effect.span)
    outside = doing.world.outside(effect.thing)
    doing.world.levels[outside] = effect.level or Level.CONTAMINATED
    doing.world.soiled &= ~(1 << outside)


@effect(Scope(soaks=True))
def wets(doing: Doing, effect: BoundEffect) -> None:
    """Strike-through: a cover that is not fluid-proof falls to the level of what lies under it."""
    doing.present(effect.thing, effect.span)
    stack = doing.world.covers.get(effect.thing)
    if stack is not None and not doing.graph.subjects[stack[-1]].fluid_proof:
        under = stack[-2] if len(stack) > 1 else effect.thing
        doing.lower(stack[-1], doing.world.touch_level(under))


@effect(Scope(sets=True))
def contaminates(doing: Doing, effect: BoundEffect) -> None:
    """The outside falls to contaminated, knowingly."""
    doing.present(effect.thing, effect.span)
    doing.lower(doing.world.outside(effect.thing), Level.CONTAMINATED)


@effect(Scope(soils=True))
def soils(doing: Doing, effect: BoundEffect) -> None:
    """The outside becomes soiled, knowingly."""
    doing.present(effect.thing, effect.span)
    doing.soil(doing.world.outside(effect.thing), effect.span)
    doing.settle(doing.world.outside(effect.thing))


@effect(Scope())
def counts(doing: Doing, effect: BoundEffect) -> None:
    """These items are counted."""
    doing.present(effect.thing, effect.span)
    doing.world.counted |= 1 << effect.thing
    doing.world.pending.pop(effect.thing, None)


@effect(Scope(takes=True, leaves=True))
def discards(doing: Doing, effect: BoundEffect) -> None:
    """Leaves the scene, into a container if one is named."""
    doing.take(effect.thing, effect.span)
    container = doing.graph.subjects[effect.target] if effect.target >= 0 else None
    if container is not None:
        doing.present(effect.target, effect.span)
    if doing.graph.subjects[effect.thing].sharp and not (container is not None and container.sharps):
        doing.slip("sharp-loose", doing.name(effect.thing), effect.span, by=container.name.value if container else None)
    doing.world.gone |= 1 << effect.thing


@effect(Scope(takes=True, leaves=True))
def hands_over(doing: Doing, effect: BoundEffect) -> None:
    """Leaves to reprocessing, contained."""
    doing.take(effect.thing, effect.span)
    doing.world.gone |= 1 << effect.thing


def _note_use_on_site(doing: Doing, effect: BoundEffect) -> None:
    """Counted items must have been counted by now and again later; burning ones are wet until their wait is over."""
    item, world = doing.graph.subjects[effect.thing], doing.world
    if doing.graph.subjects[effect.target].kind is not Kind.SITE:
        return
    if item.counted:
        if not world.counted >> effect.thing & 1:
            doing.slip("count-missing", item.name.value, effect.span, by="before")
            world.counted |= 1 << effect.thing
        world.pending[effect.thing] = doing.deed.number
    if item.hazard == "fire":
        world.wet.add((effect.thing, doing.deed.number))
