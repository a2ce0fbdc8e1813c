"""From what the engine saw to what a rule reports: one helper for every rule that judges orders of steps."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property

from ..asepsis import Moment, Occurrence, StepGraph, World, replay
from ..language.model import Step
from ..language.source import Span
from .facts import Examined, Facts
from .finding import Cause, Finding, Note, Severity
from .rule import Rule
from .words import Naming, sentence


@dataclass(frozen=True, slots=True)
class Told:
    """What a rule says of one slip: one sentence, and what to do about it."""

    message: str
    advice: str


class Setting:
    """One examined protocol, with what rules ask of it worked out when first asked for."""

    def __init__(self, examined: Examined, facts: Facts) -> None:
        self.examined = examined
        self.protocol, self.order, self.steps = examined.protocol, examined.order, examined.protocol.steps
        self.naming = Naming(examined.protocol, facts.protocol_set.clinic)

    @cached_property
    def ancestors(self) -> tuple[int, ...]:
        """For every step the mask of the steps that always come before it."""
        return self.order.ancestors()

    def comes_before(self, earlier: int, later: int) -> bool:
        """Whether one step comes before the other in every order."""
        return bool(self.ancestors[later] >> earlier & 1)

    def are_free(self, one: int, other: int) -> bool:
        """Whether two steps may happen either way round."""
        return one != other and not self.comes_before(one, other) and not self.comes_before(other, one)

    def steps_where(self, wanted: Callable[[Step], bool]) -> tuple[int, ...]:
        """The numbers of the steps of some kind, in written order."""
        return tuple(number for number, step in enumerate(self.steps) if wanted(step))


class Case:
    """One slip in its setting: the step, the words for it, and the witness replayed."""

    def __init__(self, setting: Setting, graph: StepGraph, occurrence: Occurrence) -> None:
        self.setting, self.graph, self.occurrence = setting, graph, occurrence
        self.slip, self.naming = occurrence.slip, setting.naming

    @property
    def number(self) -> int:
        """The number of the failing step. Raises ValueError for a slip of the end."""
        if self.slip.step is None:
            raise ValueError("a slip of the end has no step")
        return self.slip.step

    @property
    def step(self) -> Step:
        """The failing step. Raises ValueError for a slip of the end."""
        return self.setting.steps[self.number]

    @property
    def cause(self) -> Step | None:
        """The step that brought the slip about, if one did."""
        return None if self.occurrence.cause is None else self.setting.steps[self.occurrence.cause]

    @cached_property
    def span(self) -> Span:
        """Where the finding stands; for a slip of the end, what brought it about, else the declaration."""
        if self.slip.step is not None:
            ends = (effect.target for effect in self.step.effects if effect.thing.span == self.slip.span)
            named = (name.span for name in ends if name is not None and name.value == self.slip.subject)
            return next(named, self.slip.span)
        if self.cause is None:
            return self.slip.span
        names = (self.slip.subject, self.slip.by, self.setting.protocol.subjects[self.slip.subject].held_in)
        naming = (
            effect.thing.span
            for effect in self.cause.effects
            if effect.thing.value in names or (effect.target is not None and effect.target.value in names)
        )
        return next(naming, self.cause.id.span)

    @cached_property
    def moments(self) -> list[Moment]:
        """The witness, replayed."""
        return replay(self.graph, [step for step, _ in self.occurrence.witness])

    def since(self, holds: Callable[[World], bool]) -> Step | None:
        """The last step before the failing one at which something began to hold; None if it held from the start."""
        for moment in reversed(self.moments[:-1]):
            if holds(World(self.graph, moment.after)) and not holds(World(self.graph, moment.before)):
                return self.setting.steps[moment.step]
        return None

    def say(self, text: str) -> str:
        """The sentence, told as what always happens or as what happens in some orders."""
        return sentence(text if self.occurrence.always else f"in some orders {text}")


Tell = Callable[[Case], Told]


def slip_rule(name: str, page: str, tell: Tell) -> Rule:
    """The rule that reports the engine's slips of the kind ``name``, each in the words of ``tell``."""

    def check(facts: Facts) -> Iterator[Finding]:
        for examined in facts.examined:
            if examined.proof is None:
                continue
            found = [seen for seen in examined.proof.occurrences if seen.slip.kind == name]
            setting = Setting(examined, facts)
            for seen in found:
                yield _finding(name, Case(setting, examined.proof.graph, seen), tell)

    return Rule(name, Severity.ERROR, check, page)


def _finding(rule: str, case: Case, tell: Tell) -> Finding:
    told, occurrence, steps = tell(case), case.occurrence, case.setting.steps
    place = case.cause if case.slip.step is None else case.step
    return Finding(
        rule=rule,
        severity=Severity.ERROR,
        span=case.span,
        message=told.message,
        protocol=case.setting.protocol.id,
        step=None if case.slip.step is None else case.step.id.value,
        subject=case.slip.subject,
        advice=told.advice,
        cause=None if case.cause is None else Cause(case.cause.id.value, case.cause.id.span),
        related=() if place is None else used_here(place),
        scenarios=occurrence.scenarios,
        always=occurrence.always,
        witness=tuple(steps[number].id.value for number, _ in occurrence.witness),
        shortest=occurrence.shortest,
    )


def used_here(step: Step) -> tuple[Note, ...]:
    """For a step of a part: where the protocol uses it, outermost first."""
    return tuple(Note(span, "used here") for span in step.used_at)


def occurrence_of(finding: Finding, examined: Examined) -> Occurrence | None:
    """What the engine saw of a finding, if it came from there."""
    if examined.proof is None or not finding.scenarios:
        return None
    steps = examined.protocol.steps
    for seen in examined.proof.occurrences:
        step = None if seen.slip.step is None else steps[seen.slip.step].id.value
        if (seen.slip.kind, step, seen.slip.subject) == (finding.rule, finding.step, finding.subject):
            return seen
    return None
