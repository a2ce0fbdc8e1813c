"""Which packs to keep so that little is opened and little thrown away: the question, its measure, and the answer. Pure.

The measure, a week: for every opening what it costs to open its packs, and for every thing opened there beyond what is
needed what it costs to throw it away or, if it is reusable, to reprocess it. An opening takes at most one of each pack.
Where they are kept apart, a pack holds reusable things or things that are thrown away, never both: the one goes back as
a set, the other does not. Of a thing a pack holds one of the numbers that some opening asks for: swabs that come in
tens are not packed in sevens.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from .demand import Demand, Pack


@dataclass(frozen=True, slots=True)
class Costs:
    """What opening a pack costs, throwing a thing away unused, and reprocessing one unused, in hundredths."""

    opening: int
    thrown_away: int
    reprocessed: int


@dataclass(frozen=True, slots=True)
class Group:
    """Goods that are asked for alike everywhere; ``needs`` is how many of each a question's moment asks for.

    ``size`` is how many things one of every good of the group is together. ``levels`` are the numbers asked for.
    """

    goods: tuple[int, ...]
    size: int
    sharp: bool
    reusable: bool
    needs: tuple[int, ...]

    @property
    def levels(self) -> tuple[int, ...]:
        """The numbers of it that some moment asks for, lowest first."""
        return tuple(sorted({count for count in self.needs if count}))


@dataclass(frozen=True, slots=True)
class Question:
    """The demand with all that is alike taken together: moments with their rates, and groups of goods.

    Both are exact. Moments: two openings that need the same may open the same packs, whichever of their two sets of
    packs costs less an opening; so some best answer treats them alike, and one with the sum of their rates stands for
    both. Groups: of goods that every moment needs alike, take the one on which a best answer wastes least for its size,
    and let every pack hold of the others what it holds of that one: all needs are met, no pack more is opened, and
    nothing more is wasted. So some best answer treats them alike, and one with the sum of their sizes stands for all.
    (Neither changes whether something sharp is opened where it is not used.)
    """

    rates: tuple[int, ...]
    groups: tuple[Group, ...]
    costs: Costs
    most_packs: int
    sharps_only_where_used: bool
    reusables_apart: bool

    def sort(self, group: Group) -> bool:
        """The sort of packs that a group may lie in: that of what is reusable, where this is kept apart."""
        return self.reusables_apart and group.reusable


@dataclass(frozen=True, slots=True)
class Kept:
    """A pack of an answer: how many of each group (by number) it holds, and the moments (by number) that open it."""

    holds: Mapping[int, int]
    moments: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Answer:
    """Packs with what they cost a week by the measure, and what no packs can cost less than.

    ``kept`` is None where there is no such set of packs (``impossible``), or where none was found.
    """

    kept: tuple[Kept, ...] | None
    cost: int
    bound: int
    impossible: bool = False

    @property
    def proved(self) -> bool:
        """Whether nothing better exists."""
        return self.kept is not None and self.cost <= self.bound


@dataclass(frozen=True, slots=True)
class Bill:
    """What some packs come to a week, in hundredths of packs, things and cost."""

    opened: int
    thrown_away: int
    reprocessed: int
    sharp_unused: int
    cost: int
    kinds: int


@dataclass(frozen=True, slots=True)
class Rules:
    """What an answer must keep; ``most_packs`` and ``reusables_apart`` are None where they are to be as today.

    ``sharps_only_where_used``: nothing sharp is opened where it is not used. ``reusables_apart``: no pack holds
    reusable things beside others.
    """

    most_packs: int | None = None
    sharps_only_where_used: bool = True
    reusables_apart: bool | None = None


def question_of(demand: Demand, costs: Costs, rules: Rules) -> Question:
    """What a demand asks, with all that is alike taken together."""
    alike: dict[tuple[tuple[int, int], ...], int] = {}
    for opening in demand.openings:
        if opening.needs:
            needs = tuple(sorted(opening.needs.items()))
            alike[needs] = alike.get(needs, 0) + opening.rate
    grouped: dict[tuple[bool, bool, tuple[int, ...]], list[int]] = {}
    for number, good in enumerate(demand.goods):
        asked = tuple(dict(moment).get(number, 0) for moment in alike)
        if any(asked):
            grouped.setdefault((good.sharp, good.reusable, asked), []).append(number)
    groups = tuple(
        Group(tuple(goods), sum(demand.goods[good].size for good in goods), sharp, reusable, asked)
        for (sharp, reusable, asked), goods in grouped.items()
    )
    most = rules.most_packs if rules.most_packs is not None else len(demand.today)
    apart = rules.reusables_apart if rules.reusables_apart is not None else not _mixed_today(demand)
    return Question(tuple(alike.values()), groups, costs, most, rules.sharps_only_where_used, apart)


def _mixed_today(demand: Demand) -> bool:
    """Whether some pack of today holds reusable things beside others."""
    return any(len({demand.goods[good].reusable for good in pack.holds}) > 1 for pack in demand.today)


def waste_cost(question: Question, group: Group) -> int:
    """What one of a group costs where it is opened for nothing."""
    costs = question.costs
    return group.size * (costs.reprocessed if group.reusable else costs.thrown_away)


def cost_of(question: Question, kept: Sequence[Kept]) -> int:
    """What packs cost a week by the measure, in hundredths of hundredths. Raises ValueError if a need is not met."""
    total = 0
    for moment, rate in enumerate(question.rates):
        opened = [pack for pack in kept if moment in pack.moments]
        total += rate * question.costs.opening * len(opened)
        for number, group in enumerate(question.groups):
            over = sum(pack.holds.get(number, 0) for pack in opened) - group.needs[moment]
            if over < 0:
                raise ValueError("something that is needed lies in no pack that is opened")
            total += rate * over * waste_cost(question, group)
    return total


def least_opened(question: Question) -> int:
    """What opening costs at the least: each moment opens a pack of each sort that it needs something of."""
    return question.costs.opening * sum(
        rate * len({question.sort(group) for group in question.groups if group.needs[moment]})
        for moment, rate in enumerate(question.rates)
    )


def proposed(
    demand: Demand, question: Question, kept: Sequence[Kept]
) -> tuple[tuple[Pack, ...], tuple[tuple[int, ...], ...]]:
    """The packs of an answer with all their goods, and for each opening of the demand which of them it opens."""
    packs = tuple(
        Pack("", {good: count for number, count in pack.holds.items() for good in question.groups[number].goods})
        for pack in kept
    )
    moments = {tuple(sorted(opening.needs.items())): None for opening in demand.openings if opening.needs}
    place = {needs: number for number, needs in enumerate(moments)}
    opened = tuple(
        tuple(at for at, pack in enumerate(kept) if place[tuple(sorted(opening.needs.items()))] in pack.moments)
        if opening.needs
        else ()
        for opening in demand.openings
    )
    return packs, opened


def bill(demand: Demand, costs: Costs, packs: Sequence[Pack], opened: Sequence[Sequence[int]]) -> Bill:
    """What packs come to a week; ``opened`` are the packs (by number) of each opening. Packs of today count alike."""
    found = dict.fromkeys(("opened", "thrown_away", "reprocessed", "sharp"), 0)
    for opening, used in zip(demand.openings, opened, strict=True):
        found["opened"] += opening.rate * len(used)
        for number, good in enumerate(demand.goods):
            over = sum(packs[at].holds.get(number, 0) for at in used) - opening.needs.get(number, 0)
            if over < 0:
                raise ValueError("something that is needed lies in no pack that is opened")
            found["reprocessed" if good.reusable else "thrown_away"] += opening.rate * over * good.size
            found["sharp"] += opening.rate * over * good.size if good.sharp else 0
    cost = (
        found["opened"] * costs.opening
        + found["thrown_away"] * costs.thrown_away
        + found["reprocessed"] * costs.reprocessed
    )
    kinds = len(set(itertools.chain.from_iterable(opened)))
    return Bill(found["opened"], found["thrown_away"], found["reprocessed"], found["sharp"], cost, kinds)
