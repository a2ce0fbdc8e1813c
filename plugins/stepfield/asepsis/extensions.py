"""In how many ways the members of a partial order can follow one another: its linear extensions.

Members are numbers, sets of members are bit masks. The count is exact as long as the work stays within a bound, and
beyond that bracketed by what can be told at once.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from .order import bits

WORK = 600_000
"""How many members are looked at, summed over all sets of members, before a count gives way to a bracket."""


@dataclass(frozen=True, slots=True)
class Count:
    """A number that is known, or known to lie between two others, both included."""

    at_least: int
    at_most: int

    @classmethod
    def of(cls, number: int) -> Count:
        """A number that is known."""
        return cls(number, number)

    @property
    def exact(self) -> bool:
        """Whether the number is known."""
        return self.at_least == self.at_most

    def __add__(self, other: Count) -> Count:
        return Count(self.at_least + other.at_least, self.at_most + other.at_most)

    def __mul__(self, other: Count) -> Count:
        return Count(self.at_least * other.at_least, self.at_most * other.at_most)


@dataclass(slots=True)
class Work:
    """What may still be spent; shared by everything that is counted for one answer."""

    left: int = WORK


class PartialOrder:
    """A partial order whose members are numbered in an allowed order: nothing comes after a member of higher number.

    ``below[i]`` is the mask of all members that come before member *i*, also of those that only do so through others.
    """

    def __init__(self, below: Sequence[int], work: Work | None = None) -> None:
        self.below = below
        self.above = _turned_round(below)
        self.work = work or Work()
        self.known: dict[int, Count] = {0: Count.of(1)}

    def count(self, chosen: int) -> Count:
        """In how many ways the chosen members can follow one another; order through the others is kept.

        A set that falls apart is counted from its parts. One that does not is counted by which member comes first; when
        that has taken half of the work left it is bracketed instead, so that something is left for other sets.
        """
        if self._settle(chosen, 0, lone=False):
            return self.known[chosen]
        return self.bracket(chosen)

    def _settle(self, chosen: int, floor: int, *, lone: bool) -> bool:
        """Finds the count of a set and of all it is made of; False if that takes the work below the floor.

        With ``lone`` the set is one that does not fall apart. Kept as a stack: sets nest as deep as there are members.
        """
        stack, plans = [chosen], dict[int, tuple[str, list[int]]]()
        while stack:
            top = stack[-1]
            if top in self.known:
                stack.pop()
                continue
            if top not in plans:
                self.work.left -= top.bit_count()
                if self.work.left < floor:
                    return False
                plans[top] = self._plan(top)
            how, parts = plans[top]
            if how == "first" and not lone:
                if not self._settle(top, self.work.left // 2, lone=True):
                    self.known[top] = self.bracket(top)
                continue
            missing = [part for part in parts if part not in self.known]
            stack += missing
            if not missing:
                self.known[top] = self._joined(how, parts)
        return True

    def _plan(self, chosen: int) -> tuple[str, list[int]]:
        """How a set is counted from smaller ones: ``beside`` or ``behind`` one another, or each ``first`` in turn."""
        rest, lowest = chosen, self._lowest(chosen)
        while len(lowest) == 1:
            rest ^= 1 << lowest[0]
            lowest = self._lowest(rest)
        if rest != chosen:
            return "behind", [rest]
        parts = self._unrelated(chosen, lowest)
        if len(parts) > 1:
            return "beside", parts
        under = self._all_under(chosen)
        if under != chosen:
            return "behind", [under, chosen ^ under]
        return "first", [chosen ^ 1 << member for member in lowest]

    def _lowest(self, chosen: int) -> list[int]:
        """The members of a set that nothing in it comes before, lowest number first."""
        return list(_lowest_first(self.above, chosen))

    def _unrelated(self, chosen: int, lowest: list[int]) -> list[int]:
        """The parts of a set between which there is no order: what two of the lowest have above them joins them."""
        parts: list[int] = []
        for member in lowest:
            part, others = self.above[member] & chosen | 1 << member, []
            for other in parts:
                if part & other:
                    part |= other
                else:
                    others.append(other)
            parts = [*others, part]
        return parts

    def _all_under(self, chosen: int) -> int:
        """The smallest part of a set, not empty, all of whose members come before all others of the set."""
        part = edge = chosen & -chosen
        left = chosen ^ part
        while edge and left:
            low = edge & -edge
            reached = left & ~self.above[low.bit_length() - 1]  # what lies below belongs to the part anyway
            edge ^= low | reached
            part |= reached
            left ^= reached
        return part

    def _joined(self, how: str, parts: list[int]) -> Count:
        counts = [self.known[part] for part in parts]
        if how == "first":
            return sum(counts, Count.of(0))
        product = math.prod(counts, start=Count.of(1))
        return product * Count.of(_mixings(part.bit_count() for part in parts)) if how == "beside" else product

    def bracket(self, chosen: int) -> Count:
        """Bounds that take no search; they meet where every member has at most one right before (or right behind) it.

        At least n! over the product of how many members each has from itself upwards, and the same downwards (R. P.
        Stanley, Enumerative Combinatorics 1, an exercise of chapter 3); at least what is left when the members are put
        into layers, each in any order (I. A. Bochkov and F. V. Petrov, arXiv 2001.03670, corollary). At most what is
        left when each member keeps only one of those right before it: that is a forest, where the first bound is the
        number (D. E. Knuth, The Art of Computer Programming 3, an exercise of section 5.1.4).
        """
        orders = math.factorial(chosen.bit_count())
        lower = [
            -(-orders // math.prod((side[member] & chosen).bit_count() + 1 for member in bits(chosen)))
            for side in (self.below, self.above)
        ]
        upper = [orders // hooks for hooks in self._forest_hooks(chosen)]
        return Count(max(*lower, math.prod(self._layers(chosen))), min(upper))

    def _layers(self, chosen: int) -> Iterator[int]:
        """In how many ways each layer can be ordered; a layer is what is lowest once the layers under it are gone."""
        while chosen:
            lowest = self._lowest(chosen)
            chosen &= ~sum(1 << member for member in lowest)
            yield math.factorial(len(lowest))

    def _forest_hooks(self, chosen: int) -> Iterator[int]:
        """The products of the branch sizes of two forests within the order, one growing upwards, one downwards."""
        members = list(bits(chosen))
        yield _branches(members[::-1], lambda member: _highest_first(self.below, self.below[member] & chosen))
        yield _branches(members, lambda member: _lowest_first(self.above, self.above[member] & chosen))


def _branches(members: list[int], nearest: Callable[[int], Iterator[int]]) -> int:
    """The product of the branch sizes of a forest: each member, tips first, hangs on one of those nearest to it.

    It takes one that carries nothing yet if there is one: the longer the branches, the closer the bound.
    """
    sizes, carrying = dict.fromkeys(members, 1), set[int]()
    for member in members:
        near = list(nearest(member))
        if near:
            chosen = next((other for other in near if other not in carrying), near[0])
            sizes[chosen] += sizes[member]
            carrying.add(chosen)
    return math.prod(sizes.values())


def _highest_first(below: Sequence[int], under: int) -> Iterator[int]:
    """Of the members under another those right under it: between the highest of those left and it lies nothing."""
    while under:
        member = under.bit_length() - 1
        yield member
        under &= ~(below[member] | 1 << member)


def _lowest_first(above: Sequence[int], over: int) -> Iterator[int]:
    """Of a set the members that nothing in it comes before; of those over another, these are right over it."""
    while over:
        member = (over & -over).bit_length() - 1
        yield member
        over &= ~(above[member] | 1 << member)


def _mixings(sizes: Iterator[int]) -> int:
    """In how many ways rows of these lengths can be mixed into one, each keeping its order."""
    mixings, length = 1, 0
    for size in sizes:
        length += size
        mixings *= math.comb(length, size)
    return mixings


def _turned_round(below: Sequence[int]) -> list[int]:
    """For every member the mask of those that come after it."""
    above = [0] * len(below)
    for member in reversed(range(len(below))):
        for lower in _highest_first(below, below[member]):
            above[lower] |= above[member] | 1 << member
    return above
