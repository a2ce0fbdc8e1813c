"""A change in a shared text shows in every protocol that uses it; it is told once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from .grades import Grade
from .model import Change, Reviewed


@dataclass(frozen=True, slots=True)
class Shared:
    """A change of one step of a part, and where it shows: pairs of protocol and step."""

    part: str
    change: Change
    grade: Grade
    places: tuple[tuple[str, str], ...]

    @property
    def step(self) -> str:
        """What the step is called in the part itself."""
        return self.change.name.rpartition(".")[2]


def shared_changes(protocols: Iterable[Reviewed]) -> tuple[tuple[Shared, ...], Mapping[int, Shared]]:
    """The changes of steps that several places share; and by the identity of each change what it is shared in."""
    groups: dict[tuple[object, ...], list[tuple[str, Change]]] = {}
    for one in protocols:
        for change in one.changes:
            if change.part is not None:
                groups.setdefault(_key(change), []).append((one.protocol, change))
    shared: list[Shared] = []
    known: dict[int, Shared] = {}
    for found in groups.values():
        if len(found) > 1:
            first = max((change for _, change in found), key=lambda change: change.grade)
            places = tuple((protocol, change.name) for protocol, change in found)
            told = Shared(first.part or "", first, first.grade, places)
            shared.append(told)
            known.update({id(change): told for _, change in found})
    return tuple(shared), known


def _key(change: Change) -> tuple[object, ...]:
    """The same step of the same file, changed in the same fields."""
    return change.path, change.line, change.kind, tuple(detail.field for detail in change.details)
