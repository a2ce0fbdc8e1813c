"""What somebody could do wrong while editing: leave a step out, forget its wait, put it elsewhere in its phase."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path

from stepfield.asepsis import order_of
from stepfield.checks import Finding, Severity, check_set
from stepfield.language import read_set
from stepfield.language.model import Phase, Protocol, ProtocolSet, Step

DEMONSTRATION = Path(__file__).resolve().parents[2] / "protocols"
TODAY = datetime.date(2026, 11, 25)
"""A day on which the set is approved and its review not yet due."""

DELETED, UNTIED, FIRST, LAST = "deleted", "without its after", "moved to the start", "moved to the end"


@cache
def demonstration() -> ProtocolSet:
    """The demonstration set, read once."""
    return read_set(DEMONSTRATION, "protocols")


@cache
def protocol(name: str) -> Protocol:
    """One protocol of the demonstration set."""
    return next(one for one in demonstration().protocols if one.id == name)


def errors_of(changed: Protocol) -> tuple[Finding, ...]:
    """The errors found in a changed protocol, within its set."""
    report = check_set(replace(demonstration(), protocols=(changed,)), TODAY)
    return tuple(finding for finding in report.findings if finding.severity is Severity.ERROR)


def bears_safety(step: Step) -> bool:
    """Whether a step cleans, covers, counts, confirms, or waits for somebody else."""
    return bool(
        step.confirms or step.after or {effect.field for effect in step.effects} & {"makes", "covers", "counts"}
    )


def changes_of(whole: Protocol, step: str) -> Iterator[tuple[str, Protocol]]:
    """Every change of one step by its name; those that leave the order of every lane as it was are none."""
    yield DELETED, without(whole, step)
    if any(one.after for one in whole.steps if one.id.value == step):
        yield UNTIED, untied(whole, step)
    for name, end in ((FIRST, False), (LAST, True)):
        changed = moved(whole, step, to_end=end)
        if _lanes(changed) != _lanes(whole):
            yield name, changed


def without(whole: Protocol, step: str) -> Protocol:
    """The protocol without one step, and without a word about it in the others."""
    phases = (
        replace(phase, steps=tuple(_forgetting(one, step) for one in phase.steps if one.id.value != step))
        for phase in whole.phases
    )
    return replace(whole, phases=tuple(phase for phase in phases if phase.steps))


def untied(whole: Protocol, step: str) -> Protocol:
    """The protocol with the ``after`` of one step forgotten."""
    return with_step(whole, step, lambda one: replace(one, after=()))


def with_step(whole: Protocol, step: str, change: Callable[[Step], Step]) -> Protocol:
    """The protocol with one step changed."""
    phases = (
        replace(phase, steps=tuple(change(one) if one.id.value == step else one for one in phase.steps))
        for phase in whole.phases
    )
    return replace(whole, phases=tuple(phases))


def moved(whole: Protocol, step: str, *, to_end: bool) -> Protocol:
    """The protocol with one step written as the first or the last of its phase."""
    return replace(whole, phases=tuple(_with_moved(phase, step, to_end) for phase in whole.phases))


def _with_moved(phase: Phase, step: str, to_end: bool) -> Phase:
    chosen = tuple(one for one in phase.steps if one.id.value == step)
    others = tuple(one for one in phase.steps if one.id.value != step)
    return replace(phase, steps=others + chosen if to_end else chosen + others)


def _forgetting(one: Step, step: str) -> Step:
    return replace(
        one,
        after=tuple(name for name in one.after if name.value != step),
        when=tuple(condition for condition in one.when if condition.name.value != step),
        waits=tuple(wait for wait in one.waits if wait.step.value != step),
        within=tuple(limit for limit in one.within if limit.step.value != step),
        repeat=None if one.repeat is not None and one.repeat.start.value == step else one.repeat,
    )


def _lanes(whole: Protocol) -> dict[str, list[list[str]]]:
    """The steps of every role, phase by phase."""
    order = order_of(whole)
    names = [step.id.value for step in whole.steps]
    lanes: dict[str, list[list[str]]] = {role: [[] for _ in whole.phases] for role in order.lanes}
    for role, lane in order.lanes.items():
        for number in lane:
            lanes[role][order.phase_of[number]].append(names[number])
    return lanes
