"""Every order onward from moments that are some steps in, fewest steps first."""

from __future__ import annotations

import heapq
from collections.abc import Callable, Hashable, Iterator
from dataclasses import dataclass
from typing import Generic, TypeVar

from .stepping import Moment, Picks, Settled, Stepping
from .way import Way
from .world import SlipKey

State = TypeVar("State", bound=Hashable)


@dataclass(frozen=True, slots=True)
class Seen(Generic[State]):
    """A moment whose turn it is, with ``step`` None; or a step that happens there, with the slips it shows."""

    node: int
    state: State
    step: int | None = None
    answer: str | None = None
    slips: tuple[SlipKey, ...] = ()


class Onward(Generic[State]):
    """A search over any kind of state; ``act`` tells what a step does to one, and what goes wrong.

    Nothing is looked at beyond moments for which ``over`` holds. ``complete`` is false when ``limit`` moments were not
    enough.
    """

    def __init__(
        self,
        stepping: Stepping,
        act: Callable[[int, State], tuple[State, tuple[SlipKey, ...]]],
        over: Callable[[int, State, Settled], bool],
        limit: int,
    ) -> None:
        self.stepping, self.act, self.over, self.limit = stepping, act, over, limit
        self.complete = True
        self._moments: list[Moment] = []
        self._number: dict[Moment, int] = {}
        self._depth: list[int] = []
        self._came: list[tuple[int, int | None, str | None, Picks]] = []
        self._heap: list[tuple[int, int]] = []
        self._states: list[State] = []
        self._state_number: dict[State, int] = {}
        self._acted: dict[tuple[int, int], tuple[int, tuple[SlipKey, ...]]] = {}

    def begin(self, done: int, state: State, settled: Settled, depth: int, origin: int) -> None:
        """Sets out from a moment some steps in; ``origin`` is any number that tells the caller which one it was."""
        self._add((done, self._intern(state), settled), depth, (origin, None, None, ()))

    def run(self) -> Iterator[Seen[State]]:
        """Everything that happens, so that what is seen first is seen after the fewest steps."""
        while self._heap:
            depth, node = heapq.heappop(self._heap)
            if depth > self._depth[node]:
                continue
            done, number, settled = self._moments[node]
            state = self._states[number]
            yield Seen(node, state)
            if done == self.stepping.all_done or self.over(done, state, settled):
                continue
            for step in self.stepping.ready(done):
                after, slips = self._happen(step, number)
                outcomes = list(self.stepping.outcomes(step, done, settled))
                if slips:
                    yield Seen(node, state, step, outcomes[0][0], slips)
                for answer, then_done, then_settled in outcomes:
                    for then, picks in self.stepping.reach(then_done, after, then_settled):
                        self._add(then, depth + 1, (node, step, answer, picks))
            if len(self._moments) > self.limit:
                self.complete = False
                return

    def way(self, node: int) -> tuple[int, Way, Picks]:
        """The origin, the steps from there to a moment, and the choices settled by them."""
        steps: list[tuple[int, str | None]] = []
        picks: list[tuple[int, str]] = []
        while True:
            before, step, answer, settled = self._came[node]
            picks += settled
            if step is None:
                return before, tuple(reversed(steps)), tuple(picks)
            steps.append((step, answer))
            node = before

    def is_end(self, node: int) -> bool:
        """Whether nothing is left to do."""
        return self._moments[node][0] == self.stepping.all_done

    def _happen(self, step: int, number: int) -> tuple[int, tuple[SlipKey, ...]]:
        acted = self._acted.get((step, number))
        if acted is None:
            state, slips = self.act(step, self._states[number])
            acted = self._acted[step, number] = (self._intern(state), slips)
        return acted

    def _add(self, moment: Moment, depth: int, came: tuple[int, int | None, str | None, Picks]) -> int:
        node = self._number.setdefault(moment, len(self._moments))
        if node == len(self._moments):
            self._moments.append(moment)
            self._depth.append(depth)
            self._came.append(came)
        elif depth >= self._depth[node]:
            return node
        self._depth[node], self._came[node] = depth, came
        heapq.heappush(self._heap, (depth, node))
        return node

    def _intern(self, state: State) -> int:
        number = self._state_number.setdefault(state, len(self._states))
        if number == len(self._states):
            self._states.append(state)
        return number
