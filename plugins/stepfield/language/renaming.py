"""Turning the names in a part's steps into the names they have in the protocol that uses it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from .model import Condition, Effect, Need, Repeat, Step, Wait
from .source import Span, Text
from .steps import Line


@dataclass(frozen=True, slots=True)
class Part:
    """A part as written: ``binds`` are the names its user binds, each with the kind of thing it stands for.

    ``declared`` are the same names with their places.
    """

    id: str
    path: str
    title: Text
    binds: Mapping[str, str]
    declared: tuple[Text, ...]
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class Around:
    """What surrounds the lines being unfolded: their prefix, what bound names stand for, and the uses outside."""

    prefix: str = ""
    part: Part | None = None
    bound: Mapping[str, Text | None] = field(default_factory=dict)
    when: tuple[Condition, ...] = ()
    after: tuple[Text, ...] = ()
    used_at: tuple[Span, ...] = ()
    chain: tuple[str, ...] = ()


class Renaming:
    """Turns the names of a part's step into the names they have in the protocol; ``met`` are the bound ones met."""

    def __init__(self, around: Around, local: frozenset[str]) -> None:
        self.around = around
        self.local = local
        self.met: set[str] = set()

    def any(self, name: Text) -> Text:
        """A name that may be bound as a whole, or in its first piece (``who.hands``)."""
        bound = self.around.bound
        whole = bound.get(name.value)
        if whole is not None:
            self.met.add(name.value)
            return Text(whole.value, name.span)
        head, dot, rest = name.value.partition(".")
        first = bound.get(head) if dot else None
        if first is None:
            return name
        self.met.add(head)
        return Text(f"{first}.{rest}", name.span)

    def fact(self, name: Text) -> Text:
        """A fact: bound as a whole only where the part binds a fact."""
        part = self.around.part
        if part and name.value in part.binds and part.binds[name.value] != "fact":
            return name
        return self.any(name)

    def place(self, name: Text) -> Text:
        """The name of a step or use: one of the part's own gets the prefix."""
        head = name.value.partition(".")[0]
        return Text(self.around.prefix + name.value, name.span) if head in self.local and self.around.prefix else name

    def condition(self, condition: Condition) -> Condition:
        """A condition on a choice of the protocol or on a step."""
        return replace(condition, name=self.place(condition.name))

    def step(self, step: Step) -> Step:
        """The step as it stands in the protocol."""
        around = self.around
        assert around.part is not None
        return replace(
            step,
            id=Text(around.prefix + step.id.value, step.id.span),
            role=step.role and self.any(step.role),
            helpers=tuple(map(self.any, step.helpers)),
            after=around.after + tuple(map(self.place, step.after)),
            when=around.when + tuple(map(self.condition, step.when)),
            needs=tuple(Need(self.any(need.subject), need.level) for need in step.needs),
            requires=tuple(map(self.fact, step.requires)),
            effects=tuple(map(self.effect, step.effects)),
            confirms=tuple(map(self.fact, step.confirms)),
            withdraws=tuple(map(self.fact, step.withdraws)),
            repeat=step.repeat and Repeat(self.place(step.repeat.start), step.repeat.answer),
            waits=tuple(Wait(self.place(wait.step), wait.seconds) for wait in step.waits),
            within=tuple(Wait(self.place(wait.step), wait.seconds) for wait in step.within),
            records=tuple(map(self.any, step.records)),
            used_at=around.used_at,
            part=around.part.id,
        )

    def effect(self, effect: Effect) -> Effect:
        """The effect on the things that bound names stand for."""
        return replace(effect, thing=self.any(effect.thing), target=effect.target and self.any(effect.target))
