"""What can be the case at each step, whatever the order, and so which slips can occur at all: without any search.

What a thing is like at a step was brought about by some step that need not come later, unless between the two there
always comes another that settles it anew: a loss that can come last before the need, with no reset after it. From what
things are like when the protocol starts the values spread along this order until nothing is added. Each thing is looked
at by itself, so more is held to be possible than is; what is not possible here occurs in no order.
"""

from __future__ import annotations

from collections.abc import Sequence, Set
from dataclasses import dataclass, field

from .asked_world import Scene, Value, Var
from .graph import StepGraph
from .order import bits
from .ways import OWN, Happening, OneWay, happenings
from .world import SlipKey

MOST_VALUES = 400
"""Beyond so many values of one thing the look is given up."""


class TooManyValuesError(Exception):
    """A thing can be in too many conditions to tell them apart."""


@dataclass(slots=True)
class FirstLook:
    """What can be the case at each step; the end is one step more.

    ``rows`` are the ways each step can go (part by part where it was taken apart), ``slips`` the keys of all that can
    go wrong as far as this look can tell.
    """

    graph: StepGraph
    scene: Scene
    happenings: Sequence[Happening]
    rows: list[list[list[OneWay]]] = field(default_factory=list)
    slips: dict[SlipKey, None] = field(default_factory=dict)


def first_look(graph: StepGraph) -> FirstLook:
    """Looks at every step in every circumstance that its order allows. Raises TooManyWaysError, TooManyValuesError."""
    look = _Spreading(graph).run()
    for step, rows in enumerate(look.rows):
        for ways in rows:
            for way in ways:
                look.slips |= dict.fromkeys(own_key(graph, step, key) for key in way.outcome.slips)
    return look


def own_key(graph: StepGraph, step: int, key: SlipKey) -> SlipKey:
    """The key of a slip that some way of a step shows; the end has the number after the last step."""
    kind, at, subject = key
    if at == OWN:
        at = step if step < len(graph.steps) else -1
    return kind, at, subject


class _Spreading:
    def __init__(self, graph: StepGraph) -> None:
        self.graph, self.scene = graph, Scene.of(graph)
        self.end = len(graph.steps)
        self.look = FirstLook(graph, self.scene, happenings(self.scene), [[] for _ in range(self.end + 1)])
        self.before = _sure_order(graph)
        self.after = [0] * (self.end + 1)
        for step, earlier in enumerate(self.before):
            for other in bits(earlier):
                self.after[other] |= 1 << step
        goes_back = {graph.order.phase_of[asking] for asking in graph.repeats}
        self.again = [*(phase in goes_back for phase in graph.order.phase_of), False]
        self.left: list[dict[Var, Set[Value]]] = [{} for _ in range(self.end + 1)]
        self.changing: dict[Var, int] = {}
        self.settling: dict[Var, int] = {}
        self.seen: list[dict[Var, Set[Value]] | None] = [None] * (self.end + 1)

    def run(self) -> FirstLook:
        """Goes over all steps until nothing is added."""
        steps = [*self.graph.order.sorted_steps(), self.end]
        changed = True
        while changed:
            changed = False
            for step in steps:
                changed |= self._spread(step)
        return self.look

    def _spread(self, step: int) -> bool:
        """Whether a step turns out to bring about more than was known."""
        seen = self.seen[step]
        if seen is not None and all(self.at(step, var) == values for var, values in seen.items()):
            return False
        domain = _Here(self, step)
        rows, left = self.look.happenings[step].rows(domain)
        self.look.rows[step], self.seen[step] = rows, domain.asked
        known = (self.left[step], [self.settling.get(var, 0) >> step & 1 for var in left])
        mask = 1 << step
        for var, (values, kept) in left.items():
            self.changing[var] = self.changing.get(var, 0) | mask
            if kept or step == self.end or self.graph.conditions[step]:
                self.settling[var] = self.settling.get(var, 0) & ~mask
            else:
                self.settling[var] = self.settling.get(var, 0) | mask
            if len(values) > MOST_VALUES:
                raise TooManyValuesError
        self.left[step] = {var: frozenset(values) for var, (values, _) in left.items()}
        return known != (self.left[step], [self.settling.get(var, 0) >> step & 1 for var in left])

    def at(self, step: int, var: Var) -> Set[Value]:
        """The values a thing can have just before a step."""
        came = self.changing.get(var, 0) & ~self.after[step]
        if not self.again[step]:
            came &= ~(1 << step)
        anew = self.settling.get(var, 0) & self.before[step]
        values: set[Value] = set() if anew else {self.scene.at_first(var)}
        for settled in bits(anew):
            came &= ~self.before[settled]
        for other in bits(came):
            values |= self.left[other].get(var, frozenset())
        return values


class _Here:
    """What can be the case just before one step; notes what was asked for."""

    def __init__(self, spreading: _Spreading, step: int) -> None:
        self.spreading, self.step = spreading, step
        self.asked: dict[Var, Set[Value]] = {}

    def get(self, var: Var) -> Set[Value]:
        if var not in self.asked:
            self.asked[var] = self.spreading.at(self.step, var)
        return self.asked[var]


def _sure_order(graph: StepGraph) -> list[int]:
    """For every step, and for the end, the mask of those that are always done for good before it.

    Where somebody may go back, steps of the phase may come once more after any other: there only phases are sure.
    """
    phase_of = graph.order.phase_of
    goes_back = {phase_of[asking] for asking in graph.repeats}
    earlier: dict[int, int] = {}
    for step, phase in enumerate(phase_of):
        earlier[phase] = earlier.get(phase, 0) | 1 << step
    before = [
        sum(mask for phase, mask in earlier.items() if phase < phase_of[step]) if phase_of[step] in goes_back else mask
        for step, mask in enumerate(graph.order.ancestors())
    ]
    return [*before, (1 << len(phase_of)) - 1]
