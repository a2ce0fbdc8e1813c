"""What of a protocol can have a bearing on some of its slips: the steps, the things they look at, and nothing else.

From the slips asked about, backwards: a way a step can go matters if it makes such a slip or changes something that
matters; what such ways look at matters too, as far as it decides between them. Steps without any such way may be left
out, as what is left is still ordered as it was: every order of the rest is part of an order of the whole.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from .asked_world import Value, Var
from .criterion import FirstLook, own_key
from .ways import OneWay, Outcome
from .world import SlipKey

Rows = tuple[tuple[OneWay, ...], ...]
"""The ways of a step, part by part."""


@dataclass(frozen=True, slots=True)
class Cone:
    """For each step that matters (and the end, one more than the last) its ways, and the values that things may have.

    Steps that do the same to what matters have equal rows.
    """

    look: FirstLook
    rows: dict[int, Rows]
    values: dict[Var, tuple[Value, ...]]

    @property
    def steps(self) -> list[int]:
        """The steps that matter."""
        return sorted(step for step in self.rows if step < len(self.look.graph.steps))


def cone_of(look: FirstLook, asked: Collection[SlipKey]) -> Cone:
    """All that has a bearing on the slips asked about."""
    matters: set[Var] = set()
    while True:
        rows = {step: _rows(look, step, asked, matters) for step in range(len(look.rows))}
        read = {var for some in rows.values() for part in some for way in part for var, _ in way.reads}
        if read <= matters:
            break
        matters |= read
    values: dict[Var, dict[Value, None]] = {var: {look.scene.at_first(var): None} for var in sorted(matters)}
    for some in rows.values():
        for part in some:
            for way in part:
                for var, value in way.outcome.changes:
                    values[var][value] = None
    told = {step: some for step, some in rows.items() if any(_does_something(part) for part in some)}
    return Cone(look, told, {var: tuple(some) for var, some in values.items()})


def _rows(look: FirstLook, step: int, asked: Collection[SlipKey], matters: Collection[Var]) -> Rows:
    parts = []
    for ways in look.rows[step]:
        told = [
            OneWay(
                way.reads,
                Outcome(
                    tuple(change for change in way.outcome.changes if change[0] in matters),
                    tuple(key for key in way.outcome.slips if own_key(look.graph, step, key) in asked),
                ),
            )
            for way in ways
        ]
        parts.append(tuple(_joined(told, 0)))
    return tuple(part for part in parts if _does_something(part))


def _does_something(ways: Collection[OneWay]) -> bool:
    return any(way.outcome.changes or way.outcome.slips for way in ways)


def _joined(ways: list[OneWay], depth: int) -> list[OneWay]:
    """The ways with no more looked at than decides between them; all agree on what was seen up to the depth."""
    if all(way.outcome == ways[0].outcome for way in ways):
        return [OneWay((), ways[0].outcome)] if ways else []
    var = ways[0].reads[depth][0]
    by_value: dict[Value, list[OneWay]] = {}
    for way in ways:
        by_value.setdefault(way.reads[depth][1], []).append(way)
    below = [(value, _joined(some, depth + 1)) for value, some in by_value.items()]
    if all(some == below[0][1] for _, some in below):
        return below[0][1]
    return [OneWay(((var, value), *way.reads), way.outcome) for value, some in below for way in some]
