"""Whole orders drawn at random, for where there are more than can be tried: what one of them shows, is so.

It proves nothing of the others. The draw is the same every time.
"""

from __future__ import annotations

import random
from collections.abc import Iterator

from .graph import StepGraph
from .happen import end_slips
from .proof import Occurrence
from .stepping import Picks, Stepping
from .trace import cause_of
from .way import Way
from .world import Slip, SlipKey, World

MOST_STEPS = 40_000
"""How many steps are done in all."""
MOST_IN_ONE = 3
"""Where somebody may go back, an order is given up after so many times the steps there are."""


def sampled(graph: StepGraph, seed: int = 1, most_steps: int = MOST_STEPS) -> tuple[Occurrence, ...]:
    """The slips that some orders drawn at random show, each with the first order that did, cut off behind it."""
    stepping, chance = Stepping(graph, reduced=False), random.Random(seed)  # noqa: S311 - nothing secret
    found: dict[SlipKey, Occurrence] = {}
    spent = 0
    while spent < most_steps:
        way, picks, slips = _drawn(stepping, chance)
        spent += max(1, len(way))
        for slip, length in slips:
            if slip.key not in found:
                witness = way[:length]
                settled = {stepping.choices[choice]: option for choice, option in picks}
                cause = cause_of(graph, slip, witness)
                found[slip.key] = Occurrence(slip, (settled,), False, witness, cause, shortest=False)
    return tuple(found.values())


def _drawn(stepping: Stepping, chance: random.Random) -> tuple[Way, Picks, list[tuple[Slip, int]]]:
    """One order with its answers, the choices settled on the way, and the slips, each with how many steps show it."""
    moment, picks = chance.choice(stepping.starts())
    steps: list[tuple[int, str | None]] = []
    slips: list[tuple[Slip, int]] = []
    while len(steps) < MOST_IN_ONE * len(stepping.graph.steps) and (moves := stepping.moves(moment)):
        step, answer, seen, moment, more = chance.choice(moves)
        steps.append((step, answer))
        picks = (*picks, *more)
        slips += [(stepping.slips[key], len(steps)) for key in seen]
    way = tuple(steps)
    return way, picks, [*slips, *_at_the_end(stepping, moment[1], len(steps), whole=not stepping.moves(moment))]


def _at_the_end(stepping: Stepping, world: int, length: int, *, whole: bool) -> Iterator[tuple[Slip, int]]:
    if whole:
        for slip in end_slips(stepping.graph, World(stepping.graph, stepping.worlds[world])):
            yield slip, length
