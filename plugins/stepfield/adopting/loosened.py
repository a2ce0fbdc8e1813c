"""Where a newer baseline guards less than the one before: graded as local changes are, by what each change does."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace

from ..changes.matching import Matching, match
from ..checks.deviations import Effect, grades_of
from ..language.model import Phase, Protocol, ProtocolSet, Requirement
from ..language.names import quoted
from ..language.tailored import Deviation, Reason

_WHOLE = "it is gone as a whole"


@dataclass(frozen=True, slots=True)
class Loosened:
    """One thing that the newer baseline does less of.

    ``what`` is protocol, step, phase, thing or requirement, ``name`` its name in the baseline before; ``field`` is
    empty for the whole of it.
    """

    protocol: str | None
    what: str
    name: str
    field: str
    reason: str

    @property
    def say(self) -> str:
        """It in a few words."""
        where = "" if self.protocol is None or self.what == "protocol" else f" of {quoted(self.protocol)}"
        field = f", {self.field}" if self.field else ""
        return f"{self.what} {quoted(self.name)}{where}{field}: {self.reason}"


def loosened(before: ProtocolSet, now: ProtocolSet) -> Iterator[Loosened]:
    """Everything that is guarded less in the second text than in the first; no place is left out."""
    there = {one.id: one for one in now.protocols}
    for old in before.protocols:
        if old.id in now.unreadable:
            yield Loosened(old.id, "protocol", old.id, "", "it cannot be read, so that nothing is known of it")
        elif old.id not in there:
            yield Loosened(old.id, "protocol", old.id, "", _WHOLE)
        else:
            yield from _in_protocol(match(old, there[old.id]))
    yield from _requirements(before.requirements, now.requirements)


def _in_protocol(matching: Matching) -> Iterator[Loosened]:
    old, new = matching.old, matching.new
    for number, step in enumerate(old.steps):
        other = matching.forth.get(number)
        after = None if other is None else new.steps[other]
        change = Deviation("drop" if after is None else "set", old.id, step.id, step.span, Reason(), step, after)
        for one in grades_of(change):
            if one.effect is Effect.LOOSER:
                yield Loosened(old.id, "step", step.id.value, one.field, one.reason)
    for name, thing in old.subjects.items():
        now = new.subjects.get(matching.thing(name))
        if now is not None and thing.role is None:
            again = replace(now, name=thing.name)
            for one in grades_of(Deviation("thing", old.id, thing.name, thing.name.span, Reason(), thing, again)):
                if one.effect is Effect.LOOSER:
                    yield Loosened(old.id, "thing", name, one.field, one.reason)
    yield from _phases(old, new)


def _phases(old: Protocol, new: Protocol) -> Iterator[Loosened]:
    known = {phase.id.value: phase for phase in new.phases}
    for phase in old.phases:
        if _kinds(phase) - _kinds(known.get(phase.id.value)):
            yield Loosened(old.id, "phase", phase.id.value, "cautions", "a caution is gone")


def _kinds(phase: Phase | None) -> Counter[str]:
    return Counter(one.kind.value for one in phase.cautions) if phase is not None else Counter()


def _requirements(before: tuple[Requirement, ...], now: tuple[Requirement, ...]) -> Iterator[Loosened]:
    known = {one.id.value: one for one in now}
    for old in before:
        new = known.get(old.id.value)
        if new is None:
            yield Loosened(None, "requirement", old.id.value, "", "it is gone")
            continue
        if old.limit is not None and new.limit != old.limit:
            yield from _limit(old, new)


def _limit(old: Requirement, new: Requirement) -> Iterator[Loosened]:
    was, now = old.limit, new.limit
    assert was is not None
    name = old.id.value
    if was.at_least is not None:
        least = None if now is None else now.at_least
        if least is None or least.dimension != was.at_least.dimension or least.base < was.at_least.base:
            yield Loosened(None, "requirement", name, "limit", "what is asked for at least is less, or gone")
    if was.at_most is not None:
        most = None if now is None else now.at_most
        if most is None or most.dimension != was.at_most.dimension or most.base > was.at_most.base:
            yield Loosened(None, "requirement", name, "limit", "what is allowed at most is more, or no longer limited")
