"""A first answer to which packs to keep: a pack for each moment, and then the two that cost least are made one. Pure.

Not the best as a rule; the solver begins with it, and where no solver is at hand it is what there is.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

from .packs import Answer, Group, Kept, Question, cost_of, least_opened, waste_cost


@dataclass(frozen=True, slots=True)
class _Made:
    sort: bool
    moments: frozenset[int]


def first_answer(question: Question) -> Answer:
    """Packs that meet every need, or none where joining packs cannot bring them down to so many."""
    made = [
        _Made(sort, frozenset([moment]))
        for moment in range(len(question.rates))
        for sort in (False, True)
        if any(group.needs[moment] for group in question.groups if question.sort(group) is sort)
    ]
    while True:
        joined = [
            (_cost(question, both), first, second, both)
            for first, second in itertools.combinations(made, 2)
            if first.sort is second.sort
            and _is_allowed(question, both := _Made(first.sort, first.moments | second.moments))
        ]
        if not joined:
            break
        pairs = [
            (cost - _cost(question, one) - _cost(question, two), one, two, both) for cost, one, two, both in joined
        ]
        more, one, two, both = min(pairs, key=lambda pair: (pair[0], sorted(pair[3].moments)))
        if len(made) <= question.most_packs and more > 0:
            break
        made = [pack for pack in made if pack not in (one, two)] + [both]
    if len(made) > question.most_packs:
        return Answer(None, 0, 0)
    kept = tuple(Kept(_holds(question, pack), tuple(sorted(pack.moments))) for pack in made)
    return Answer(kept, cost_of(question, kept), least_opened(question))


def _holds(question: Question, pack: _Made) -> dict[int, int]:
    """As many of each group as the moment that needs most of it."""
    groups = enumerate(question.groups)
    counts = {number: _count(group, pack) for number, group in groups if question.sort(group) is pack.sort}
    return {number: count for number, count in counts.items() if count}


def _count(group: Group, pack: _Made) -> int:
    return max(group.needs[moment] for moment in pack.moments)


def _cost(question: Question, pack: _Made) -> int:
    return sum(
        question.rates[moment]
        * (
            question.costs.opening
            + sum(
                (_count(group, pack) - group.needs[moment]) * waste_cost(question, group)
                for group in _mine(question, pack)
            )
        )
        for moment in pack.moments
    )


def _mine(question: Question, pack: _Made) -> list[Group]:
    return [group for group in question.groups if question.sort(group) is pack.sort]


def _is_allowed(question: Question, pack: _Made) -> bool:
    """Whether nothing sharp is opened for nothing, where that is not to be."""
    if not question.sharps_only_where_used:
        return True
    return all(
        group.needs[moment] == _count(group, pack)
        for group in _mine(question, pack)
        if group.sharp
        for moment in pack.moments
    )
