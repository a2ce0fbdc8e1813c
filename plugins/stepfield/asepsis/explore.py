"""Every order of one protocol under one settling of its choices, explored breadth-first.

A node is (steps done, world, answers given). Skipped steps cost nothing: they are passed over when their turn comes.
Breadth-first search makes the first way to a node a shortest one. Every transition is kept, because "does every order
fail?" is asked afterwards.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from ..language.model import Level
from .graph import StepGraph
from .happen import do_step, end_slips
from .order import bits
from .world import Packed, Slip, SlipKey, World

Answers = tuple[str | None, ...]
"""The answer each tracked question has had, None where it was not asked (again) yet."""


@dataclass(frozen=True, slots=True)
class Edge:
    """One step happening: from the node it is listed under to node ``to``, with the slips seen on the way."""

    step: int
    answer: str | None
    to: int
    slips: tuple[SlipKey, ...]


@dataclass(slots=True)
class Exploration:
    """All that can happen under one settling of the choices.

    Nodes are numbered in the order they were found, 0 is the start. ``parents[n]`` is (node, step, answer) on a
    shortest way to node *n*; ``ends`` are the nodes with nothing left to do, with the slips of the end. ``happened``
    maps a step to the pairs (world before, world after), as numbers into ``worlds``. ``complete`` is false when the
    bound on states was reached.
    """

    graph: StepGraph
    settled: Mapping[str, str]
    parents: list[tuple[int, int, str | None]] = field(default_factory=list)
    answers: list[Answers] = field(default_factory=list)
    edges: list[list[Edge]] = field(default_factory=list)
    ends: dict[int, tuple[SlipKey, ...]] = field(default_factory=dict)
    slips: dict[SlipKey, Slip] = field(default_factory=dict)
    worlds: list[Packed] = field(default_factory=list)
    happened: dict[int, set[tuple[int, int]]] = field(default_factory=dict)
    complete: bool = True

    def levels(self, step: int, subject: int, *, after: bool = False) -> frozenset[Level]:
        """Every level the outside of a subject can have just before (or after) a step; empty if it never happens."""
        numbers = {pair[1] if after else pair[0] for pair in self.happened.get(step, ())}
        return frozenset(World(self.graph, self.worlds[number]).level(subject) for number in numbers)

    def way_to(self, node: int) -> list[tuple[int, str | None]]:
        """A shortest order of (step, answer) from the start to a node."""
        way = []
        while node:
            node, step, answer = self.parents[node]
            way.append((step, answer))
        return way[::-1]


def explore(graph: StepGraph, settled: Mapping[str, str], limit: int) -> Exploration:
    """Explores every order, with every answer, under choices settled as told, up to ``limit`` nodes."""
    return _Explorer(graph, settled, limit).run()


class _Explorer:
    def __init__(self, graph: StepGraph, settled: Mapping[str, str], limit: int) -> None:
        self.graph, self.limit, self.found = graph, limit, Exploration(graph, settled)
        self.all_done = (1 << len(graph.steps)) - 1
        self.slot = {question: position for position, question in enumerate(graph.tracked)}
        self.phase_mask = self._phase_masks()
        self.world_number: dict[Packed, int] = {}
        self.results: dict[tuple[int, int], tuple[int, tuple[SlipKey, ...]]] = {}
        self.node_number: dict[tuple[int, int, Answers], int] = {}
        self.done: list[int] = []
        self.world: list[int] = []
        self.queue: deque[int] = deque()

    def run(self) -> Exploration:
        found = self.found
        self.reach(0, self.intern(World(self.graph).pack()), (None,) * len(self.slot), (0, -1, None))
        while self.queue:
            node = self.queue.popleft()
            if self.done[node] == self.all_done:
                found.ends[node] = self.note(end_slips(self.graph, World(self.graph, found.worlds[self.world[node]])))
                continue
            found.edges[node].extend(self.leave(node))
            if len(self.done) > self.limit:
                found.complete = False
                break
        return found

    def leave(self, node: int) -> Iterator[Edge]:
        """Every step that can happen next, once for each answer that makes a difference."""
        done, before, answers = self.done[node], self.world[node], self.found.answers[node]
        for step in self.ready(done):
            after, slips = self.happen(step, before)
            for answer, then_done, then_answers in self.outcomes(step, done, answers):
                yield Edge(step, answer, self.reach(then_done, after, then_answers, (node, step, answer)), slips)

    def ready(self, done: int) -> Iterator[int]:
        """The steps whose turn it is; all before them is done or skipped."""
        left = self.all_done & ~done
        first = (left & -left).bit_length() - 1
        before = self.graph.order.before
        return (step for step in bits(left & self.phase_mask[first]) if before[step] & ~done == 0)

    def outcomes(self, step: int, done: int, answers: Answers) -> Iterator[tuple[str | None, int, Answers]]:
        """What a step can leave behind: (answer, steps done, answers known)."""
        asks, repeat = self.graph.steps[step].asks, self.graph.repeats.get(step)
        if asks is None or (step not in self.slot and repeat is None):
            yield None, done | 1 << step, answers
            return
        for answer in dict.fromkeys(text.value for text in asks.answers):
            known = list(answers)
            if step in self.slot:
                known[self.slot[step]] = answer
            if repeat is None or repeat[0] != answer:
                yield answer, done | 1 << step, tuple(known)
                continue
            for question in bits(repeat[1]):
                if question in self.slot:
                    known[self.slot[question]] = None
            yield answer, done & ~repeat[1], tuple(known)

    def reach(self, done: int, world: int, answers: Answers, parent: tuple[int, int, str | None]) -> int:
        """The number of a node; a node not seen before is queued."""
        done = self.pass_over(done, answers)
        key = (done, world, answers)
        node = self.node_number.get(key)
        if node is None:
            node = self.node_number[key] = len(self.done)
            self.done.append(done)
            self.world.append(world)
            self.found.answers.append(answers)
            self.found.parents.append(parent)
            self.found.edges.append([])
            self.queue.append(node)
        return node

    def pass_over(self, done: int, answers: Answers) -> int:
        """Marks as done every step whose turn it is and whose condition is not met."""
        changed = True
        while changed and done != self.all_done:
            changed = False
            for step in self.ready(done):
                if self.graph.conditions[step] and not self.is_met(step, answers):
                    done |= 1 << step
                    changed = True
        return done

    def is_met(self, step: int, answers: Answers) -> bool:
        for part in self.graph.conditions[step]:
            if part.choice is not None:
                given: str | None = self.found.settled.get(part.choice)
            else:
                given = answers[self.slot[part.question]] if part.question is not None else None
            if given not in part.options:
                return False
        return True

    def happen(self, step: int, before: int) -> tuple[int, tuple[SlipKey, ...]]:
        """The world after a step, remembered: many orders meet the same world."""
        result = self.results.get((step, before))
        if result is None:
            world = World(self.graph, self.found.worlds[before])
            slips = self.note(do_step(self.graph, self.graph.deeds[step], world))
            result = self.results[step, before] = (self.intern(world.pack()), slips)
            self.found.happened.setdefault(step, set()).add((before, result[0]))
        return result

    def note(self, slips: list[Slip]) -> tuple[SlipKey, ...]:
        for slip in slips:
            self.found.slips.setdefault(slip.key, slip)
        return tuple(dict.fromkeys(slip.key for slip in slips))

    def intern(self, packed: Packed) -> int:
        number = self.world_number.setdefault(packed, len(self.found.worlds))
        if number == len(self.found.worlds):
            self.found.worlds.append(packed)
        return number

    def _phase_masks(self) -> list[int]:
        masks: dict[int, int] = {}
        for step, phase in enumerate(self.graph.order.phase_of):
            masks[phase] = masks.get(phase, 0) | 1 << step
        return [masks[phase] for phase in self.graph.order.phase_of]
