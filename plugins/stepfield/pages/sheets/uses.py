"""Which things a protocol needs: the steps that name each, and what depends on what is chosen before the case."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from ...language.model import Choice, Condition, Step
from ..reading import Reading

MOST_WAYS = 64
"""More combinations than these are not gone through."""
MOST_SHEETS = 12
"""More combinations than these get no sheet of their own: nobody would find theirs."""


@dataclass(frozen=True, slots=True)
class Way:
    """One settling of the choices that make a difference, as (choice, option) in their written order."""

    picked: tuple[tuple[str, str], ...]

    @property
    def options(self) -> tuple[str, ...]:
        """The options alone."""
        return tuple(option for _, option in self.picked)


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


def used_in(reading: Reading) -> dict[str, tuple[int, ...]]:
    """The numbers (from 0) of the steps that name a thing, by its name."""
    found: dict[str, list[int]] = {}
    for number, step in enumerate(reading.steps):
        for name in named(step):
            found.setdefault(name, []).append(number)
    return {name: tuple(numbers) for name, numbers in found.items()}


def needed_in(reading: Reading) -> dict[str, tuple[int, ...]]:
    """The numbers (from 0) of the steps that put a thing to use, by its name; those that name it, where none does."""
    found: dict[str, list[int]] = {}
    for number, step in enumerate(reading.steps):
        for name in put_to_use(step):
            found.setdefault(name, []).append(number)
    return used_in(reading) | {name: tuple(numbers) for name, numbers in found.items()}


def possible(reading: Reading, picked: Mapping[str, str]) -> frozenset[int]:
    """The steps (from 0) that may be done when these choices are settled so; an answer may always be any."""
    known: dict[int, bool] = {}

    def met(condition: Condition) -> bool:
        name, options = condition.name.value, {option.value for option in condition.options}
        if name in choices:
            return picked.get(name) is None or picked[name] in options
        asking = reading.index.get(name)
        return asking is None or may_be(asking)

    def may_be(number: int) -> bool:
        if number not in known:
            known[number] = True  # should a condition look at itself, it hides nothing
            known[number] = all(met(condition) for condition in reading.steps[number].when)
        return known[number]

    choices = {choice.id.value for choice in reading.protocol.choices}
    return frozenset(number for number in range(len(reading.steps)) if may_be(number))


def ways(reading: Reading) -> tuple[Way, ...]:
    """Every combination of the choices that decide which things are used; none where no choice does, or too many do."""
    choices = reading.protocol.choices
    if math.prod(len(choice.options) for choice in choices) > MOST_WAYS:
        return ()
    needed = needed_in(reading)
    used = {way: _things(needed, possible(reading, dict(way))) for way in _combined(choices)}
    deciding = [choice for choice in choices if _decides(choice.id.value, used)]
    found = tuple(Way(way) for way in _combined(tuple(deciding))) if deciding else ()
    return found if len(found) <= MOST_SHEETS else ()


def in_any_case(reading: Reading, numbers: Sequence[int], picked: Mapping[str, str]) -> bool:
    """Whether one of some steps (from 0) is done however the open choices are settled and whatever is answered."""
    choices = {choice.id.value: choice for choice in reading.protocol.choices}
    conditions = [reading.steps[number].when for number in numbers]
    asked = {one.name.value for when in conditions for one in when if one.name.value in choices} - picked.keys()
    open_choices = tuple(choice for name, choice in choices.items() if name in asked)
    if math.prod(len(choice.options) for choice in open_choices) > MOST_WAYS:
        return any(not when for when in conditions)

    def met(condition: Condition, settled: Mapping[str, str]) -> bool:
        option = settled.get(condition.name.value)
        return option is not None and option in {one.value for one in condition.options}

    return all(
        any(all(met(one, {**picked, **dict(way)}) for one in when) for when in conditions)
        for way in _combined(open_choices)
    )


_Picked = tuple[tuple[str, str], ...]


def _combined(choices: tuple[Choice, ...]) -> Iterator[_Picked]:
    sides = [[(choice.id.value, option.value) for option, _ in choice.options] for choice in choices]
    yield from itertools.product(*sides)


def _things(needed: Mapping[str, tuple[int, ...]], may_be: frozenset[int]) -> frozenset[str]:
    return frozenset(name for name, steps in needed.items() if not may_be.isdisjoint(steps))


def _decides(choice: str, used: Mapping[_Picked, frozenset[str]]) -> bool:
    """Whether two combinations that differ in this choice alone use different things."""
    seen: dict[_Picked, frozenset[str]] = {}
    for way, things in used.items():
        rest = tuple(pair for pair in way if pair[0] != choice)
        if seen.setdefault(rest, things) != things:
            return True
    return False
