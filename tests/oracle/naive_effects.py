"""What each effect of a step does, one short function an effect, and how a step is judged before its effects.

What is spilt or dirtied on purpose reaches what rests there even if the place was no better before: those two effects
look at the event, every other one at whether the outside became worse.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from tests.oracle.naive import CONTAMINATED, EFFECTS, LEVELS, STERILE, Slip, World, entries, minutes


def perform(world: World, step: dict[str, Any]) -> set[Slip]:
    """Does one step in place and gives the slips it made."""
    slips: set[Slip] = set()
    world.step, world.report = step, slips.add
    _fire(world, step)
    for fact in step.get("requires", []):
        if fact not in world.facts:
            world.slip("fact-missing", fact)
            world.facts.add(fact)
    needs = {name: LEVELS.index(word) for name, word in step.get("needs", {}).items()}
    if step.get("sterile"):
        needs |= {f"{step['role']}.{part}": 3 for part in ("hands", "body")}
    for name, level in needs.items():
        if world.level[world.outside(name)] < level:
            world.slip("needs-not-met", name)
            world.level[world.outside(name)] = level
    for field in EFFECTS:
        for thing, target in entries(step, field):
            DO[field](world, step["role"], thing, target)
    world.facts |= set(step.get("confirms", []))
    world.facts -= set(step.get("withdraws", []))
    world.ended = world.ended or bool(step.get("ends_field"))
    return slips


def at_the_end(world: World) -> set[Slip]:
    """What is wrong when everything is done and the world stands like this."""
    scene = world.scene
    slips: set[Slip] = {("left-soiled", None, name) for name in world.soiled - world.gone}
    for target, covers in world.worn.items():
        if covers and scene.kind[target] == "person":
            slips |= {("left-on", None, item) for item in covers}
        elif covers:
            slips.add(("left-on", None, target))
    for name, said in scene.said.items():
        out = name not in scene.held_in or scene.held_in[name] in world.opened
        if said.get("sharp") and out and name not in world.gone:
            slips.add(("sharp-loose", None, name))
    return slips | {("count-missing", step, item) for item, step in world.last_use.items()}


def _fire(world: World, step: dict[str, Any]) -> None:
    """Waiting dries what was used; a spark meets what has not dried."""
    for wait in step.get("waits", []):
        for item, used_in, needed in sorted(world.wet):
            if wait["for"] == used_in and minutes(wait["at_least"]) >= needed:
                world.wet.remove((item, used_in, needed))
    if step.get("ignition"):
        for item, _, _ in sorted(world.wet):
            world.slip("fire-risk", item)
        world.wet.clear()


def _opens(world: World, role: str, pack: str, _: None) -> None:
    world.present(pack)
    world.contact(f"{role}.hands", pack)
    world.opened.add(pack)


def _touches(world: World, role: str, thing: str, _: None) -> None:
    world.present(thing, role)
    world.contact(f"{role}.hands", thing)


def _passes(world: World, role: str, item: str, other: str) -> None:
    world.present(item, role)
    world.contact(f"{role}.hands", item)
    world.contact(item, f"{other}.hands")


def _uses(world: World, role: str, item: str, target: str) -> None:
    world.present(item, role)
    world.present(target)
    world.contact(f"{role}.hands", item)
    world.contact(item, target)
    if world.scene.kind[target] != "site":
        return
    said, step = world.scene.said[item], world.step
    if said.get("counted"):
        if item not in world.counted:
            world.slip("count-missing", item)
            world.counted.add(item)
        world.last_use[item] = step["id"]
    if said.get("hazard") == "fire":
        world.wet.add((item, step["id"], world.scene.drying(step)))


def _lays(world: World, role: str, item: str, surface: str) -> None:
    world.present(item, role)
    world.present(surface)
    world.contact(f"{role}.hands", item)
    world.contact(item, surface)
    world.rests[item] = surface


def _presents(world: World, role: str, item: str, surface: str) -> None:
    world.present(item, role)
    world.present(surface)
    world.contact(item, surface)
    world.rests[item] = surface


def _covers(world: World, role: str, target: str, item: str) -> None:
    world.present(item, role)
    world.present(target)
    world.contact(f"{role}.hands", item)
    wearer, _, part = target.rpartition(".")
    if part in ("hands", "body") and wearer:
        world.only_on_prepared_hands(item, wearer)
    world.put_on(item, target)


def _dons(world: World, role: str, item: str, _: None) -> None:
    world.present(item, role)
    world.only_on_prepared_hands(item, role)
    world.put_on(item, f"{role}.{world.scene.said[item]['worn_on']}")


def _uncovers(world: World, role: str, target: str, _: None) -> None:
    if not world.worn.get(target):
        world.slip("cover-missing", target)
        return
    cover = world.worn[target][-1]
    world.contact(f"{role}.hands", target)
    world.take_off(cover, target)


def _doffs(world: World, role: str, item: str, _: None) -> None:
    place = world.place_of(item)
    mine = place is not None and world.scene.role_of.get(place) == role
    if place is None or not mine or world.worn[place][-1] != item:
        world.slip("cover-missing", item)
    if place is not None and mine:
        world.take_off(item, place)


def _makes(world: World, _: str, thing: str, level: str) -> None:
    world.present(thing)
    world.level[world.outside(thing)] = LEVELS.index(level)
    world.soiled.discard(world.outside(thing))


def _wets(world: World, _: str, thing: str, __: None) -> None:
    world.present(thing)
    layers = [thing, *world.worn.get(thing, [])]
    if len(layers) == 1 or world.scene.said[layers[-1]].get("barrier") == "fluid-proof":
        return
    before = world.under_what_rests()
    cover, below = layers[-1], layers[-2]
    world.level[cover] = min(world.level[cover], world.effective(below))
    world.settle(before)


def _contaminates(world: World, _: str, thing: str, __: None) -> None:
    world.present(thing)
    before = world.under_what_rests()
    before |= {
        place: (STERILE, soiled)
        for place, (_, soiled) in before.items()
        if world.outside(place) == world.outside(thing)
    }
    world.level[world.outside(thing)] = CONTAMINATED
    world.settle(before)


def _soils(world: World, _: str, thing: str, __: None) -> None:
    world.present(thing)
    before = world.under_what_rests()
    before |= {
        place: (level, False) for place, (level, _) in before.items() if world.outside(place) == world.outside(thing)
    }
    world.soil(world.outside(thing), thing)
    world.settle(before)


def _counts(world: World, _: str, item: str, __: None) -> None:
    world.present(item)
    world.counted.add(item)
    world.last_use.pop(item, None)


def _discards(world: World, role: str, item: str, container: str | None) -> None:
    world.present(item, role)
    said = world.scene.said
    if container is not None:
        world.present(container)
    if said[item].get("sharp") and (container is None or not said[container].get("sharps")):
        world.slip("sharp-loose", item)
    world.gone.add(item)


def _hands_over(world: World, role: str, item: str, _: None) -> None:
    world.present(item, role)
    world.gone.add(item)


DO: dict[str, Callable[[World, str, str, Any], None]] = {
    "opens": _opens,
    "touches": _touches,
    "passes": _passes,
    "uses": _uses,
    "lays": _lays,
    "presents": _presents,
    "covers": _covers,
    "dons": _dons,
    "uncovers": _uncovers,
    "doffs": _doffs,
    "makes": _makes,
    "wets": _wets,
    "contaminates": _contaminates,
    "soils": _soils,
    "counts": _counts,
    "discards": _discards,
    "hands_over": _hands_over,
}
