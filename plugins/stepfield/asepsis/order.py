"""Which step must come before which: phases, lanes and ``after``. Pure graph work on step indices.

Sets of steps are bit masks: bit *i* stands for the step with index *i* in written order.
"""

from __future__ import annotations

import itertools
from collections import deque
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache

from ..language.model import Protocol


@dataclass(frozen=True, slots=True)
class Link:
    """One reason why step ``later`` waits for step ``earlier``: ``lane`` (of ``role``), ``after`` or ``phase``."""

    earlier: int
    later: int
    why: str
    role: str | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Order:
    """The order of one protocol.

    ``links`` are the lane and ``after`` links in written order; phases order everything else. ``before[i]`` is the mask
    of the steps that step *i* directly waits for, all steps of earlier phases included. ``loops`` are the cycles found,
    each a closed chain of links; an order with loops must not be explored.
    """

    phase_of: tuple[int, ...]
    lanes: Mapping[str, tuple[int, ...]]
    links: tuple[Link, ...]
    before: tuple[int, ...]
    loops: tuple[tuple[Link, ...], ...]

    def ancestors(self) -> tuple[int, ...]:
        """For every step the mask of all steps that always come before it; needs an order without loops."""
        return _ancestors(self)

    def sorted_steps(self) -> tuple[int, ...]:
        """The steps in one allowed order, the written one wherever it is free; steps of a loop are left out."""
        done = 0
        found: list[int] = []
        waiting = list(range(len(self.before)))
        while True:
            ready = next((step for step in waiting if self.before[step] & ~done == 0), None)
            if ready is None:
                return tuple(found)
            waiting.remove(ready)
            found.append(ready)
            done |= 1 << ready


def bits(mask: int) -> Iterator[int]:
    """The indices of the bits set in a mask, lowest first."""
    while mask:
        low = mask & -mask
        yield low.bit_length() - 1
        mask ^= low


@lru_cache(maxsize=2)
def _ancestors(order: Order) -> tuple[int, ...]:
    """Kept for the order worked on, as much asks for it; an order is known by itself, not by what it holds."""
    known: list[int] = [0] * len(order.before)
    for step in order.sorted_steps():
        mask = left = order.before[step]
        while left:
            # What comes before the earlier step as well need not be looked at once more.
            earlier = left.bit_length() - 1
            mask |= known[earlier]
            left &= ~(known[earlier] | 1 << earlier)
        known[step] = mask
    return tuple(known)


def order_of(protocol: Protocol) -> Order:
    """Reads the order of a protocol's steps; names that are no step are passed over (another rule reports them)."""
    index = {step.id.value: number for number, step in enumerate(protocol.steps)}
    phase_of = tuple(number for number, phase in enumerate(protocol.phases) for _ in phase.steps)
    lanes = _lanes(protocol)
    links = [
        Link(earlier, later, "lane", role)
        for role, lane in lanes.items()
        for earlier, later in itertools.pairwise(lane)
        if phase_of[earlier] == phase_of[later]
    ]
    for later, step in enumerate(protocol.steps):
        links += [Link(index[name.value], later, "after") for name in step.after if name.value in index]
    return Order(phase_of, lanes, tuple(links), _before(phase_of, links), _loops(phase_of, links))


def _lanes(protocol: Protocol) -> dict[str, tuple[int, ...]]:
    lanes: dict[str, list[int]] = {}
    for number, step in enumerate(protocol.steps):
        people = ([step.role] if step.role else []) + list(step.helpers)
        for role in dict.fromkeys(person.value for person in people):
            lanes.setdefault(role, []).append(number)
    return {role: tuple(lane) for role, lane in lanes.items()}


def _before(phase_of: tuple[int, ...], links: list[Link]) -> tuple[int, ...]:
    before, past, open_phase = [], 0, 0
    for step, phase in enumerate(phase_of):
        if phase != open_phase:
            past, open_phase = (1 << step) - 1, phase
        before.append(past)
    for link in links:
        before[link.later] |= 1 << link.earlier
    return tuple(before)


def _loops(phase_of: tuple[int, ...], links: list[Link]) -> tuple[tuple[Link, ...], ...]:
    """One shortest loop for each link that closes one, each set of steps once."""
    leaving: dict[int, list[Link]] = {}
    for link in links:
        if phase_of[link.earlier] <= phase_of[link.later]:
            leaving.setdefault(link.earlier, []).append(link)
    loops: dict[frozenset[int], tuple[Link, ...]] = {}
    for link in links:
        if phase_of[link.earlier] > phase_of[link.later]:
            back: tuple[Link, ...] | None = (Link(link.later, link.earlier, "phase"),)
        else:
            back = _shortest(leaving, link.later, link.earlier)
        if back is not None:
            loops.setdefault(frozenset(part.later for part in (link, *back)), (link, *back))
    return _without_overlaps(loops)


def _shortest(leaving: Mapping[int, list[Link]], start: int, goal: int) -> tuple[Link, ...] | None:
    if start == goal:
        return ()
    came: dict[int, Link | None] = {start: None}
    queue = deque([start])
    while queue:
        for link in leaving.get(queue.popleft(), ()):
            if link.later in came:
                continue
            came[link.later] = link
            if link.later == goal:
                chain, at = [], came[goal]
                while at is not None:
                    chain.append(at)
                    at = came[at.earlier]
                return tuple(reversed(chain))
            queue.append(link.later)
    return None


def _without_overlaps(loops: Mapping[frozenset[int], tuple[Link, ...]]) -> tuple[tuple[Link, ...], ...]:
    """Smallest loops first; a loop that shares a step with one already told is the same slip again."""
    told: list[tuple[Link, ...]] = []
    used: set[int] = set()
    for steps, loop in sorted(loops.items(), key=lambda entry: (len(entry[0]), sorted(entry[0]))):
        if not steps & used:
            told.append(loop)
            used |= steps
    return tuple(told)
