"""A whole step, and the end of a protocol: what is judged, what changes, and in which order."""

from __future__ import annotations

from .doing import Doing
from .effects import ACTS
from .graph import Deed, StepGraph
from .world import Slip, World


def do_step(graph: StepGraph, deed: Deed, world: World) -> list[Slip]:
    """Lets one step happen in ``world`` (changed in place) and tells what went wrong, in the order it did.

    First drying waits end, then what the step requires and needs is judged, then the effects happen in their fixed
    order, then facts change and the field may be ended.
    """
    doing = Doing(graph, deed, world)
    if world.wet:
        world.wet = {(item, used_at) for item, used_at in world.wet if used_at not in deed.dries}
    for fact, name, span in deed.requires:
        if not world.facts >> fact & 1:
            doing.slip("fact-missing", name, span)
            world.facts |= 1 << fact
    for need in deed.needs:
        doing.need(need.subject, need.level, need.span)
    if deed.ignition:
        judge_ignition(doing)
    for bound in deed.effects:
        ACTS[bound.field](doing, bound)
    world.facts = (world.facts | deed.confirms) & ~deed.withdraws
    world.field_ended |= int(deed.ends_field)
    return doing.slips


def judge_ignition(doing: Doing) -> None:
    """A spark meets whatever is still wet; carries on as if it had dried."""
    step = doing.graph.steps[doing.deed.number]
    for item, used_at in sorted(doing.world.wet):
        doing.slip("fire-risk", doing.name(item), step.id.span, by=doing.graph.steps[used_at].id.value)
    doing.world.wet.clear()


def end_slips(graph: StepGraph, world: World) -> list[Slip]:
    """What is wrong with a world in which the protocol has ended."""
    slips = [slip for number in range(len(graph.subjects)) for slip in left_behind(graph, world, number)]
    return slips + [uncounted(graph, item, step) for item, step in sorted(world.pending.items())]


def left_behind(graph: StepGraph, world: World, number: int) -> list[Slip]:
    """What is wrong with one subject in a world in which the protocol has ended."""
    slips, subject = [], graph.subjects[number]
    name, span = subject.name.value, subject.name.span
    if world.is_soiled(number) and not world.is_gone(number):
        slips.append(Slip("left-soiled", None, name, span))
    stack = world.covers.get(number, ())
    if stack and subject.role is None:
        slips.append(Slip("left-on", None, name, span, by=graph.subjects[stack[-1]].name.value))
    elif stack:
        worn = (graph.subjects[item].name for item in stack)
        slips += [Slip("left-on", None, item.value, item.span, by=name) for item in worn]
    if subject.sharp and not world.in_pack(number) and not world.is_gone(number):
        slips.append(Slip("sharp-loose", None, name, span))
    return slips


def uncounted(graph: StepGraph, item: int, step: int) -> Slip:
    """An item that was not counted any more after its last use, at a step."""
    return Slip("count-missing", step, graph.subjects[item].name.value, graph.steps[step].id.span, by="after")
