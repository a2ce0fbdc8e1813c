"""Replaying an order step by step, to show what it shows and to find the step that brought a slip about."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from .graph import StepGraph
from .happen import do_step, end_slips
from .world import Packed, Slip, World


@dataclass(frozen=True, slots=True)
class Moment:
    """One step of a replayed order, with the world just before and just after it and the slips it shows."""

    step: int
    before: Packed
    after: Packed
    slips: tuple[Slip, ...]


def replay(graph: StepGraph, steps: Iterable[int]) -> list[Moment]:
    """Lets the steps happen one after the other, in the order told, whether or not the protocol allows it."""
    world, moments = World(graph), []
    for step in steps:
        before = world.pack()
        slips = do_step(graph, graph.deeds[step], world)
        moments.append(Moment(step, before, world.pack(), tuple(slips)))
    return moments


def slips_at_end(graph: StepGraph, moments: list[Moment]) -> list[Slip]:
    """What is wrong if the protocol ends after a replayed order."""
    return end_slips(graph, World(graph, moments[-1].after if moments else None))


def cause_of(graph: StepGraph, slip: Slip, witness: Iterable[tuple[int, str | None]]) -> int | None:
    """The step that brought a slip about, found by replaying its witness; None if it was so from the start."""
    if slip.kind in ("field-broken", "skin-exposed"):
        return slip.step
    moments = replay(graph, [step for step, _ in witness])
    if slip.step is not None and slip.kind != "count-missing":
        moments = moments[:-1]
    happened = _HAPPENED.get(slip.kind)
    if happened is None:
        return None
    for moment in reversed(moments):
        before, after = World(graph, moment.before), World(graph, moment.after)
        if happened(graph, slip, before, after):
            return moment.step
    return None


def _fell(graph: StepGraph, slip: Slip, before: World, after: World) -> bool:
    subject = graph.number[slip.subject]
    return before.level(subject) > after.level(subject)


def _left(graph: StepGraph, slip: Slip, before: World, after: World) -> bool:
    thing = graph.number[slip.subject]
    if after.is_gone(thing):
        return not before.is_gone(thing)
    worn = after.wearer(thing)
    return worn is not None and before.wearer(thing) != worn


def _withdrawn(graph: StepGraph, slip: Slip, before: World, after: World) -> bool:
    fact = graph.facts.index(slip.subject)
    return bool(before.facts >> fact & 1) and not after.facts >> fact & 1


def _came_off(graph: StepGraph, slip: Slip, before: World, after: World) -> bool:
    thing = graph.number[slip.subject]
    worn_before, worn_after = before.wearer(thing), after.wearer(thing)
    if worn_before is not None and worn_after is None:
        return True
    return len(before.covers.get(thing, ())) > len(after.covers.get(thing, ()))


def _was_soiled(graph: StepGraph, slip: Slip, before: World, after: World) -> bool:
    thing = graph.number[slip.subject]
    return after.is_soiled(thing) and not before.is_soiled(thing)


def _was_put_on(graph: StepGraph, slip: Slip, before: World, after: World) -> bool:
    thing = graph.number[slip.subject]
    covered = len(after.covers.get(thing, ())) > len(before.covers.get(thing, ()))
    return covered or (after.wearer(thing) is not None and before.wearer(thing) is None)


def _became_loose(graph: StepGraph, slip: Slip, before: World, after: World) -> bool:
    thing = graph.number[slip.subject]
    return before.in_pack(thing) and not after.in_pack(thing)


def _was_used_wet(graph: StepGraph, slip: Slip, before: World, after: World) -> bool:
    return any(item == graph.number[slip.subject] for item, _ in after.wet - before.wet)


_HAPPENED: dict[str, Callable[[StepGraph, Slip, World, World], bool]] = {
    "needs-not-met": _fell,
    "not-available": _left,
    "fact-missing": _withdrawn,
    "cover-missing": _came_off,
    "left-soiled": _was_soiled,
    "left-on": _was_put_on,
    "sharp-loose": _became_loose,
    "fire-risk": _was_used_wet,
}
