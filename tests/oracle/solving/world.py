"""What is where, in formulas: for every thing, under which circumstances it is at a level, soiled, covered, gone.

Written from the language's meaning: each method is one sentence of it. Nothing here runs anything; it says how the
state after a step follows from the state before, for all orders at once.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from stepfield.language.model import Kind, Level, Protocol, Requirement, Step, Subject
from tests.oracle.solving.formulas import Bit, both, either, every, negated, pick, some

Slip = tuple[str, str | None, str]
Key = tuple[str, ...]
LEVELS = (1, 2, 3)
"""Clean, disinfected, sterile; a thing at a level is at all the lower ones too, and everything is contaminated."""
Standing = tuple[tuple[Bit, ...], Bit]
"""At least clean, disinfected, sterile; and soiled."""


@dataclass(frozen=True)
class Scene:
    """What a protocol declares, and what its steps could put where."""

    subjects: Mapping[str, Subject]
    covers: Mapping[str, tuple[str, ...]]
    rests: Mapping[str, tuple[str, ...]]
    drying: Mapping[str, float]

    @classmethod
    def of(cls, protocol: Protocol, requirements: tuple[Requirement, ...]) -> Scene:
        """Reads what could cover what, what could rest where, and how long what a step used must dry."""
        covers: dict[str, dict[str, None]] = {}
        rests: dict[str, dict[str, None]] = {}
        for step in protocol.steps:
            for effect in step.effects:
                name = effect.thing.value
                if effect.field == "covers":
                    covers.setdefault(name, {})[str(effect.target)] = None
                if effect.field == "dons":
                    place = f"{step.role}.{protocol.subjects[name].worn_on}"
                    covers.setdefault(place, {})[name] = None
                if effect.field in ("lays", "presents"):
                    rests.setdefault(str(effect.target), {})[name] = None
        limits = {one.id.value: one.at_least or 0.0 for one in requirements}
        drying = {
            step.id.value: max((limits.get(name.value, 0.0) for name in step.meets), default=0.0)
            for step in protocol.steps
        }
        return cls(
            protocol.subjects,
            {target: tuple(items) for target, items in covers.items()},
            {place: tuple(things) for place, things in rests.items()},
            drying,
        )

    def packs_around(self, name: str) -> Iterator[str]:
        """The pack that holds it, and the packs around that one."""
        held = self.subjects[name].held_in
        while held is not None:
            yield held
            held = self.subjects[held].held_in

    def places_of(self, item: str) -> list[str]:
        """What the item could ever cover."""
        return [target for target, items in self.covers.items() if item in items]


class World:
    """The state before or after a step, and the slips of the step. Keys that are missing are false."""

    def __init__(self, scene: Scene, bits: Mapping[Key, Bit]) -> None:
        self.scene, self.bits = scene, dict(bits)
        self.slips: dict[Slip, Bit] = {}
        self.step: Step | None = None

    @classmethod
    def first(cls, scene: Scene) -> World:
        """Everything as it starts."""
        start: dict[Key, Bit] = {
            ("level", name, str(level)): True
            for name, subject in scene.subjects.items()
            for level in LEVELS
            if subject.starts >= level
        }
        return cls(scene, start)

    def get(self, *key: str) -> Bit:
        """Whether something is so."""
        return self.bits.get(key, False)

    def put(self, value: Bit, *key: str) -> None:
        """Something is so from now on, or is not."""
        self.bits[key] = value

    def put_if(self, condition: Bit, value: Bit, *key: str) -> None:
        """The same, under a condition."""
        self.bits[key] = pick(condition, value, self.get(*key))

    def slip(self, rule: str, subject: str, when: Bit) -> None:
        """Something goes wrong at the step, under a condition."""
        key = (rule, self.step.id.value if self.step else None, subject)
        self.slips[key] = either(self.slips.get(key, False), when)

    # what is where

    def level(self, name: str, level: int) -> Bit:
        """It is at least at the level."""
        return level == Level.CONTAMINATED or self.get("level", name, str(level))

    def brings(self, name: str) -> tuple[Bit, ...]:
        """What it brings to a contact: a site at disinfected is as good as sterile."""
        low, middle, high = (self.level(name, level) for level in LEVELS)
        return (low, middle, middle if self.scene.subjects[name].kind is Kind.SITE else high)

    def is_top(self, item: str, target: str) -> Bit:
        """The item covers the target, and was put on after whatever else covers it."""
        others = (other for other in self.scene.covers[target] if other != item)
        later = (either(negated(self.get("on", target, other)), self.get("after", item, other)) for other in others)
        return every((self.get("on", target, item), *later))

    def is_bare(self, target: str) -> Bit:
        """Nothing covers it."""
        return every(negated(self.get("on", target, item)) for item in self.scene.covers.get(target, ()))

    def outside(self, name: str) -> dict[str, Bit]:
        """What is met when it is met, each possibility with its condition."""
        found = {name: self.is_bare(name)}
        for item in self.scene.covers.get(name, ()):
            top = self.is_top(item, name)
            for outer, condition in self.outside(item).items() if top is not False else ():
                found[outer] = either(found.get(outer, False), both(top, condition))
        return {outer: condition for outer, condition in found.items() if condition is not False}

    def standing(self, name: str) -> Standing:
        """Levels in a contact, and soil, of the outside."""
        outsides = list(self.outside(name).items())
        levels = tuple(some(both(when, self.brings(outer)[k]) for outer, when in outsides) for k in range(3))
        return levels, some(both(when, self.get("soiled", outer)) for outer, when in outsides)

    def in_field(self, name: str) -> Bit:
        """A sterile cover in place (not on an item), a sterile surface, a site at disinfected; until the field ends."""
        kind = self.scene.subjects[name].kind
        if kind is Kind.SITE:
            member = self.level(name, Level.DISINFECTED)
        elif kind is Kind.SURFACE:
            member = self.level(name, Level.STERILE)
        else:
            guarded = (t for t in self.scene.places_of(name) if self.scene.subjects[t].kind is not Kind.ITEM)
            place = some(self.get("on", target, name) for target in guarded)
            member = both(place, self.level(name, Level.STERILE))
        return both(member, negated(self.get("ended")))

    # what happens

    def need(self, name: str, level: int, when: Bit = True) -> None:
        """Its outside must be at the level, and is from now on."""
        for outer, condition in self.outside(name).items():
            short = every((when, condition, negated(self.level(outer, level))))
            self.slip("needs-not-met", name, short)
            for reached in range(1, level + 1):
                self.put_if(short, True, "level", outer, str(reached))

    def present(self, name: str) -> None:
        """It is there: its pack is open, and it has not left."""
        packs = list(self.scene.packs_around(name))
        if packs:
            closed = negated(self.get("open", packs[0]))
            self.slip("not-available", name, closed)
            for pack in packs:
                self.put_if(closed, True, "open", pack)
        self.slip("not-available", name, self.get("gone", name))
        self.put(False, "gone", name)

    def take(self, name: str, owner: str) -> None:
        """It is there, no other role wears it, and it rests nowhere any more."""
        self.present(name)
        for target in self.scene.places_of(name):
            if self.scene.subjects[target].role not in (None, owner):
                self.slip("not-available", name, self.get("on", target, name))
        for place, things in self.scene.rests.items():
            if name in things:
                self.put(False, "rests", name, place)

    def lower(self, name: str, to: tuple[Bit, ...], when: Bit) -> None:
        """It falls to the levels of something else, unless it is lower already."""
        for level, kept in zip(LEVELS, to, strict=True):
            self.put_if(both(when, negated(kept)), False, "level", name, str(level))

    def soil(self, name: str, told_as: str, when: Bit) -> None:
        """Patient material gets onto it; bare hands and faces must never meet it."""
        if self.scene.subjects[name].kind is Kind.PERSON and name.endswith((".hands", ".face")):
            self.slip("skin-exposed", told_as, when)
        else:
            self.put_if(when, True, "soiled", name)

    def contact(self, one: str, other: str, when: Bit = True) -> None:
        """Both outsides fall to the lower of the two, and share their soil; a thing does not meet itself."""
        first, second = self.outside(one), self.outside(other)
        itself = some(both(first[name], second[name]) for name in first.keys() & second.keys())
        met = both(when, negated(itself))
        (have, dirty), (bring, foul) = self.standing(one), self.standing(other)
        low = tuple(both(mine, yours) for mine, yours in zip(have, bring, strict=True))
        before = self.places()
        for told_as, outsides in ((one, first), (other, second)):
            for name, condition in outsides.items():
                loses = some(both(self.level(name, level), negated(low[level - 1])) for level in LEVELS)
                guarded = self.in_field(name)
                self.slip("field-broken", told_as, every((met, condition, loses, guarded)))
                self.lower(name, low, every((met, condition, negated(guarded))))
        for told_as, outsides in ((one, first), (other, second)):
            for name, condition in outsides.items():
                self.soil(name, told_as, every((met, condition, either(dirty, foul))))
        self.settle(before)

    def places(self) -> dict[str, Standing]:
        """How every place stands on which something may rest."""
        return {place: self.standing(place) for place in self.scene.rests}

    def settle(self, before: Mapping[str, Standing]) -> None:
        """What rests on a place falls, and is soiled, with it; and what rests on that, and so on."""
        for _ in before:
            for place, things in self.scene.rests.items():
                (had, was_soiled), (has, is_soiled) = before[place], self.standing(place)
                fell = some(both(was, negated(now)) for was, now in zip(had, has, strict=True))
                fouled = both(is_soiled, negated(was_soiled))
                for thing in things:
                    lies = self.get("rests", thing, place)
                    for name, condition in self.outside(thing).items():
                        self.lower(name, has, every((lies, condition, fell)))
                        self.soil(name, thing, every((lies, condition, fouled)))

    def put_on(self, item: str, target: str) -> None:
        """The item is the topmost cover of the target, and covers nothing else."""
        before = self.places()
        for place in self.scene.places_of(item):
            self.put(place == target, "on", place, item)
            for other in self.scene.covers[place]:
                if other != item:
                    self.put(True, "after", item, other)
                    self.put(False, "after", other, item)
        self.settle(before)

    def take_off(self, item: str, target: str, when: Bit) -> None:
        """The item no longer covers the target."""
        before = self.places()
        self.put_if(when, False, "on", target, item)
        self.settle(before)

    def only_on_prepared_hands(self, item: str, wearer: str) -> None:
        """A sterile thing goes onto somebody whose hands are at least disinfected."""
        self.need(f"{wearer}.hands", Level.DISINFECTED, self.level(item, Level.STERILE))
