"""The second reading's own answers to questions: how people stand before a step, and what a breach leads to."""

from __future__ import annotations

import copy
import json
from collections import defaultdict
from collections.abc import Iterator
from typing import Any

from stepfield.language import ProtocolSet, build_set
from tests.oracle.naive import CONTAMINATED, PARTS, STERILE, Scene, Slip, World
from tests.oracle.naive_effects import DO, EFFECTS, entries, perform
from tests.oracle.naive_runs import Place, TooManyStatesError, Walk, run_all, settlings

Case = dict[str, Any]
Moment = tuple[World, Place, Walk]
LIMIT = 3000


def read(case: Case) -> ProtocolSet:
    """The set as the project reads it, whatever it notes beside; JSON is YAML."""
    names = {"clinic": "clinic.yaml", "protocol": "small.yaml", "evidence": "evidence.yaml"}
    found = build_set({f"protocols/{names[part]}": json.dumps(case[part]).encode() for part in case})
    assert not found.unsound
    assert not found.unreadable
    return found


def moments(case: Case) -> Iterator[Moment]:
    """Every moment of every run."""
    scene = Scene(case["clinic"], case["protocol"], case.get("evidence", {}))
    for choices in settlings(case["protocol"]):
        walk = Walk(case["protocol"], choices)
        first = (World(scene), walk.pass_over(Place()))
        seen, waiting = {(first[0].frozen(), first[1])}, [first]
        for world, place in waiting:
            yield world, place, walk
            for name in walk.ready(place):
                now = world.copy()
                perform(now, walk.steps[name])
                for _, there in walk.after(place, name):
                    if (now.frozen(), there) not in seen:
                        seen.add((now.frozen(), there))
                        waiting.append((now, there))
            if len(waiting) > LIMIT:
                raise TooManyStatesError


def beginnings(case: Case) -> dict[str, list[Moment]]:
    """For each step the moments at which it can begin."""
    found: dict[str, list[Moment]] = defaultdict(list)
    for moment in moments(case):
        for step in moment[2].ready(moment[1]):
            found[step].append(moment)
    return found


def moments_before(case: Case, step: str) -> list[Moment]:
    """The moments at which the step can begin."""
    return beginnings(case)[step]


def things_told(scene: Scene, role: str) -> list[str]:
    """What somebody may touch or not: everything but their own hands, and of people hands, body and face."""
    names = [name for name in scene.kind if scene.kind[name] != "person" or name.rpartition(".")[2] in PARTS[:3]]
    return [name for name in names if name != f"{role}.hands"]


def against_touching(world: World, role: str, thing: str) -> str | None:
    """Why a role's hands must not touch the thing now, if so."""
    if thing in world.gone:
        return "gone"
    if thing in world.scene.held_in and world.scene.held_in[thing] not in world.opened:
        return "not-there-yet"
    place = world.place_of(thing)
    if place is not None and world.scene.role_of.get(place, role) != role:
        return "worn"
    hands, there = world.outside(f"{role}.hands"), world.outside(thing)
    if hands == there:
        return None
    low = min(world.effective(hands), world.effective(there))
    if world.level[there] > low and world.effective(there) == STERILE:
        return "would-contaminate"
    if world.level[hands] > low:
        return "contaminated-by"
    skin = {name for name in (hands, there) if name.rpartition(".")[2] in ("hands", "face")}
    return "soils-skin" if skin - world.soiled and world.soiled & {hands, there} else None


def with_breach(case: Case, subject: str, at: str) -> Case:
    """The protocol with a step put right before the step ``at``, by the same people and in the same order."""
    case = copy.deepcopy(case)
    for phase in case["protocol"]["phases"]:
        for number, step in enumerate(phase["steps"]):
            if step["id"] == at:
                kept = {field: step[field] for field in ("role", "with", "after", "when") if field in step}
                inserted = {"id": "breach", **copy.deepcopy(kept), "do": "Breach.", "contaminates": [subject]}
                phase["steps"].insert(number, inserted)
                return case
    raise KeyError(at)


def new_slips(case: Case, changed: Case) -> dict[Slip, int]:
    """The slips that only the changed protocol has, each with the steps of a shortest run that shows it."""
    old = _slips(case)
    return {slip: length for slip, length in _slips(changed).items() if slip not in old}


def _slips(case: Case) -> dict[Slip, int]:
    scene = Scene(case["clinic"], case["protocol"], case.get("evidence", {}))
    lengths: dict[Slip, list[int]] = defaultdict(list)
    for choices in settlings(case["protocol"]):
        runs = run_all(scene, case["protocol"], choices, LIMIT)
        for number, edges in enumerate(runs.edges):
            for _, _, slips, _ in edges:
                for slip in slips:
                    lengths[slip].append(runs.depth[number] + 1)
            for slip in runs.ends.get(number, (frozenset(), ()))[0]:
                lengths[slip].append(runs.depth[number])
    return {slip: min(some) for slip, some in lengths.items()}


def lost_with(case: Case, subject: str, at: str) -> set[str]:
    """Whatever is lower at some moment of some run with the breach than in the same run without; no check stops it."""
    lost: set[str] = set()
    for world, place, walk in moments_before(case, at):
        if subject in world.gone or (
            subject in world.scene.held_in and world.scene.held_in[subject] not in world.opened
        ):
            continue
        one, other = world.copy(), world.copy()
        one.ended = other.ended = True
        breached = {subject, world.outside(subject)}
        DO["contaminates"](other, walk.steps[at]["role"], subject, None)
        assert other.level[other.outside(subject)] == CONTAMINATED
        lost |= _lower(one, other, place, walk) - breached
    return lost


def _lower(one: World, other: World, place: Place, walk: Walk) -> set[str]:
    lower: set[str] = set()
    seen, waiting = {(one.frozen(), other.frozen(), place)}, [(one, other, place)]
    for first, second, there in waiting:
        for name in first.level:
            outside = first.outside(name)
            if outside not in first.gone and second.level[outside] < first.level[outside]:
                lower.add(name)
        for name in walk.ready(there):
            twins = _done_unchecked(first, walk.steps[name]), _done_unchecked(second, walk.steps[name])
            for _, then in walk.after(there, name):
                key = (twins[0].frozen(), twins[1].frozen(), then)
                if key not in seen:
                    seen.add(key)
                    waiting.append((*twins, then))
        if len(waiting) > LIMIT:
            raise TooManyStatesError
    return lower


class _Unguarded(World):
    """A world in which no sterile thing is kept from unprepared hands."""

    def only_on_prepared_hands(self, item: str, wearer: str) -> None:
        """Asks for nothing."""


def _done_unchecked(world: World, step: dict[str, Any]) -> World:
    now = world.copy()
    now.__class__ = _Unguarded
    now.step, now.report = step, lambda _: None
    for field in EFFECTS:
        for thing, target in entries(step, field):
            DO[field](now, step["role"], thing, target)
    return now


def can_be_walked(case: Case, steps: list[tuple[str, str | None]]) -> bool:
    """Whether some run does just these steps in this order, with these answers."""
    walks = [Walk(case["protocol"], choices) for choices in settlings(case["protocol"])]
    places = {(walk, walk.pass_over(Place())) for walk in walks}
    for name, answer in steps:
        places = {
            (walk, there)
            for walk, place in places
            if name in walk.ready(place)
            for given, there in walk.after(place, name)
            if answer in (None, given)
        }
    return bool(places)


def may_repeat(case: Case, step: str) -> bool:
    """Whether a repeat can bring the step again."""
    for phase in case["protocol"]["phases"]:
        for asking in phase["steps"]:
            if "repeat" in asking:
                lane = [
                    other["id"] for other in phase["steps"] if asking["role"] in (other["role"], *other.get("with", []))
                ]
                if step in lane[lane.index(asking["repeat"]["from"]) : lane.index(asking["id"]) + 1]:
                    return True
    return False
