"""A world that is not known beforehand: it notes what a step asks of it, so that only that has to be told.

The engine's own code runs on it. What it looks at first decides what it looks at next, and so every way a step can go
is found with no more said of the world than makes a difference.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, cast

from ..language.model import Kind
from .effects import SCOPES
from .graph import StepGraph
from .order import bits
from .world import World

Var = tuple[str, int, int]
"""One thing that can be the case: its kind, of which subject or fact, and for what is wet used at which step."""
Value = int | tuple[int, ...]
"""A level, 0 or 1, the covers of a subject from below, or where something rests or was used last (-1: nowhere)."""


_FIELD_ENDED: Var = ("ended", 0, 0)


class UnknownError(Exception):
    """Something is asked that has not been told yet."""

    def __init__(self, var: Var) -> None:
        super().__init__(var)
        self.var = var


@dataclass(frozen=True, slots=True)
class Scene:
    """What the steps of a protocol could put where: by subject what may wear it, by surface what may rest there."""

    graph: StepGraph
    wearers: Mapping[int, tuple[int, ...]]
    coverable: frozenset[int]
    resting: Mapping[int, tuple[int, ...]]
    wet: tuple[tuple[int, int], ...]
    counted: tuple[int, ...]

    @classmethod
    def of(cls, graph: StepGraph) -> Scene:
        """Read from every effect of every step, whatever the order."""
        wearers: dict[int, dict[int, None]] = {}
        resting: dict[int, dict[int, None]] = {}
        wet: dict[tuple[int, int], None] = {}
        counted: dict[int, None] = {}
        for deed in graph.deeds:
            for effect in deed.effects:
                scope = SCOPES[effect.field]
                if scope.layers and effect.target >= 0:
                    wearers.setdefault(effect.target, {})[effect.thing] = None
                elif scope.dresses:
                    place = graph.subjects[effect.thing].worn_on or "hands"
                    wearers.setdefault(effect.thing, {})[graph.parts[deed.owner, place]] = None
                if scope.rests:
                    resting.setdefault(effect.target, {})[effect.thing] = None
                if effect.field == "uses" and graph.subjects[effect.target].kind is Kind.SITE:
                    item = graph.subjects[effect.thing]
                    wet |= {(effect.thing, deed.number): None} if item.hazard == "fire" else {}
                    counted |= {effect.thing: None} if item.counted else {}
        return cls(
            graph,
            {cover: tuple(some) for cover, some in wearers.items()},
            frozenset(subject for some in wearers.values() for subject in some),
            {surface: tuple(sorted(items)) for surface, items in resting.items()},
            tuple(wet),
            tuple(counted),
        )

    def at_first(self, var: Var) -> Value:
        """What is the case before the first step."""
        kind, number, _ = var
        if kind == "level":
            return int(self.graph.subjects[number].starts)
        return () if kind == "covers" else -1 if kind in ("rests", "pending") else 0

    def is_possible(self, told: Mapping[Var, Value]) -> bool:
        """Whether covers told of could be in place together: nothing is in two places, or under itself."""
        stacks = {var[1]: value for var, value in told.items() if var[0] == "covers" and isinstance(value, tuple)}
        under: dict[int, int] = {}
        for subject, stack in stacks.items():
            for cover in stack:
                if cover in under:
                    return False
                under[cover] = subject
        for cover, wearer in under.items():
            at: int | None = wearer
            while at is not None:
                if at == cover:
                    return False
                at = under.get(at)
        return True


class _Mask(int):
    """A bit mask whose bits are looked at one by one: shifted to the right its lowest bit is the one asked for."""

    world: AskedWorld
    kind: str
    changed: dict[int, int]

    @classmethod
    def of(cls, world: AskedWorld, kind: str, changed: dict[int, int]) -> _Mask:
        mask = cls()
        mask.world, mask.kind, mask.changed = world, kind, changed
        return mask

    def __rshift__(self, bit: int) -> int:
        return cast("int", self.changed[bit] if bit in self.changed else self.world.look((self.kind, bit, 0)))

    def __or__(self, added: int) -> int:
        return self._with(bits(added), 1)

    def __and__(self, kept: int) -> int:
        assert kept < 0, "only single bits are taken away"
        return self._with(bits(~kept), 0)

    @staticmethod
    def keep(world: AskedWorld, mask: _Mask) -> None:
        """Lets what was changed of a mask be the case from now on."""
        for bit, value in mask.changed.items():
            world.now[mask.kind, bit, 0] = value

    def _with(self, some: Iterable[int], value: int) -> _Mask:
        return _Mask.of(self.world, self.kind, {**self.changed, **dict.fromkeys(some, value)})


def _looked_up(kind: str) -> Any:
    """A mask of a world that is not known; a property in place of a number."""
    return property(lambda world: _Mask.of(world, kind, {}), _Mask.keep)


class AskedWorld(World):
    """A world of which only what is ``told`` is known. Raises UnknownError when anything else is looked at."""

    __slots__ = ("now", "scene", "told")
    soiled, opened, gone = _looked_up("soiled"), _looked_up("opened"), _looked_up("gone")
    counted, facts = _looked_up("counted"), _looked_up("fact")
    field_ended: Any = property(lambda world: world.look(_FIELD_ENDED), lambda world, ended: world.end_field(ended))

    def __init__(self, scene: Scene, told: Mapping[Var, Value]) -> None:
        self.graph, self.scene, self.told = scene.graph, scene, told
        self.now: dict[Var, Value] = {}
        self.levels = cast("bytearray", _Levels(self))
        self.covers = cast("dict[int, tuple[int, ...]]", _Covers(self))
        self.rests = cast("dict[int, int]", _Places(self, "rests"))
        self.pending = cast("dict[int, int]", _Places(self, "pending"))
        self.wet = cast("set[tuple[int, int]]", _Wet(self))

    def look(self, var: Var) -> Value:
        """What is the case now."""
        value = self.now.get(var)
        if value is None:
            value = self.told.get(var)
            if value is None:
                raise UnknownError(var)
        return value

    def end_field(self, ended: int) -> None:
        """The field is given up from now on, or not."""
        self.now[_FIELD_ENDED] = ended

    def changes(self) -> tuple[tuple[Var, Value], ...]:
        """What is the case now and was not, or was not known to be."""
        return tuple((var, value) for var, value in self.now.items() if self.told.get(var) != value)

    def wearer(self, thing: int) -> int | None:
        """The subject that wears the thing; only what could ever wear it is looked at."""
        for subject in self.scene.wearers.get(thing, ()):
            if thing in self.covers.get(subject, ()):
                return subject
        return None

    def resting_on(self, thing: int) -> list[int]:
        """What rests on the surface whose outside is ``thing``; only what could ever rest there is looked at."""
        found = []
        for surface, items in self.scene.resting.items():
            if surface != thing and surface not in self.scene.coverable:
                continue
            if self.outside(surface) == thing:
                found += [item for item in items if self.look(("rests", item, 0)) == surface]
        return found


class _Levels:
    def __init__(self, world: AskedWorld) -> None:
        self.world = world

    def __getitem__(self, subject: int) -> Value:
        return self.world.look(("level", subject, 0))

    def __setitem__(self, subject: int, level: int) -> None:
        self.world.now["level", subject, 0] = int(level)


class _Covers:
    def __init__(self, world: AskedWorld) -> None:
        self.world = world

    def get(self, subject: int, otherwise: Any = None) -> Any:
        if subject not in self.world.scene.coverable:
            return otherwise
        return self.world.look(("covers", subject, 0)) or otherwise

    def __getitem__(self, subject: int) -> Value:
        return self.world.look(("covers", subject, 0))

    def __setitem__(self, subject: int, stack: tuple[int, ...]) -> None:
        self.world.now["covers", subject, 0] = stack

    def __delitem__(self, subject: int) -> None:
        self.world.now["covers", subject, 0] = ()


class _Places:
    """Where things rest, or at which step they were used last."""

    def __init__(self, world: AskedWorld, kind: str) -> None:
        self.world, self.kind = world, kind

    def pop(self, item: int, _: None = None) -> None:
        self.world.now[self.kind, item, 0] = -1

    def __setitem__(self, item: int, place: int) -> None:
        self.world.now[self.kind, item, 0] = place


class _Wet:
    """The pairs of an item and the step that used it; one ``looked_at`` is all that is seen of them."""

    def __init__(self, world: AskedWorld) -> None:
        self.world = world
        self.looked_at: tuple[int, int] | None = None

    def add(self, pair: tuple[int, int]) -> None:
        self.world.now["wet", pair[0], pair[1]] = 1

    def discard(self, pair: tuple[int, int]) -> None:
        self.world.now["wet", pair[0], pair[1]] = 0

    def __iter__(self) -> Iterator[tuple[int, int]]:
        if self.looked_at is not None and self.world.look(("wet", *self.looked_at)):
            yield self.looked_at

    def clear(self) -> None:
        if self.looked_at is not None:
            self.discard(self.looked_at)
