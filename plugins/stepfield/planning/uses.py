"""Which things a protocol needs: the steps that name each, and what depends on what is chosen before the case. Pure."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from ..language.model import Choice, Condition, Protocol, Step

MOST_WAYS = 64
"""More combinations than these are not gone through."""
Picked = tuple[tuple[str, str], ...]
"""Choices that are settled, as (choice, option) in their written order."""


@dataclass(frozen=True, slots=True)
class Way:
    """One settling of the choices that make a difference, as (choice, option) in their written order."""

    picked: Picked

    @property
    def options(self) -> tuple[str, ...]:
        """The options alone."""
        return tuple(option for _, option in self.picked)


class Uses:
    """The uses of every thing of one protocol; steps are told by their numbers from 0.

    ``used`` maps a name to the steps that name it, ``needed`` to those that put it to use or, where none does, name
    it; ``opened`` a pack to the steps that open it.
    """

    def __init__(self, protocol: Protocol) -> None:
        self.protocol, self.steps = protocol, protocol.steps
        self.index: dict[str, int] = {}
        for number, step in enumerate(self.steps):
            self.index.setdefault(step.id.value, number)
        self.choices = {choice.id.value: choice for choice in protocol.choices}
        self.used = _by_name(self.steps, named)
        self.needed = self.used | _by_name(self.steps, put_to_use)
        self.opened = _by_name(self.steps, opened)

    @property
    def too_many(self) -> bool:
        """Whether there are more combinations of the choices than are gone through."""
        return math.prod(len(choice.options) for choice in self.protocol.choices) > MOST_WAYS

    def possible(self, picked: Mapping[str, str]) -> frozenset[int]:
        """The steps that may be done when these choices are settled so; an answer may always be any."""
        known: dict[int, bool] = {}

        def met(condition: Condition) -> bool:
            name, options = condition.name.value, {option.value for option in condition.options}
            if name in self.choices:
                return picked.get(name) is None or picked[name] in options
            asking = self.index.get(name)
            return asking is None or may_be(asking)

        def may_be(number: int) -> bool:
            if number not in known:
                known[number] = True  # should a condition look at itself, it hides nothing
                known[number] = all(met(condition) for condition in self.steps[number].when)
            return known[number]

        return frozenset(number for number in range(len(self.steps)) if may_be(number))

    def ways(self) -> tuple[Way, ...]:
        """Every combination of the choices that decide which things are used; none where no choice does.

        None either where there are too many combinations.
        """
        if self.too_many:
            return ()
        choices = self.protocol.choices
        used = {way: _things(self.needed, self.possible(dict(way))) for way in combined(choices)}
        deciding = [choice for choice in choices if _decides(choice.id.value, used)]
        return tuple(Way(way) for way in combined(tuple(deciding))) if deciding else ()

    def in_any_case(self, numbers: Sequence[int], picked: Mapping[str, str]) -> bool:
        """Whether one of some steps is done however the open choices are settled and whatever is answered."""
        conditions = [self.steps[number].when for number in numbers]
        asked = {one.name.value for when in conditions for one in when if one.name.value in self.choices}
        open_choices = tuple(choice for name, choice in self.choices.items() if name in asked - picked.keys())
        if math.prod(len(choice.options) for choice in open_choices) > MOST_WAYS:
            return any(not when for when in conditions)

        def met(condition: Condition, settled: Mapping[str, str]) -> bool:
            option = settled.get(condition.name.value)
            return option is not None and option in {one.value for one in condition.options}

        return all(
            any(all(met(one, {**picked, **dict(way)}) for one in when) for when in conditions)
            for way in combined(open_choices)
        )


def named(step: Step) -> tuple[str, ...]:
    """The names of what a step handles or needs, each once."""
    texts = [text for effect in step.effects for text in (effect.thing, effect.target) if text is not None]
    texts += [need.subject for need in step.needs]
    return tuple(dict.fromkeys(text.value for text in texts))


def put_to_use(step: Step) -> tuple[str, ...]:
    """The names of what a step cannot do without: not what it only clears away, which may not have been there."""
    away = {effect.thing.value for effect in step.effects if effect.field in ("discards", "hands_over")}
    kept = {
        text.value
        for effect in step.effects
        if effect.field not in ("discards", "hands_over")
        for text in (effect.thing, effect.target)
        if text is not None
    }
    kept |= {need.subject.value for need in step.needs}
    return tuple(name for name in named(step) if name not in away or name in kept)


def opened(step: Step) -> tuple[str, ...]:
    """The names of the packs that a step opens."""
    return tuple(effect.thing.value for effect in step.effects if effect.field == "opens")


def combined(choices: tuple[Choice, ...]) -> Iterator[Picked]:
    """Every settling of some choices."""
    sides = [[(choice.id.value, option.value) for option, _ in choice.options] for choice in choices]
    yield from itertools.product(*sides)


def _by_name(steps: Sequence[Step], names: Callable[[Step], tuple[str, ...]]) -> dict[str, tuple[int, ...]]:
    found: dict[str, list[int]] = {}
    for number, step in enumerate(steps):
        for name in names(step):
            found.setdefault(name, []).append(number)
    return {name: tuple(numbers) for name, numbers in found.items()}


def _things(needed: Mapping[str, tuple[int, ...]], may_be: frozenset[int]) -> frozenset[str]:
    return frozenset(name for name, steps in needed.items() if not may_be.isdisjoint(steps))


def _decides(choice: str, used: Mapping[Picked, frozenset[str]]) -> bool:
    """Whether two combinations that differ in this choice alone use different things."""
    seen: dict[Picked, frozenset[str]] = {}
    for way, things in used.items():
        rest = tuple(pair for pair in way if pair[0] != choice)
        if seen.setdefault(rest, things) != things:
            return True
    return False
