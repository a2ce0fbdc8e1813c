"""How one moment of a protocol leads to the next: whose turn it is, what is answered, settled and forgotten.

A moment is (steps done, world, what is settled). A choice is settled only when the turn of a step that looks at it has
come, and forgotten when no step looks at it any more: choices that have nothing to do with one another do not multiply.
Skipped steps cost nothing.
"""

from __future__ import annotations

from collections.abc import Iterator

from .footprint import Footprints
from .forget import Forgetting
from .graph import StepGraph
from .happen import do_step
from .nearness import nearness_of
from .order import bits
from .persistent import PersistentSets
from .world import Packed, Slip, SlipKey, World

Settled = tuple[str | None, ...]
"""What each choice and each tracked question stands at; None where that is open, or of no more use."""
Picks = tuple[tuple[int, str], ...]
"""Choices settled on the way: (position among the choices looked at, option)."""
Moment = tuple[int, int, Settled]
"""Steps done (mask), world (its number), what is settled."""
Move = tuple[int, str | None, tuple[SlipKey, ...], Moment, Picks]
"""Step, its answer, the slips seen, the moment behind it, and the choices settled to get there."""

Go = tuple[int, int, dict[int, int]]
"""Step, the steps done behind it, and the numbers of worlds when what is of no more use is left out.

Behind a step with several ways to go on the steps done are -1: these depend on what is settled.
"""
MOST_TURNS = 20_000


class Stepping:
    """The moves of one protocol; worlds met are numbered and every step in every world happens once.

    With ``reduced``, of orders that make no difference to one another only some are tried: the same slips and the same
    ends are found, but not every moment at which somebody may stand.
    """

    def __init__(self, graph: StepGraph, *, reduced: bool) -> None:
        self.graph = graph
        looked_at = {part.choice for parts in graph.conditions for part in parts}
        choices = [choice for choice in graph.protocol.choices if choice.id.value in looked_at]
        self.choices = tuple(choice.id.value for choice in choices)
        self.options = [tuple(option.value for option, _ in choice.options) for choice in choices]
        # A condition on a question that may come later makes the moment of skipping matter: nothing is left out then.
        footprints = Footprints(graph, nearness_of(graph)) if reduced else None
        self.persistent = PersistentSets(graph, footprints) if footprints and not _asked_late(graph) else None
        self.choice_slot = {name: position for position, name in enumerate(self.choices)}
        self.slot = {question: len(choices) + position for position, question in enumerate(graph.tracked)}
        self.users = self._users()
        self.all_done = (1 << len(graph.steps)) - 1
        self.phase_mask = self._phase_masks()
        self.lane_masks = [sum(1 << step for step in lane) for lane in graph.order.lanes.values()]
        self.conditional = sum(1 << step for step, parts in enumerate(graph.conditions) if parts)
        self.worlds: list[Packed] = []
        self.slips: dict[SlipKey, Slip] = {}
        self.world_number: dict[Packed, int] = {}
        self.results: list[dict[int, tuple[int, tuple[SlipKey, ...]]]] = [{} for _ in graph.steps]
        self.forgetting = Forgetting(graph, footprints) if footprints else None
        self.simpler: dict[tuple[int, int], dict[int, int]] = {}
        self.last_repeat_first = [(asking, undone) for asking, (_, undone) in sorted(graph.repeats.items())][::-1]
        self.turns: dict[int, tuple[Go, ...]] = {}
        self.next: dict[int, tuple[int, ...]] = {}
        self.nothing: Settled = (None,) * (len(self.choices) + len(self.slot))

    def starts(self) -> list[tuple[Moment, Picks]]:
        """The first moments, one for each way to settle the choices whose turn it is."""
        return self.reach(0, self.intern(World(self.graph).pack()), self.nothing)

    def moves(self, moment: Moment, only: int = -1) -> list[Move]:
        """Every step that can happen next, once for each answer that makes a difference; ``only`` those of a mask."""
        done, before, settled = moment
        found: list[Move] = []
        for step, then_done, simpler in self.turn(done):
            if not only >> step & 1:
                continue
            known = self.results[step].get(before)
            after, slips = self.happen(step, before) if known is None else known
            if then_done >= 0:
                world = simpler.get(after)
                if world is None:
                    world = self.simplified(after, then_done)
                then_settled = settled if settled == self.nothing else self.forget(then_done, settled)
                found.append((step, None, slips, (then_done, world, then_settled), ()))
                continue
            for answer, left_done, left_settled in self.outcomes(step, done, settled):
                for then, picks in self.reach(left_done, after, left_settled):
                    found.append((step, answer, slips, then, picks))
        return found

    def turn(self, done: int) -> tuple[Go, ...]:
        """The steps to go on with, each with what follows from it whatever the world is; remembered for a while."""
        found = self.turns.get(done)
        if found is None:
            if len(self.turns) >= MOST_TURNS:
                self.turns.clear()
            found = self.turns[done] = tuple(self._go(step, done) for step in self.tried(done))
        return found

    def _go(self, step: int, done: int) -> Go:
        then_done = done | 1 << step
        asks = self.graph.steps[step].asks is not None and (step in self.slot or step in self.graph.repeats)
        conditional = self.conditional & ~then_done
        if asks or (conditional and any(conditional >> other & 1 for other in self.ready(then_done))):
            return step, -1, {}
        return step, then_done, self.simpler.setdefault(self.noticed(then_done), {})

    def tried(self, done: int) -> tuple[int, ...]:
        """The steps to go on with: those whose turn it is, or enough of them."""
        ready = self.ready(done)
        if self.persistent is None or len(ready) < 2:
            return ready
        left = self.all_done & ~done & self.phase_mask[ready[0]]
        return self.persistent.of(ready, left, self.to_come(left) & done)

    def ready(self, done: int) -> tuple[int, ...]:
        """The steps whose turn it is; all before them is done or skipped; remembered for a while."""
        found = self.next.get(done)
        if found is None:
            if len(self.next) >= MOST_TURNS:
                self.next.clear()
            found = self.next[done] = tuple(self._ready(done))
        return found

    def _ready(self, done: int) -> list[int]:
        left = self.all_done & ~done
        left &= self.phase_mask[(left & -left).bit_length() - 1]
        first = left
        if not self.graph.repeats:
            # Nobody goes back, so only the first step left in each lane can be ready.
            first = 0
            for lane in self.lane_masks:
                own = left & lane
                first |= own & -own
        before, found = self.graph.order.before, []
        while first:
            step = (first & -first).bit_length() - 1
            first &= first - 1
            if not before[step] & ~done:
                found.append(step)
        return found

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

    def reach(self, done: int, world: int, settled: Settled) -> list[tuple[Moment, Picks]]:
        """The moments that follow, one for each way to settle the choices whose turn it is."""
        return [
            ((then_done, self.simplified(world, then_done), self.forget(then_done, then_settled)), picks)
            for then_done, then_settled, picks in self.pass_over(done, settled)
        ]

    def simplified(self, world: int, done: int) -> int:
        """The world without what no step to come can notice."""
        if self.forgetting is None:
            return world
        noticed = self.noticed(done)
        simpler = self.simpler.setdefault(noticed, {})
        found = simpler.get(world)
        if found is None:
            found = simpler[world] = self.intern(self.forgetting.forgotten(self.worlds[world], *noticed))
        return found

    def noticed(self, done: int) -> tuple[int, int]:
        """The masks of subjects and of facts that the steps to come can notice."""
        if self.forgetting is None:
            return -1, -1
        return self.forgetting.matters(self.to_come(self.all_done & ~done))

    def to_come(self, left: int) -> int:
        """The steps left, and those that may come once more: what a repeat takes back may itself ask and repeat."""
        for asking, undone in self.last_repeat_first:
            left |= undone if left >> asking & 1 else 0
        return left

    def pass_over(self, done: int, settled: Settled) -> Iterator[tuple[int, Settled, Picks]]:
        """Marks as done each step whose turn it is and whose condition is not met, settling choices as they come up."""
        stack: list[tuple[int, Settled, Picks]] = [(done, settled, ())]
        while stack:
            done, settled, picks = stack.pop()
            open_choice, changed = None, True
            while changed and open_choice is None and self.conditional & ~done:
                changed = False
                for step in self.ready(done):
                    if not self.conditional >> step & 1:
                        continue
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
        if settled == self.nothing:
            return settled
        left, users = ~done, self.users
        over = [slot for slot, given in enumerate(settled) if given is not None and not users[slot] & left]
        if not over:
            return settled
        known = list(settled)
        for slot in over:
            known[slot] = None
        return tuple(known)

    def happen(self, step: int, before: int) -> tuple[int, tuple[SlipKey, ...]]:
        """The world after a step, remembered: many orders meet the same world."""
        result = self.results[step].get(before)
        if result is None:
            world = World(self.graph, self.worlds[before])
            slips = self.note(do_step(self.graph, self.graph.deeds[step], world))
            result = self.results[step][before] = (self.intern(world.pack()), slips)
        return result

    def happened(self) -> dict[int, set[tuple[int, int]]]:
        """For each step that did happen the numbers of the worlds just before and just after it."""
        return {
            step: {(before, after) for before, (after, _) in results.items()}
            for step, results in enumerate(self.results)
            if results
        }

    def note(self, slips: list[Slip]) -> tuple[SlipKey, ...]:
        """Remembers slips; their keys, each once."""
        for slip in slips:
            self.slips.setdefault(slip.key, slip)
        return tuple(dict.fromkeys(slip.key for slip in slips))

    def intern(self, packed: Packed) -> int:
        """The number of a world."""
        number = self.world_number.setdefault(packed, len(self.worlds))
        if number == len(self.worlds):
            self.worlds.append(packed)
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
