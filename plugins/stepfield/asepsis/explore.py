"""Every order of one protocol, with every choice and every answer, explored breadth-first.

A node is (steps done, world, what is settled). A choice is settled only when the turn of a step that looks at it has
come, and forgotten when no step looks at it any more: choices that have nothing to do with one another do not multiply.
Skipped steps cost nothing. Every transition is kept, because "does every order fail?" is asked afterwards.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, field

from ..language.model import Level
from .graph import StepGraph
from .happen import do_step, end_slips
from .order import bits
from .persistent import PersistentSets
from .world import Packed, Slip, SlipKey, World

Settled = tuple[str | None, ...]
"""What each choice and each tracked question stands at; None where that is open, or of no more use."""
Picks = tuple[tuple[int, str], ...]
"""Choices settled on the way along an edge: (position among the graph's choices looked at, option)."""


@dataclass(frozen=True, slots=True)
class Edge:
    """One step happening: from the node it is listed under to node ``to``, with the slips seen on the way.

    ``picks`` are the choices that had to be settled before the next steps' turn could come.
    """

    step: int
    answer: str | None
    to: int
    slips: tuple[SlipKey, ...]
    picks: Picks


@dataclass(slots=True)
class Exploration:
    """All that can happen.

    ``starts`` are the first nodes with the choices settled for them. A node is (``done``, ``world``, ``settled``) at
    its number; ``ends`` are the nodes with nothing left to do, with the slips of the end. ``happened`` maps a step to
    the pairs (world before, world after), as numbers into ``worlds``. ``reduced`` tells that orders that make no
    difference were left out; ``complete`` is false when the bound on states was reached.
    """

    graph: StepGraph
    choices: tuple[str, ...]
    reduced: bool
    starts: list[tuple[int, Picks]] = field(default_factory=list)
    done: list[int] = field(default_factory=list)
    world: list[int] = field(default_factory=list)
    settled: list[Settled] = field(default_factory=list)
    edges: list[list[Edge]] = field(default_factory=list)
    ends: dict[int, tuple[SlipKey, ...]] = field(default_factory=dict)
    slips: dict[SlipKey, Slip] = field(default_factory=dict)
    worlds: list[Packed] = field(default_factory=list)
    happened: dict[int, set[tuple[int, int]]] = field(default_factory=dict)
    complete: bool = True

    def answers(self, node: int) -> Settled:
        """The answers to the graph's tracked questions, as known at a node."""
        return self.settled[node][len(self.choices) :]

    def levels(self, step: int, subject: int, *, after: bool = False) -> frozenset[Level]:
        """Every level the outside of a subject can have just before (or after) a step; empty if it never happens."""
        numbers = {pair[1] if after else pair[0] for pair in self.happened.get(step, ())}
        return frozenset(World(self.graph, self.worlds[number]).level(subject) for number in numbers)


def explore(graph: StepGraph, limit: int, *, reduced: bool = False) -> Exploration:
    """Explores up to ``limit`` nodes.

    With ``reduced``, of orders that make no difference to one another only some are tried: the same slips and the same
    ends are found, but not every moment at which somebody may stand.
    """
    return _Explorer(graph, limit, reduced).run()


class _Explorer:
    def __init__(self, graph: StepGraph, limit: int, reduced: bool) -> None:
        self.graph, self.limit = graph, limit
        looked_at = {part.choice for parts in graph.conditions for part in parts}
        self.choices = [choice for choice in graph.protocol.choices if choice.id.value in looked_at]
        self.options = [tuple(option.value for option, _ in choice.options) for choice in self.choices]
        names = tuple(choice.id.value for choice in self.choices)
        # A condition on a question that may come later makes the moment of skipping matter: nothing is left out then.
        self.found = Exploration(graph, names, reduced and not _asked_late(graph))
        self.persistent = PersistentSets(graph) if self.found.reduced else None
        self.choice_slot = {name: position for position, name in enumerate(names)}
        self.slot = {question: len(names) + position for position, question in enumerate(graph.tracked)}
        self.users = self._users()
        self.all_done = (1 << len(graph.steps)) - 1
        self.phase_mask = self._phase_masks()
        self.world_number: dict[Packed, int] = {}
        self.results: dict[tuple[int, int], tuple[int, tuple[SlipKey, ...]]] = {}
        self.node_number: dict[tuple[int, int, Settled], int] = {}
        self.queue: deque[int] = deque()

    def run(self) -> Exploration:
        found, empty = self.found, (None,) * (len(self.choices) + len(self.slot))
        found.starts.extend(self.reach(0, self.intern(World(self.graph).pack()), empty))
        while self.queue:
            node = self.queue.popleft()
            if found.done[node] == self.all_done:
                found.ends[node] = self.note(end_slips(self.graph, World(self.graph, found.worlds[found.world[node]])))
                continue
            found.edges[node].extend(self.leave(node))
            if len(found.done) > self.limit:
                found.complete = False
                break
        return found

    def leave(self, node: int) -> Iterator[Edge]:
        """Every step that can happen next, once for each answer that makes a difference."""
        done, before, settled = self.found.done[node], self.found.world[node], self.found.settled[node]
        for step in self.tried(done):
            after, slips = self.happen(step, before)
            for answer, then_done, then_settled in self.outcomes(step, done, settled):
                for to, picks in self.reach(then_done, after, then_settled):
                    yield Edge(step, answer, to, slips, picks)

    def tried(self, done: int) -> tuple[int, ...]:
        """The steps to go on with: those whose turn it is, or enough of them."""
        ready = tuple(self.ready(done))
        if self.persistent is None or len(ready) < 2:
            return ready
        left = self.all_done & ~done & self.phase_mask[ready[0]]
        redone = 0
        for asking, (_, undone) in self.graph.repeats.items():
            redone |= undone & done if left >> asking & 1 else 0
        return self.persistent.of(ready, left, redone)

    def ready(self, done: int) -> Iterator[int]:
        """The steps whose turn it is; all before them is done or skipped."""
        left = self.all_done & ~done
        first = (left & -left).bit_length() - 1
        before = self.graph.order.before
        return (step for step in bits(left & self.phase_mask[first]) if before[step] & ~done == 0)

    def outcomes(self, step: int, done: int, settled: Settled) -> Iterator[tuple[str | None, int, Settled]]:
        """What a step can leave behind: (answer, steps done, what is settled)."""
        asks, repeat = self.graph.steps[step].asks, self.graph.repeats.get(step)
        if asks is None or (step not in self.slot and repeat is None):
            yield None, done | 1 << step, settled
            return
        for answer in dict.fromkeys(text.value for text in asks.answers):
            known = list(settled)
            if step in self.slot:
                known[self.slot[step]] = answer
            if repeat is None or repeat[0] != answer:
                yield answer, done | 1 << step, tuple(known)
                continue
            for question in bits(repeat[1]):
                if question in self.slot:
                    known[self.slot[question]] = None
            yield answer, done & ~repeat[1], tuple(known)

    def reach(self, done: int, world: int, settled: Settled) -> list[tuple[int, Picks]]:
        """The nodes that follow, one for each way to settle the choices whose turn it is; new nodes are queued."""
        return [
            (self.node(then_done, world, self.forget(then_done, then_settled)), picks)
            for then_done, then_settled, picks in self.pass_over(done, settled)
        ]

    def node(self, done: int, world: int, settled: Settled) -> int:
        key = (done, world, settled)
        node = self.node_number.get(key)
        if node is None:
            node = self.node_number[key] = len(self.found.done)
            self.found.done.append(done)
            self.found.world.append(world)
            self.found.settled.append(settled)
            self.found.edges.append([])
            self.queue.append(node)
        return node

    def pass_over(self, done: int, settled: Settled) -> Iterator[tuple[int, Settled, Picks]]:
        """Marks as done each step whose turn it is and whose condition is not met, settling choices as they come up."""
        stack: list[tuple[int, Settled, Picks]] = [(done, settled, ())]
        while stack:
            done, settled, picks = stack.pop()
            open_choice, changed = None, True
            while changed and open_choice is None and done != self.all_done:
                changed = False
                for step in self.ready(done):
                    met, open_choice = self.judge(step, settled)
                    if open_choice is not None:
                        break
                    if not met:
                        done |= 1 << step
                        changed = True
            if open_choice is None:
                yield done, settled, picks
                continue
            for option in reversed(self.options[open_choice]):
                known = (*settled[:open_choice], option, *settled[open_choice + 1 :])
                stack.append((done, known, (*picks, (open_choice, option))))

    def judge(self, step: int, settled: Settled) -> tuple[bool, int | None]:
        """Whether the step's conditions are met, or which choice must be settled to tell."""
        undecided = None
        for part in self.graph.conditions[step]:
            slot = self.choice_slot[part.choice] if part.choice is not None else self.slot[part.question or 0]
            given = settled[slot]
            if given is None and part.choice is not None:
                undecided = slot if undecided is None else undecided
            elif given not in part.options:
                return False, None
        return True, undecided

    def forget(self, done: int, settled: Settled) -> Settled:
        """Opens again every choice that no step to come looks at."""
        return tuple(
            None if given is not None and self.users[position] & ~done == 0 else given
            for position, given in enumerate(settled)
        )

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

    def _users(self) -> list[int]:
        """For each choice the steps after which it is of no more use; answers are never forgotten."""
        users = [0] * len(self.choices) + [-1] * len(self.slot)
        for step, parts in enumerate(self.graph.conditions):
            for part in parts:
                if part.choice is not None:
                    users[self.choice_slot[part.choice]] |= 1 << step
        for asking, (_, undone) in self.graph.repeats.items():
            for position in range(len(self.choices)):
                users[position] |= 1 << asking if users[position] & undone else 0
        return users


def _asked_late(graph: StepGraph) -> bool:
    ancestors = graph.order.ancestors()
    return any(
        part.question is not None and not ancestors[step] >> part.question & 1
        for step, parts in enumerate(graph.conditions)
        for part in parts
    )
