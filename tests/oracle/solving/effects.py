"""What a whole step does, in formulas, and what is wrong when everything is done."""

from __future__ import annotations

from stepfield.language.model import Effect, Kind, Level, Step
from tests.oracle.solving.formulas import Bit, both, either, every, negated, some
from tests.oracle.solving.world import LEVELS, Scene, Slip, World

ORDER = (
    *("opens", "touches", "passes", "uses", "lays", "presents", "covers", "dons", "uncovers", "doffs"),
    *("makes", "wets", "contaminates", "soils", "counts", "discards", "hands_over"),
)
"""The order in which effects happen, from the language's table."""


def after(before: World, step: Step) -> World:
    """The world once the step is done, with the slips it made and under which circumstances."""
    world = World(before.scene, before.bits)
    world.step = step
    _fire(world, step)
    for fact in step.requires:
        world.slip("fact-missing", fact.value, negated(world.get("fact", fact.value)))
        world.put(True, "fact", fact.value)
    for need in step.needs:
        world.need(need.subject.value, need.level)
    for field in ORDER:
        for effect in step.effects:
            if effect.field == field:
                _do(world, step, effect)
    for fact in step.confirms:
        world.put(True, "fact", fact.value)
    for fact in step.withdraws:
        world.put(False, "fact", fact.value)
    if step.ends_field:
        world.put(True, "ended")
    return world


def wrong_at_the_end(world: World) -> dict[Slip, Bit]:
    """What is soiled, covered, worn, sharp or uncounted at the end."""
    wrong: dict[Slip, Bit] = {}
    for name, subject in world.scene.subjects.items():
        there = negated(world.get("gone", name))
        wrong["left-soiled", None, name] = both(world.get("soiled", name), there)
        if subject.sharp:
            opened = True if subject.held_in is None else world.get("open", subject.held_in)
            wrong["sharp-loose", None, name] = both(opened, there)
    for target, items in world.scene.covers.items():
        for item in items:
            name = target if world.scene.subjects[target].role is None else item
            worn = world.get("on", target, item)
            wrong["left-on", None, name] = either(wrong.get(("left-on", None, name), False), worn)
    for key, bit in world.bits.items():
        if key[0] == "due":
            wrong["count-missing", key[2], key[1]] = bit
    return wrong


def _fire(world: World, step: Step) -> None:
    """A wait that is long enough dries what the step waited for has used; a spark meets what is still wet."""
    wet = [key for key in world.bits if key[0] == "wet"]
    for wait in step.waits:
        if wait.seconds >= world.scene.drying[wait.step.value]:
            for key in wet:
                if key[2] == wait.step.value:
                    world.put(False, *key)
    if step.ignition:
        for key in wet:
            world.slip("fire-risk", key[1], world.get(*key))
            world.put(False, *key)


def _do(world: World, step: Step, effect: Effect) -> None:
    owner, thing, target = str(step.role), effect.thing.value, str(effect.target)
    hands = f"{owner}.hands"
    match effect.field:
        case "opens":
            world.present(thing)
            world.contact(hands, thing)
            world.put(True, "open", thing)
        case "touches" | "passes" | "uses" | "lays" | "presents":
            _in_hand(world, step, effect)
        case "covers":
            world.take(target, owner)
            world.present(thing)
            world.contact(hands, target)
            wearer, _, part = thing.rpartition(".")
            if part in ("hands", "body") and wearer:
                world.only_on_prepared_hands(target, wearer)
            world.put_on(target, thing)
        case "dons":
            world.take(thing, owner)
            world.only_on_prepared_hands(thing, owner)
            world.put_on(thing, f"{owner}.{world.scene.subjects[thing].worn_on}")
        case "uncovers" | "doffs":
            _off(world, owner, effect)
        case "discards" | "hands_over":
            _leaves(world, owner, effect)
        case _:
            _changes(world, effect)


def _in_hand(world: World, step: Step, effect: Effect) -> None:
    """The owner takes a thing in hand (or tips it from its pack), and it meets what it is for."""
    owner, thing, target = str(step.role), effect.thing.value, str(effect.target)
    world.take(thing, owner)
    if effect.field != "presents":
        world.contact(f"{owner}.hands", thing)
    if effect.field == "passes":
        world.contact(thing, f"{target}.hands")
    elif effect.field != "touches":
        world.present(target)
        world.contact(thing, target)
    if effect.field in ("lays", "presents"):
        world.put(True, "rests", thing, target)
    if effect.field == "uses" and world.scene.subjects[target].kind is Kind.SITE:
        _on_patient(world, step.id.value, thing)


def _on_patient(world: World, step: str, thing: str) -> None:
    """What is counted was counted before, and is to be counted again; what burns is wet until it has dried."""
    subject = world.scene.subjects[thing]
    if subject.counted:
        world.slip("count-missing", thing, negated(world.get("counted", thing)))
        world.put(True, "counted", thing)
        _counted_again(world, thing)
        world.put(True, "due", thing, step)
    if subject.hazard == "fire":
        world.put(True, "wet", thing, step)


def _counted_again(world: World, thing: str) -> None:
    for key in list(world.bits):
        if key[:2] == ("due", thing):
            world.put(False, *key)


def _off(world: World, owner: str, effect: Effect) -> None:
    thing = effect.thing.value
    if effect.field == "uncovers":
        bare = world.is_bare(thing)
        world.slip("cover-missing", thing, bare)
        tops = {item: world.is_top(item, thing) for item in world.scene.covers.get(thing, ())}
        world.contact(f"{owner}.hands", thing, negated(bare))
        for item, top in tops.items():
            world.take_off(item, thing, top)
        return
    own = [target for target in world.scene.places_of(thing) if world.scene.subjects[target].role == owner]
    world.slip("cover-missing", thing, every(negated(world.is_top(thing, target)) for target in own))
    for target in own:
        world.take_off(thing, target, True)


def _leaves(world: World, owner: str, effect: Effect) -> None:
    thing, container = effect.thing.value, effect.target
    world.take(thing, owner)
    if container is not None:
        world.present(container.value)
    safe = container is not None and world.scene.subjects[container.value].sharps
    if effect.field == "discards" and world.scene.subjects[thing].sharp and not safe:
        world.slip("sharp-loose", thing, True)
    world.put(True, "gone", thing)


def _changes(world: World, effect: Effect) -> None:
    """What is made, wetted, contaminated, soiled or counted where it is."""
    thing = effect.thing.value
    world.present(thing)
    if effect.field == "makes":
        for outer, condition in world.outside(thing).items():
            for level in LEVELS:
                world.put_if(condition, level <= (effect.level or Level.CONTAMINATED), "level", outer, str(level))
            world.put_if(condition, False, "soiled", outer)
    elif effect.field == "counts":
        world.put(True, "counted", thing)
        _counted_again(world, thing)
    elif effect.field == "wets":
        _wetted(world, thing)
    else:
        _fouled(world, thing, soil=effect.field == "soils")


def _wetted(world: World, thing: str) -> None:
    """The topmost cover falls to what lies right under it, unless it keeps fluid out."""
    items, before = world.scene.covers.get(thing, ()), world.places()
    for item in items:
        if world.scene.subjects[item].fluid_proof:
            continue
        top, others = world.is_top(item, thing), [other for other in items if other != item]
        alone = every(negated(world.get("on", thing, other)) for other in others)
        world.lower(item, world.brings(thing), both(top, alone))
        for other in others:
            third = (one for one in others if one != other)
            over = (some((negated(world.get("on", thing, one)), world.get("after", other, one))) for one in third)
            world.lower(item, world.brings(other), every((top, world.get("on", thing, other), *over)))
    world.settle(before)


def _fouled(world: World, thing: str, *, soil: bool) -> None:
    """It is contaminated or soiled on purpose: an event for what rests there, even if it was no better before."""
    outsides, before = world.outside(thing), world.places()
    for place, (levels, soiled) in before.items():
        there = world.outside(place)
        hit = some(both(there[name], outsides[name]) for name in there.keys() & outsides.keys())
        before[place] = (
            (levels, both(soiled, negated(hit))) if soil else (tuple(some((one, hit)) for one in levels), soiled)
        )
    for name, condition in outsides.items():
        if soil:
            world.soil(name, thing, condition)
        else:
            world.lower(name, (False, False, False), condition)
    world.settle(before)


__all__ = ["Scene", "World", "after", "wrong_at_the_end"]
