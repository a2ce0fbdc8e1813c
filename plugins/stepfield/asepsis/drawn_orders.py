"""Whole orders drawn at random: what one of them shows, is so, and needs no solver to be found.

Whoever is drawn to be quick is so for the whole order, or up to one moment of it: that tells more than drawing each
next step alike. The draw is the same every time.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field

from .graph import StepGraph
from .happen import end_slips
from .settlings import AllSettlings
from .stepping import Stepping
from .way import Way
from .world import SlipKey, World

IN_VAIN = 250
"""So many orders in a row that tell nothing new are enough."""
MOST_STEPS = 150_000
"""How many steps are done in all."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """One order: the settlings it may belong to, and for each slip how many of its steps show it.

    One step more than there are stands for the end.
    """

    settlings: int
    way: Way
    slips: dict[SlipKey, int]


@dataclass(slots=True)
class Draws:
    """The settlings in which orders were drawn that have a slip, and that go without it, by slip."""

    having: dict[SlipKey, int] = field(default_factory=dict)
    lacking: dict[SlipKey, int] = field(default_factory=dict)
    best: dict[tuple[SlipKey, int], Drawn] = field(default_factory=dict)

    def note(self, drawn: Drawn, keys: dict[SlipKey, None]) -> bool:
        """Whether an order tells something new of any of the slips."""
        new = False
        for key in keys:
            if key in drawn.slips:
                known = self.best.get((key, drawn.settlings))
                if known is None or drawn.slips[key] < known.slips[key]:
                    self.best[key, drawn.settlings] = drawn
            told = self.having if key in drawn.slips else self.lacking
            new |= bool(drawn.settlings & ~told.get(key, 0))
            told[key] = told.get(key, 0) | drawn.settlings
        return new

    def shortest(self, key: SlipKey, settlings: int) -> Drawn | None:
        """An order with few steps that shows a slip in some of the settlings."""
        some = (one for (of, mask), one in self.best.items() if of == key and mask & settlings)
        return min(some, key=lambda one: one.slips[key], default=None)


def draws(graph: StepGraph, settlings: AllSettlings, keys: dict[SlipKey, None]) -> Draws:
    """Draws orders until they tell nothing new of these slips; nobody may go back in the protocol."""
    chance, stepping, found = random.Random(1), Stepping(graph, reduced=False), Draws()  # noqa: S311 - nothing secret
    spent = in_vain = 0
    while spent < MOST_STEPS and in_vain < IN_VAIN:
        drawn = _drawn(stepping, chance, settlings)
        spent += max(1, len(drawn.way))
        in_vain = 0 if found.note(drawn, keys) else in_vain + 1
    return found


def _quickness(graph: StepGraph, chance: random.Random) -> dict[str, float]:
    return {role: 10 ** chance.uniform(-3, 0) for role in graph.order.lanes}


def _drawn(stepping: Stepping, chance: random.Random, settlings: AllSettlings) -> Drawn:
    graph = stepping.graph
    quick, change = _quickness(graph, chance), chance.randrange(2 * len(graph.steps) or 1)
    (done, world, settled), picks = chance.choice(stepping.starts())
    way: list[tuple[int, str | None]] = []
    slips: dict[SlipKey, int] = {}
    while done != stepping.all_done:
        ready = stepping.ready(done)
        quick = _quickness(graph, chance) if len(way) == change else quick
        (step,) = chance.choices(ready, [quick[str(graph.steps[one].role)] for one in ready])
        world, made = stepping.happen(step, world)
        answer, done, settled = chance.choice(list(stepping.outcomes(step, done, settled)))
        (done, world, settled), more = chance.choice(stepping.reach(done, world, settled))
        picks = (*picks, *more)
        way.append((step, answer))
        for key in made:
            slips.setdefault(key, len(way))
    for slip in end_slips(graph, World(graph, stepping.worlds[world])):
        slips.setdefault(slip.key, len(way) + 1)
    mask = settlings.everything
    for choice, option in picks:
        mask &= settlings.having.get((stepping.choices[choice], option), 0)
    for question, answer in zip(graph.tracked, settled[len(stepping.choices) :], strict=True):
        mask &= settlings.having.get((question, answer), 0)
    return Drawn(mask, tuple(way), slips)
