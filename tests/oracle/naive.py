"""A second reading of what a step does to asepsis, written from the language's meaning alone.

It works on the plain mappings a protocol is written in, knows nothing of the engine, and is slow on purpose: every rule
is a few lines over dicts and sets, in the words of the meaning. The engine has to agree with it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

LEVELS = ("contaminated", "clean", "disinfected", "sterile")
CONTAMINATED, CLEAN, DISINFECTED, STERILE = range(4)
PARTS = ("hands", "body", "face", "head", "feet")
EFFECTS = (
    *("opens", "touches", "passes", "uses", "lays", "presents", "covers", "dons", "uncovers", "doffs"),
    *("makes", "wets", "contaminates", "soils", "counts", "discards", "hands_over"),
)
"""In the order in which they happen within a step."""

Slip = tuple[str, str | None, str]
"""(rule, step or None at the end, subject)."""


def minutes(duration: str) -> float:
    """A length of time in minutes."""
    number, unit = duration.split(" ")
    return float(number) * {"s": 1 / 60, "min": 1, "h": 60, "d": 1440}[unit]


class Scene:
    """What the protocol declares: everything that has a level, and what is said of it."""

    def __init__(self, clinic: dict[str, Any], protocol: dict[str, Any], evidence: dict[str, Any]) -> None:
        self.kind: dict[str, str] = {}
        self.said: dict[str, dict[str, Any]] = {}
        self.starts: dict[str, int] = {}
        self.held_in: dict[str, str] = {}
        self.role_of: dict[str, str] = {}
        for role in protocol["team"]:
            for part in PARTS:
                self._declare(f"{role}.{part}", "person", {}, "contaminated")
                self.role_of[f"{role}.{part}"] = role
        for name, said in {**clinic.get("surfaces", {}), **protocol.get("surfaces", {})}.items():
            self._declare(name, "surface", said, "contaminated")
        for name, said in protocol.get("sites", {}).items():
            self._declare(name, "site", said, "contaminated")
        for name, said in protocol.get("items", {}).items():
            self._declare(name, "item", said, "contaminated")
        for name, said in protocol.get("packs", {}).items():
            self._declare(name, "pack", said, "clean")
            self._hold(name, said)
        self.requirements: dict[str, dict[str, Any]] = evidence.get("requirements", {})

    def _declare(self, name: str, kind: str, said: dict[str, Any], starts: str) -> None:
        self.kind[name] = kind
        self.said[name] = said
        self.starts[name] = LEVELS.index(said.get("starts", starts))

    def _hold(self, pack: str, said: dict[str, Any]) -> None:
        for name, held in said["holds"].items():
            self._declare(name, "pack" if "holds" in held else "item", held, "sterile")
            self.held_in[name] = pack
            if "holds" in held:
                self._hold(name, held)

    def packs_around(self, name: str) -> Iterator[str]:
        """The pack that holds it, the pack around that one, and so on."""
        while name in self.held_in:
            name = self.held_in[name]
            yield name

    def drying(self, step: dict[str, Any]) -> float:
        """Minutes that what the step used must dry, by the requirements it answers."""
        limits = (self.requirements[name].get("limit", {}) for name in step.get("meets", []))
        return max((minutes(limit["at_least"]) for limit in limits if "at_least" in limit), default=0)


class World:
    """The state of everything at one moment, and what a step does to it. ``report`` receives each slip."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        self.level = dict(scene.starts)
        self.soiled: set[str] = set()
        self.worn: dict[str, list[str]] = {}
        self.rests: dict[str, str] = {}
        self.opened: set[str] = set()
        self.gone: set[str] = set()
        self.facts: set[str] = set()
        self.ended = False
        self.counted: set[str] = set()
        self.last_use: dict[str, str] = {}
        self.wet: set[tuple[str, str, float]] = set()
        self.step: dict[str, Any] = {}
        self.report: Callable[[Slip], None] = lambda _: None

    def copy(self) -> World:
        """The same state once more."""
        twin = World.__new__(World)
        twin.scene, twin.ended, twin.step, twin.report = self.scene, self.ended, self.step, self.report
        for name in ("level", "soiled", "rests", "opened", "gone", "facts", "counted", "last_use", "wet"):
            setattr(twin, name, getattr(self, name).copy())
        twin.worn = {name: list(covers) for name, covers in self.worn.items()}
        return twin

    def frozen(self) -> object:
        """Everything there is to tell this state from another."""
        sets: tuple[set[Any], ...] = (self.soiled, self.opened, self.gone, self.facts, self.counted, self.wet)
        return (
            tuple(self.level.items()),
            tuple(sorted((name, tuple(covers)) for name, covers in self.worn.items() if covers)),
            frozenset(self.rests.items()),
            frozenset(self.last_use.items()),
            self.ended,
            *(frozenset(some) for some in sets),
        )

    # what is where

    def outside(self, name: str) -> str:
        """The topmost cover, or the thing itself when bare."""
        while self.worn.get(name):
            name = self.worn[name][-1]
        return name

    def effective(self, name: str) -> int:
        """The level it counts as in a contact: a site at disinfected is as good as sterile."""
        level = self.level[name]
        return STERILE if self.scene.kind[name] == "site" and level >= DISINFECTED else level

    def place_of(self, item: str) -> str | None:
        """What the item covers, if it is in place anywhere."""
        return next((target for target, covers in self.worn.items() if item in covers), None)

    def in_field(self, name: str) -> bool:
        """Whether this outside belongs to the sterile field now."""
        place = self.place_of(name)
        if place is not None:
            guarded = self.scene.kind[place] in ("person", "surface", "site")
            return guarded and self.level[name] == STERILE
        if self.worn.get(name):
            return False
        kind = self.scene.kind[name]
        return (kind == "surface" and self.level[name] == STERILE) or (
            kind == "site" and self.level[name] >= DISINFECTED
        )

    # what happens

    def slip(self, rule: str, subject: str) -> None:
        """Tells one slip of the step that is being done."""
        self.report((rule, self.step["id"], subject))

    def present(self, name: str, by: str | None = None) -> None:
        """The thing must be there; taken in hand ``by`` a role, nobody else may wear it, and it rests no more."""
        if name in self.scene.held_in and self.scene.held_in[name] not in self.opened:
            self.slip("not-available", name)
            self.opened |= set(self.scene.packs_around(name))
        if name in self.gone:
            self.slip("not-available", name)
            self.gone.remove(name)
        if by is not None:
            place = self.place_of(name)
            if place is not None and self.scene.role_of.get(place, by) != by:
                self.slip("not-available", name)
            self.rests.pop(name, None)

    def soil(self, name: str, told_as: str) -> None:
        """Patient material gets onto this outside; bare skin of staff must never meet it."""
        if self.scene.kind[name] == "person" and name.rpartition(".")[2] in ("hands", "face"):
            self.slip("skin-exposed", told_as)
        else:
            self.soiled.add(name)

    def contact(self, a: str, b: str) -> None:
        """Both outsides fall to the lower level of the two, and share their soil."""
        x, y = self.outside(a), self.outside(b)
        if x == y:
            return
        before = self.under_what_rests()
        levels = self.effective(x), self.effective(y)
        for told_as, name in ((a, x), (b, y)):
            if min(levels) >= self.level[name]:
                continue
            if self.in_field(name) and not self.ended:
                self.slip("field-broken", told_as)
            else:
                self.level[name] = min(levels)
        if self.soiled & {x, y}:
            self.soil(x, a)
            self.soil(y, b)
        self.settle(before)

    def under_what_rests(self) -> dict[str, tuple[int, bool]]:
        """How the outsides stand on which something rests."""
        return {place: self.standing(place) for place in self.rests.values()}

    def standing(self, place: str) -> tuple[int, bool]:
        """Level in a contact, and soil, of the outside of a place."""
        return self.effective(self.outside(place)), self.outside(place) in self.soiled

    def settle(self, before: dict[str, tuple[int, bool]]) -> None:
        """What rests on something falls, and is soiled, with the outside it rests on."""
        moving = True
        while moving:
            moving = False
            for thing, place in sorted(self.rests.items()):
                (had, was_soiled), (has, is_soiled) = before[place], self.standing(place)
                name = self.outside(thing)
                if has < had and has < self.effective(name):
                    self.level[name] = has
                    moving = True
                if is_soiled and not was_soiled and name not in self.soiled:
                    self.soil(name, thing)
                    moving = name in self.soiled

    def put_on(self, item: str, target: str) -> None:
        """The item becomes the topmost cover of the target, wherever it was in place before.

        Nothing covers itself: what lies on the item and carries the target comes off the item first.
        """
        if item == target:
            return
        before = self.under_what_rests()
        carrier: str | None = target
        while carrier is not None and carrier not in self.worn.get(item, []):
            carrier = self.place_of(carrier)
        if carrier is not None:
            self.worn[item].remove(carrier)
        place = self.place_of(item)
        if place is not None:
            self.worn[place].remove(item)
        self.worn.setdefault(target, []).append(item)
        self.settle(before)

    def take_off(self, item: str, target: str) -> None:
        """The item is no longer a cover of the target."""
        before = self.under_what_rests()
        self.worn[target].remove(item)
        self.settle(before)

    def only_on_prepared_hands(self, item: str, wearer: str) -> None:
        """An unscrubbed hand never goes into a sterile gown or glove."""
        hands = self.outside(f"{wearer}.hands")
        if self.level[item] == STERILE and self.level[hands] < DISINFECTED:
            self.slip("needs-not-met", f"{wearer}.hands")
            self.level[hands] = DISINFECTED


def entries(step: dict[str, Any], field: str) -> list[tuple[str, Any]]:
    """The entries of an effect field as pairs; a list's entries have no second half."""
    written = step.get(field, {})
    return list(written.items()) if isinstance(written, dict) else [(name, None) for name in written]
