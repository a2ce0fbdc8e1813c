"""Every set of packs there is, gone through for small demands: nothing of it is shared with the program.

Things are not grouped, moments not taken together, and nothing is left out but what is empty.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence

Needs = Sequence[Sequence[int]]
"""For each moment how many of each thing it needs."""


def least_cost(
    needs: Needs,
    rates: Sequence[int],
    reusable: Sequence[bool],
    sharp: Sequence[bool],
    costs: tuple[int, int, int],
    most: int,
    *,
    apart: bool,
    strict: bool,
) -> int | None:
    """The least cost of opening, throwing away and reprocessing over every set of at most so many packs; None if none.

    ``strict``: nothing sharp is opened where it is not needed. ``apart``: nothing reusable lies beside other things.
    """
    opening, thrown, reprocessed = costs
    counts = [sorted({0, *(moment[thing] for moment in needs)}) for thing in range(len(reusable))]
    packs = [one for one in itertools.product(*counts) if any(one)]
    if apart:
        packs = [one for one in packs if len({sort for count, sort in zip(one, reusable, strict=True) if count}) == 1]
    weights = [reprocessed if one else thrown for one in reusable]
    best: int | None = None
    for kept in itertools.combinations_with_replacement(packs, most):
        total = 0
        for moment, rate in zip(needs, rates, strict=True):
            cheapest = _cheapest(moment, kept, opening, weights, sharp if strict else [False] * len(sharp))
            if cheapest is None:
                break
            total += rate * cheapest
        else:
            best = total if best is None else min(best, total)
    return best


def _cheapest(
    moment: Sequence[int],
    kept: Sequence[Sequence[int]],
    opening: int,
    weights: Sequence[int],
    sharp: Sequence[bool],
) -> int | None:
    """What a moment costs with the packs that are best for it; None where no packs meet its needs."""
    if not any(moment):
        return 0
    best: int | None = None
    for size in range(len(kept) + 1):
        for opened in itertools.combinations(kept, size):
            over = [sum(pack[thing] for pack in opened) - need for thing, need in enumerate(moment)]
            if any(one < 0 or (one and is_sharp) for one, is_sharp in zip(over, sharp, strict=True)):
                continue
            cost = opening * size + sum(one * weight for one, weight in zip(over, weights, strict=True))
            best = cost if best is None else min(best, cost)
    return best
