"""Which step answers which requirement, both ways, and where the gaps are. Pure."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from ..language.model import Protocol, ProtocolSet, Requirement, Step
from ..language.quantities import Quantity
from .deviations import guards

AGED_AFTER = 10
"""After so many years a source counts as aged where the set does not say; then it is marked, and no finding."""


@dataclass(frozen=True, slots=True)
class Traced:
    """One requirement with the protocols that adopt it and the steps that answer it.

    ``adopted`` has by protocol the set of requirements through which it does, ``met`` by protocol the numbers of the
    steps, from 0 on.
    """

    requirement: Requirement
    adopted: Mapping[str, str]
    met: Mapping[str, tuple[int, ...]]
    aged: bool

    @property
    def unmet(self) -> tuple[str, ...]:
        """The protocols that adopt it and have no step for it."""
        return tuple(name for name in self.adopted if name not in self.met)

    @property
    def protocols(self) -> tuple[str, ...]:
        """Every protocol that adopts it or has a step for it."""
        return tuple(sorted({*self.adopted, *self.met}))


@dataclass(frozen=True, slots=True)
class Silent:
    """The steps of a protocol that guard somebody and answer no requirement, by number, beside all that guard."""

    protocol: str
    steps: tuple[int, ...]
    guarding: int


@dataclass(frozen=True, slots=True)
class Trace:
    """The whole: requirements in written order, and what rests on none of them."""

    rows: tuple[Traced, ...]
    silent: tuple[Silent, ...]
    protocols: Mapping[str, Protocol]
    aged_after: int

    @property
    def unmet(self) -> tuple[Traced, ...]:
        """What some protocol adopts and has no step for."""
        return tuple(row for row in self.rows if row.unmet)

    @property
    def unadopted(self) -> tuple[Traced, ...]:
        """What no protocol adopts."""
        return tuple(row for row in self.rows if not row.adopted)

    @property
    def aged(self) -> tuple[Traced, ...]:
        """What rests on a source that is older than the set age."""
        return tuple(row for row in self.rows if row.aged)


def trace(protocol_set: ProtocolSet, today: datetime.date) -> Trace:
    """Traces a set: from requirements to steps. What cannot be read as a protocol is not in it."""
    years = protocol_set.aged_after or AGED_AFTER
    adopted: dict[str, dict[str, str]] = {}
    met: dict[str, dict[str, list[int]]] = {}
    for protocol in protocol_set.protocols:
        for chosen in protocol.evidence:
            for member in protocol_set.sets.get(chosen.value, ()):
                adopted.setdefault(member.value, {}).setdefault(protocol.id, chosen.value)
        for number, step in enumerate(protocol.steps):
            for name in dict.fromkeys(one.value for one in step.meets):
                met.setdefault(name, {}).setdefault(protocol.id, []).append(number)
    rows = tuple(
        Traced(
            one,
            adopted.get(one.id.value, {}),
            {protocol: tuple(steps) for protocol, steps in met.get(one.id.value, {}).items()},
            is_aged(one, today, years),
        )
        for one in protocol_set.requirements
    )
    return Trace(rows, tuple(_silent(protocol_set.protocols)), {one.id: one for one in protocol_set.protocols}, years)


def of_protocol(whole: Trace, protocol: str) -> Trace:
    """What one protocol adopts or answers; the others are left out."""
    rows = tuple(
        replace(
            row,
            adopted={name: chosen for name, chosen in row.adopted.items() if name == protocol},
            met={name: steps for name, steps in row.met.items() if name == protocol},
        )
        for row in whole.rows
        if protocol in row.protocols
    )
    silent = tuple(one for one in whole.silent if one.protocol == protocol)
    return replace(whole, rows=rows, silent=silent, protocols={protocol: whole.protocols[protocol]})


def kept_by(step: Step, requirement: str) -> Quantity | None:
    """The value with which a step answers a requirement, where it says one."""
    return next((one.amount for one in step.keeps if one.requirement.value == requirement), None)


def is_aged(requirement: Requirement, today: datetime.date, years: int) -> bool:
    """Whether a source is more than so many years old; one without a year is not known to be."""
    return requirement.year is not None and today.year - requirement.year > years


def tables(rows: tuple[Traced, ...]) -> Iterator[tuple[Traced, ...]]:
    """The rows as people read them: a requirement alone, or all cases of one table together."""
    group: list[Traced] = []
    for row in rows:
        if group and (row.requirement.table is None or row.requirement.table != group[-1].requirement.table):
            yield tuple(group)
            group = []
        group.append(row)
    if group:
        yield tuple(group)


def _silent(protocols: tuple[Protocol, ...]) -> Iterator[Silent]:
    for protocol in protocols:
        steps = protocol.steps
        guarding = [number for number, step in enumerate(steps) if guards(step)]
        silent = tuple(number for number in guarding if not steps[number].meets)
        yield Silent(protocol.id, silent, len(guarding))
