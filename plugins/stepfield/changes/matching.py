"""Which step of the old text is which step of the new one: by name, then by what it says and does."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from ..language.model import Protocol, Step, Subject

ALIKE = 0.6
"""How alike, from 0 to 1, a step must be to one of another name to count as the same step renamed."""
_WORDS, _ROLE, _WORK, _BESIDE = 0.5, 0.1, 0.3, 0.1


@dataclass(frozen=True)
class Matching:
    """Pairs of step numbers, old and new.

    ``things`` maps old names of things to new ones where only the name changed.
    """

    old: Protocol
    new: Protocol
    pairs: tuple[tuple[int, int], ...]
    things: Mapping[str, str]

    @cached_property
    def forth(self) -> Mapping[int, int]:
        """From the old number of a step to its new one."""
        return dict(self.pairs)

    @cached_property
    def back(self) -> Mapping[int, int]:
        """From the new number of a step to its old one."""
        return {new: old for old, new in self.pairs}

    @cached_property
    def names(self) -> Mapping[str, str]:
        """From the old name of a step to its new one."""
        old, new = self.old.steps, self.new.steps
        return {old[one].id.value: new[other].id.value for one, other in self.pairs}

    def step(self, name: str) -> str:
        """What an old step is called now."""
        return self.names.get(name, name)

    def thing(self, name: str) -> str:
        """What an old thing, or a field of its record, is called now."""
        if name in self.things:
            return self.things[name]
        head, dot, rest = name.partition(".")
        return f"{self.things[head]}.{rest}" if dot and head in self.things else name


def match(old: Protocol, new: Protocol) -> Matching:
    """Matches the steps of two texts of a protocol."""
    things = dict(_renamed_things(old, new))
    steps, others = old.steps, new.steps
    numbers: dict[str, int] = {}
    for number, step in enumerate(others):
        numbers.setdefault(step.id.value, number)
    pairs: dict[int, int] = {}
    for number, step in enumerate(steps):
        other = numbers.pop(step.id.value, None)
        if other is not None:
            pairs[number] = other
    taken = set(pairs.values())
    left = [number for number in range(len(steps)) if number not in pairs]
    free = [number for number in range(len(others)) if number not in taken]
    traits = {number: _Traits.of(steps[number], things) for number in left}
    wanted = {number: _Traits.of(others[number], {}) for number in free}
    _take_equal(traits, wanted, pairs)
    scored = []
    for number, trait in traits.items():
        for other, meant in wanted.items():
            alike = trait.alike(meant) + _BESIDE * _beside(number, other, pairs)
            if alike >= ALIKE:
                scored.append((-alike, abs(number - other), number, other))
    used: set[int] = set()
    for _, _, number, other in sorted(scored):
        if number not in pairs and other not in used:
            pairs[number] = other
            used.add(other)
    return Matching(old, new, tuple(sorted(pairs.items())), things)


def _take_equal(traits: dict[int, _Traits], wanted: dict[int, _Traits], pairs: dict[int, int]) -> None:
    """Pairs steps that differ in nothing but their name, in written order; takes them out of both."""
    same: dict[Hashable, list[int]] = {}
    for other, trait in wanted.items():
        same.setdefault(trait.whole, []).append(other)
    for number, trait in list(traits.items()):
        others = same.get(trait.whole)
        if others:
            other = others.pop(0)
            pairs[number] = other
            del traits[number], wanted[other]


@dataclass(frozen=True, slots=True)
class _Traits:
    """What a step is recognised by."""

    words: Counter[str]
    role: str | None
    work: frozenset[Hashable]
    whole: Hashable

    @classmethod
    def of(cls, step: Step, things: Mapping[str, str]) -> _Traits:
        def named(name: object) -> str:
            return things.get(str(name), str(name))

        work = {(one.field, named(one.thing), named(one.target), one.level) for one in step.effects}
        asked = {("needs", named(need.subject), "", need.level) for need in step.needs}
        facts = {("confirms", fact.value, "", None) for fact in step.confirms}
        facts |= {("requires", fact.value, "", None) for fact in step.requires}
        role = step.role.value if step.role is not None else None
        both = frozenset(work | asked | facts)
        # The same in one step of a part that is used twice: then the place decides, which is in its name.
        return cls(Counter(re.findall(r"\w+", step.do.value.casefold())), role, both, (step.do.value, role, both))

    def alike(self, other: _Traits) -> float:
        """How alike two steps are, leaving out what stands beside them."""
        total = sum(self.words.values()) + sum(other.words.values())
        words = 2 * sum((self.words & other.words).values()) / total if total else 1.0
        either = self.work | other.work
        work = len(self.work & other.work) / len(either) if either else words
        return _WORDS * words + _ROLE * (self.role == other.role) + _WORK * work


def _beside(old: int, new: int, pairs: Mapping[int, int]) -> float:
    """How much of what stands beside two steps is the same: the steps just before and just after."""
    return (pairs.get(old - 1, -2) == new - 1) / 2 + (pairs.get(old + 1, -2) == new + 1) / 2


def _renamed_things(old: Protocol, new: Protocol) -> Iterator[tuple[str, str]]:
    """Things that are the same in all but their name: their title must be one that no other has."""
    gone = [thing for name, thing in old.subjects.items() if name not in new.subjects and thing.role is None]
    come = [thing for name, thing in new.subjects.items() if name not in old.subjects and thing.role is None]
    for thing in gone:
        alike = [other for other in come if _looks(other) == _looks(thing)]
        if len(alike) == 1 and sum(_looks(one) == _looks(thing) for one in gone) == 1:
            yield thing.name.value, alike[0].name.value


def _looks(thing: Subject) -> Sequence[object]:
    return (
        *(thing.kind, thing.title, thing.starts, thing.worn_on, thing.fluid_proof, thing.count, thing.counted),
        *(thing.sharp, thing.sharps, thing.reusable, thing.hazard, thing.spare),
    )
