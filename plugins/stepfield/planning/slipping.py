"""Why no order of a team keeps asepsis: what fails in the one that comes farthest, and what it has to do with roles."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..asepsis.graph import StepGraph
from ..asepsis.trace import cause_of, replay
from ..asepsis.world import Slip, World
from ..language.leaving_out import people_of
from ..language.model import Step
from .orders import Failure, Orders


@dataclass(frozen=True, slots=True)
class Slipping:
    """No order keeps asepsis: the one that comes farthest has a slip at ``step``, or (None) at the end.

    ``rule`` and ``subject`` are those of the finding it would be, ``level`` is the one that was to be kept or reached,
    if that is what fails, ``cause`` the step that brought it about, if one did. ``other`` is a step of one person that
    stands against a second one, ``against``; there that person has the role ``role`` and at the first one
    ``other_role``: what fails comes of one person being both. All four are None if it does not. ``way`` is the order.
    """

    rule: str
    subject: str
    level: str | None
    step: str | None
    cause: str | None
    other: str | None
    other_role: str | None
    against: str | None
    role: str | None
    way: tuple[str, ...]


def slipping(graph: StepGraph, found: Orders, team: Sequence[Sequence[str]]) -> Slipping:
    """The failure that tells most: the farthest one that comes of one person's several roles, or else the farthest."""
    told = [_told(graph, failure, team) for failure in found.failures]
    return next((one for one in told if one.other is not None), told[0])


def _told(graph: StepGraph, failure: Failure, team: Sequence[Sequence[str]]) -> Slipping:
    slip = failure.slip
    cause = cause_of(graph, slip, [(step, None) for step in failure.way])
    here = cause if failure.at_end else slip.step
    other, role = (None, None) if here is None else _other(graph, failure, here, cause, team)
    return Slipping(
        rule=slip.kind,
        subject=slip.subject,
        level=_level(slip),
        step=_name(graph, slip.step),
        cause=_name(graph, cause),
        other=_name(graph, other),
        other_role=None if other is None else str(graph.steps[other].role),
        against=None if other is None else _name(graph, here),
        role=role,
        way=tuple(graph.steps[step].id.value for step in failure.way),
    )


def _level(slip: Slip) -> str | None:
    level = {"needs-not-met": slip.asked, "field-broken": slip.have}.get(slip.kind)
    return None if level is None else level.word


def _name(graph: StepGraph, step: int | None) -> str | None:
    return None if step is None else graph.steps[step].id.value


def _other(
    graph: StepGraph, failure: Failure, here: int, cause: int | None, team: Sequence[Sequence[str]]
) -> tuple[int | None, str | None]:
    """What the same person did before in another role: the cause, or the last step that has to do with what fails.

    Beside it the role in which that person takes part in the step ``here``, or is meant there.
    """
    number, taking_part = graph.number.get(failure.slip.subject, -1), people_of(graph.steps[here])
    meant = graph.subjects[number].role if number >= 0 else None
    if meant is None:
        meant = str(graph.steps[here].role)
    mine = next((own for own in team if meant in own), ())
    named = _named(graph.steps[here])
    roles = [role for role in mine if role in named] or [role for role in mine if role in taking_part] or [meant]
    before = failure.way[: failure.way.index(here)]
    others = {
        step for step in before if str(graph.steps[step].role) in mine and str(graph.steps[step].role) not in roles
    }
    if cause in others:
        return cause, roles[0]
    concerned = {graph.number[f"{meant}.hands"]} | ({number} if number >= 0 else set())
    for moment in reversed(replay(graph, before)):
        then, now = World(graph, moment.before), World(graph, moment.after)
        needed = {need.subject for need in graph.deeds[moment.step].needs}
        if moment.step in others and (
            concerned & needed or any(_standing(then, one) != _standing(now, one) for one in concerned)
        ):
            return moment.step, roles[0]
    return None, None


def _named(step: Step) -> set[str]:
    """The roles whose parts the step asks for or acts on beside the owner's hands; the owner where there are none."""
    words = [need.subject.value for need in step.needs if need.subject.value != f"{step.role}.hands"]
    words += [name.value for effect in step.effects for name in (effect.thing, effect.target) if name is not None]
    return {word.partition(".")[0] for word in words} & people_of(step) or {str(step.role)}


def _standing(world: World, subject: int) -> tuple[int, bool]:
    return world.level(subject), world.is_soiled(world.outside(subject))
