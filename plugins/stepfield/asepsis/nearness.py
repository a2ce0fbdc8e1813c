"""Which subjects can have to do with one another at all: what may ever cover what, and what may ever rest where."""

from __future__ import annotations

from dataclasses import dataclass

from .effects import SCOPES
from .graph import StepGraph
from .order import bits


@dataclass(frozen=True, slots=True)
class Nearness:
    """For each subject, as a mask, itself and what is near it.

    ``covers`` holds what may cover it or be covered by it, ``all`` also what may rest on any of these.
    """

    covers: tuple[int, ...]
    all: tuple[int, ...]


def nearness_of(graph: StepGraph) -> Nearness:
    """Read from every effect of every step, whatever the order."""
    covers = [1 << number for number in range(len(graph.subjects))]
    rests = list(covers)
    for deed in graph.deeds:
        for effect in deed.effects:
            scope = SCOPES[effect.field]
            if scope.layers and effect.target >= 0:
                _join(covers, effect.thing, effect.target)
            elif scope.dresses:
                place = graph.subjects[effect.thing].worn_on or "hands"
                _join(covers, graph.parts[deed.owner, place], effect.thing)
            if scope.rests:
                rests[effect.target] |= 1 << effect.thing
    both = [covers[number] | rests[number] for number in range(len(covers))]
    return Nearness(_closed(covers), _closed(both))


def _join(near: list[int], one: int, other: int) -> None:
    near[one] |= 1 << other
    near[other] |= 1 << one


def _closed(near: list[int]) -> tuple[int, ...]:
    return tuple(_reach(near, number) for number in range(len(near)))


def _reach(near: list[int], start: int) -> int:
    found, left = 1 << start, near[start]
    while left & ~found:
        new = left & ~found
        found |= new
        for number in bits(new):
            left |= near[number]
    return found
