"""A protocol made ready for the engine: names become small numbers, sets become bit masks."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from ..language.model import PERSON_PARTS, Effect, Level, Protocol, Requirement, Step, Subject
from ..language.source import Span, Text
from .order import Order, order_of


@dataclass(frozen=True, slots=True)
class BoundNeed:
    """``subject`` must be at least at ``level``."""

    subject: int
    level: Level
    span: Span


@dataclass(frozen=True, slots=True)
class BoundEffect:
    """One effect with its names bound to subject numbers; ``target`` is -1 where the field has none."""

    field: str
    thing: int
    target: int
    level: Level | None
    span: Span


@dataclass(frozen=True, slots=True)
class BoundCondition:
    """Either a choice (settled before the case) or, when ``question`` is not None, an answer given during it."""

    choice: str | None
    question: int | None
    options: frozenset[str]


@dataclass(frozen=True, slots=True)
class Deed:
    """What the engine knows of one step. ``dries`` are the steps whose drying wait is over once this one starts."""

    number: int
    owner: str
    hands: int
    needs: tuple[BoundNeed, ...]
    requires: tuple[tuple[int, str, Span], ...]
    effects: tuple[BoundEffect, ...]
    confirms: int
    withdraws: int
    dries: frozenset[int]
    ignition: bool
    ends_field: bool


@dataclass(frozen=True, slots=True, eq=False)
class StepGraph:
    """A protocol as a graph of steps, with everything the exploration asks for already worked out.

    ``parts`` maps a (role, part) pair to its subject number. ``conditions[i]`` must all hold or step *i* is skipped.
    ``tracked`` are the steps whose answers some condition looks at.
    """

    protocol: Protocol
    order: Order
    steps: tuple[Step, ...]
    index: Mapping[str, int]
    subjects: tuple[Subject, ...]
    number: Mapping[str, int]
    parts: Mapping[tuple[str, str], int]
    facts: tuple[str, ...]
    deeds: tuple[Deed, ...]
    conditions: tuple[tuple[BoundCondition, ...], ...]
    tracked: tuple[int, ...]
    repeats: Mapping[int, tuple[str, int]]
    """Asking step -> (the answer that repeats, mask of the steps undone by it)."""


def compile_protocol(protocol: Protocol, requirements: Iterable[Requirement] = ()) -> StepGraph:
    """Compiles a protocol whose names are resolved and whose steps all have an owner of the team.

    Where one person has several roles, the parts of all of them are those of the first: one pair of hands. The order of
    steps is that of the roles all the same: in which order one person does what two roles do is as free as it was.
    Raises ValueError if a step has no owner or names a thing the protocol does not have.
    """
    steps = protocol.steps
    subjects = tuple(protocol.subjects.values())
    number = {subject.name.value: position for position, subject in enumerate(subjects)}
    acting = {role.value: person.roles[0].value for person in protocol.people for role in person.roles}
    number |= {f"{role}.{part}": number[f"{first}.{part}"] for role, first in acting.items() for part in PERSON_PARTS}
    index = {step.id.value: position for position, step in enumerate(steps)}
    order = order_of(protocol)
    facts = tuple(
        dict.fromkeys(name.value for step in steps for name in (*step.requires, *step.confirms, *step.withdraws))
    )
    limits = {requirement.id.value: requirement.at_least or 0.0 for requirement in requirements}
    conditions = tuple(_conditions(step, index, protocol) for step in steps)
    return StepGraph(
        protocol=protocol,
        order=order,
        steps=steps,
        index=index,
        subjects=subjects,
        number=number,
        parts={
            (subject.role, subject.name.value.rpartition(".")[2]): number[subject.name.value]
            for subject in subjects
            if subject.role is not None
        },
        facts=facts,
        deeds=tuple(_deed(at, steps, number, index, facts, limits, acting) for at in range(len(steps))),
        conditions=conditions,
        tracked=tuple(sorted({part.question for parts in conditions for part in parts if part.question is not None})),
        repeats=_repeats(steps, order, index),
    )


def _facts_of(step: Step) -> Iterable[Text]:
    return (*step.requires, *step.confirms, *step.withdraws)


def _conditions(step: Step, index: Mapping[str, int], protocol: Protocol) -> tuple[BoundCondition, ...]:
    choices = {choice.id.value for choice in protocol.choices}
    bound = []
    for condition in step.when:
        name, options = condition.name.value, frozenset(option.value for option in condition.options)
        if name in choices:
            bound.append(BoundCondition(name, None, options))
        elif name in index:
            bound.append(BoundCondition(None, index[name], options))
    return tuple(bound)


def _deed(
    position: int,
    steps: tuple[Step, ...],
    number: Mapping[str, int],
    index: Mapping[str, int],
    facts: tuple[str, ...],
    limits: Mapping[str, float],
    acting: Mapping[str, str],
) -> Deed:
    step = steps[position]
    if step.role is None or f"{step.role}.{PERSON_PARTS[0]}" not in number:
        raise ValueError(f"step {step.id} has no owner in the team")
    owner = acting.get(step.role.value, step.role.value)
    return Deed(
        number=position,
        owner=owner,
        hands=number[f"{owner}.hands"],
        needs=tuple(
            BoundNeed(_known(number, need.subject.value), need.level, need.subject.span) for need in step.needs
        ),
        requires=tuple((facts.index(name.value), name.value, name.span) for name in step.requires),
        effects=tuple(_bind(effect, number) for effect in step.effects),
        confirms=_mask(facts, step.confirms),
        withdraws=_mask(facts, step.withdraws),
        dries=frozenset(_dried(step, steps, index, limits)),
        ignition=step.ignition,
        ends_field=step.ends_field,
    )


def _bind(effect: Effect, number: Mapping[str, int]) -> BoundEffect:
    target = -1
    if effect.target is not None:
        # A role as the target stands for its hands.
        hands = f"{effect.target}.hands"
        target = number[hands] if hands in number else _known(number, effect.target.value)
    return BoundEffect(effect.field, _known(number, effect.thing.value), target, effect.level, effect.thing.span)


def _known(number: Mapping[str, int], name: str) -> int:
    if name not in number:
        raise ValueError(f"{name!r} is declared nowhere")
    return number[name]


def _mask(facts: tuple[str, ...], names: Iterable[object]) -> int:
    mask = 0
    for name in names:
        mask |= 1 << facts.index(str(name))
    return mask


def _dried(step: Step, steps: tuple[Step, ...], index: Mapping[str, int], limits: Mapping[str, float]) -> Iterable[int]:
    """The steps this one waits for long enough: as long as every time limit asks that the earlier step meets."""
    for wait in step.waits:
        if wait.step.value in index:
            earlier = index[wait.step.value]
            asked = max((limits.get(name.value, 0.0) for name in steps[earlier].meets), default=0.0)
            if wait.seconds >= asked:
                yield earlier


def _repeats(steps: tuple[Step, ...], order: Order, index: Mapping[str, int]) -> dict[int, tuple[str, int]]:
    repeats = {}
    for position, step in enumerate(steps):
        if step.repeat is None or step.role is None or step.repeat.start.value not in index:
            continue
        lane, start = order.lanes[step.role.value], index[step.repeat.start.value]
        if start in lane and start <= position and order.phase_of[start] == order.phase_of[position]:
            undone = sum(1 << other for other in lane if start <= other <= position)
            repeats[position] = (step.repeat.answer.value, undone)
    return repeats
