"""All orders of a protocol at once, as one question to a solver: whether a slip can happen.

Every step stands in one slot; the state after a slot follows from the step that stands in it. Choices and answers are
left to the solver. Protocols that go back (``repeat``) do not fit into slots and are not asked about.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping

from stepfield.language.model import Protocol, Requirement, Step
from tests.oracle.solving.effects import after, wrong_at_the_end
from tests.oracle.solving.formulas import Bit, both, either, every, named, negated, pick, some
from tests.oracle.solving.world import Scene, Slip, World


def can_be_asked(protocol: Protocol) -> bool:
    """No step waits for itself, none goes back, and every question comes before the steps that look at its answer.

    Nor could things cover one another in a circle: which of them is outside would have no end of cases.
    """
    before = order_of(protocol)
    covers = {name: set(items) for name, items in Scene.of(protocol, ()).covers.items()}
    return all(name not in _all_before(name, covers) for name in covers) and all(
        step.repeat is None
        and step.id.value not in before[step.id.value]
        and all(part.name.value in before[step.id.value] for part in step.when if part.name.value in before)
        for step in protocol.steps
    )


class Question:
    """A protocol as formulas: ``known`` holds in every run of it, ``possible`` tells for each slip when it occurs.

    ``first`` tells when it occurs before any other has; ``slots`` which step stands where, ``options`` what is chosen
    and answered, ``done`` which steps are done.
    """

    def __init__(self, protocol: Protocol, requirements: tuple[Requirement, ...]) -> None:
        self.steps = {step.id.value: step for step in protocol.steps}
        self.known: list[Bit] = []
        self.possible: dict[Slip, Bit] = {}
        self.first: dict[Slip, Bit] = {}
        before = order_of(protocol)
        self.slots = self._slots(before)
        self.options, self.done = conditions_of(protocol, self.known)
        self._run(World.first(Scene.of(protocol, requirements)), self._done_in_slots())

    def _slots(self, before: Mapping[str, frozenset[str]]) -> list[dict[str, Bit]]:
        """For every slot the steps that may stand in it, and under which condition each does."""
        count = len(self.steps)
        behind = {name: sum(name in earlier for earlier in before.values()) for name in self.steps}
        slots: list[dict[str, Bit]] = [
            {
                name: named(f"{name} at {number}")
                for name in self.steps
                if len(before[name]) <= number < count - behind[name]
            }
            for number in range(count)
        ]
        where = {name: [number for number, slot in enumerate(slots) if name in slot] for name in self.steps}
        for name, numbers in where.items():
            self._one_of([slots[number][name] for number in numbers])
            for earlier, number in itertools.product(before[name], numbers):
                passed = (slots[other][earlier] for other in where[earlier] if other < number)
                self.known.append(either(negated(slots[number][name]), some(passed)))
        for slot in slots:
            self._one_of(list(slot.values()))
        return [dict.fromkeys(slot, True) if len(slot) == 1 else slot for slot in slots]

    def _one_of(self, bits: list[Bit]) -> None:
        self.known += exactly_one(bits)

    def _done_in_slots(self) -> list[dict[str, Bit]]:
        """As the slots; a step whose condition is not met leaves its slot empty."""
        return [{name: both(stands, self.done[name]) for name, stands in slot.items()} for slot in self.slots]

    def _run(self, world: World, slots: Iterable[Mapping[str, Bit]]) -> None:
        clean: Bit = True
        for slot in slots:
            changed, spoilt = dict(world.bits), []
            for name, done in slot.items():
                then = after(world, self.steps[name])
                for slip, bit in then.slips.items():
                    self._note(slip, both(done, bit), clean)
                    spoilt.append(both(done, bit))
                for key, bit in then.bits.items():
                    if key not in world.bits or bit is not world.bits[key]:
                        changed[key] = pick(done, bit, changed.get(key, False))
            clean = every((clean, *(negated(bit) for bit in spoilt)))
            world = World(world.scene, changed)
        for slip, bit in wrong_at_the_end(world).items():
            self._note(slip, bit, clean)

    def _note(self, slip: Slip, bit: Bit, clean: Bit) -> None:
        self.possible[slip] = either(self.possible.get(slip, False), bit)
        self.first[slip] = either(self.first.get(slip, False), both(bit, clean))


def exactly_one(bits: list[Bit]) -> list[Bit]:
    """One of them, and no two."""
    return [some(bits), *(some((negated(one), negated(other))) for one, other in itertools.combinations(bits, 2))]


def order_of(protocol: Protocol) -> dict[str, frozenset[str]]:
    """For every step all steps that must come before it: earlier phases, its people's lanes, and ``after``."""
    direct: dict[str, set[str]] = {}
    earlier: set[str] = set()
    for phase in protocol.phases:
        last: dict[str, str] = {}
        for step in phase.steps:
            people = {str(step.role), *map(str, step.helpers)}
            direct[step.id.value] = (
                earlier | {last[role] for role in people if role in last} | set(map(str, step.after))
            )
            last |= dict.fromkeys(people, step.id.value)
        earlier = earlier | {step.id.value for step in phase.steps}
    return {name: _all_before(name, direct) for name in direct}


def _all_before(name: str, direct: Mapping[str, set[str]]) -> frozenset[str]:
    found: set[str] = set()
    waiting = [name]
    while waiting:
        new = direct.get(waiting.pop(), set()) - found
        found |= new
        waiting.extend(new)
    return frozenset(found)


def conditions_of(protocol: Protocol, known: list[Bit]) -> tuple[dict[tuple[str, str], Bit], dict[str, Bit]]:
    """Every option and answer, and for every step whether it is done; that each has one value goes to ``known``.

    A question always comes before the steps that look at its answer, and a step that is passed over gives none.
    """
    options: dict[tuple[str, str], Bit] = {}
    for choice in protocol.choices:
        options |= {(choice.id.value, name.value): named(f"{choice.id}={name}") for name, _ in choice.options}
    for step in protocol.steps:
        answers = dict.fromkeys(answer.value for answer in step.asks.answers) if step.asks else {}
        options |= {(step.id.value, answer): named(f"{step.id}={answer}") for answer in answers}
    for name in dict.fromkeys(name for name, _ in options):
        known += exactly_one([bit for (of, _), bit in options.items() if of == name])
    steps = {step.id.value: step for step in protocol.steps}
    met: dict[str, Bit] = {}

    def judge(step: Step) -> Bit:
        if step.id.value not in met:
            parts = [some(options[part.name.value, option.value] for option in part.options) for part in step.when]
            asked = [judge(steps[part.name.value]) for part in step.when if part.name.value in steps]
            met[step.id.value] = every((*parts, *asked))
        return met[step.id.value]

    return options, {name: judge(step) for name, step in steps.items()}
