"""Every order of a small protocol, one by one: which slips can happen, where, after how many steps, and whether always.

States are kept whole and only equal ones are seen as one, so that repeats end; nothing else is saved or skipped.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from tests.oracle.naive import Scene, Slip, World
from tests.oracle.naive_effects import at_the_end, perform

Settling = tuple[tuple[str, str], ...]
Answers = dict[str, str]


class TooManyStatesError(Exception):
    """The protocol is not small: it has more states than the search may hold."""


@dataclass
class Verdict:
    """What is known of one slip. ``clean`` and ``slipping``: final answers of complete runs without and with it."""

    clean: set[Settling] = field(default_factory=set)
    slipping: set[Settling] = field(default_factory=set)


@dataclass
class Runs:
    """All runs of one settling of the choices, as a graph of whole states."""

    edges: list[list[tuple[str, str | None, frozenset[Slip], int]]]
    ends: dict[int, tuple[frozenset[Slip], Settling]]
    depth: list[int]


def unfolded(steps: list[dict[str, Any]]) -> dict[str, dict[str, Any]]:
    """Steps by id."""
    return {step["id"]: step for step in steps}


def direct_order(protocol: dict[str, Any]) -> dict[str, set[str]]:
    """Which steps come right before each step: phases, lanes, and ``after``."""
    before: dict[str, set[str]] = {}
    earlier_phases: set[str] = set()
    for phase in protocol["phases"]:
        last: dict[str, str] = {}
        for step in phase["steps"]:
            lanes = lanes_of(step)
            before[step["id"]] = (
                earlier_phases | {last[role] for role in lanes if role in last} | set(step.get("after", []))
            )
            last |= dict.fromkeys(lanes, step["id"])
        earlier_phases = earlier_phases | {step["id"] for step in phase["steps"]}
    return before


def lanes_of(step: dict[str, Any]) -> list[str]:
    """Every role that does the step."""
    return [step["role"], *step.get("with", [])]


def undone_by(protocol: dict[str, Any], step: dict[str, Any]) -> set[str]:
    """The steps of the asking step's lane that a repeat sends back to: from the named one to the asking one."""
    for phase in protocol["phases"]:
        lane = [other["id"] for other in phase["steps"] if step["role"] in lanes_of(other)]
        if step in phase["steps"]:
            return set(lane[lane.index(step["repeat"]["from"]) : lane.index(step["id"]) + 1])
    raise KeyError(step["id"])


@dataclass(frozen=True)
class Place:
    """How far a run has come: what was done, what was passed over, and the answers that stand."""

    done: frozenset[str] = frozenset()
    skipped: frozenset[str] = frozenset()
    answers: Settling = ()

    @property
    def settled(self) -> frozenset[str]:
        """Steps that others need not wait for any more."""
        return self.done | self.skipped


class Walk:
    """The order of one protocol under one settling of its choices."""

    def __init__(self, protocol: dict[str, Any], choices: Settling) -> None:
        self.protocol = protocol
        self.choices = dict(choices)
        self.steps = unfolded([step for phase in protocol["phases"] for step in phase["steps"]])
        self.before = direct_order(protocol)

    def met(self, step: dict[str, Any], place: Place) -> bool:
        """Whether every condition of the step holds; one on a step that gave no answer does not."""
        known = {**self.choices, **dict(place.answers)}
        for name, options in step.get("when", {}).items():
            if known.get(name) not in ([options] if isinstance(options, str) else options):
                return False
        return True

    def ready(self, place: Place) -> list[str]:
        """Steps whose turn it is."""
        return [name for name in self.steps if name not in place.settled and self.before[name] <= place.settled]

    def pass_over(self, place: Place) -> Place:
        """Skips, the moment their turn comes, the steps whose conditions are not met."""
        while True:
            skipped = {name for name in self.ready(place) if not self.met(self.steps[name], place)}
            if not skipped:
                return place
            place = Place(place.done, place.skipped | skipped, place.answers)

    def after(self, place: Place, name: str) -> Iterator[tuple[str | None, Place]]:
        """Where a run stands after the step, for each answer it may get."""
        step = self.steps[name]
        done = Place(place.done | {name}, place.skipped, place.answers)
        if "asks" not in step:
            yield None, self.pass_over(done)
            return
        for answer in step["asks"]["answers"]:
            answers = tuple(sorted({**dict(place.answers), name: answer}.items()))
            now = Place(done.done, done.skipped, answers)
            if "repeat" in step and step["repeat"]["answer"] == answer:
                undone = undone_by(self.protocol, step)
                kept = tuple((asked, given) for asked, given in answers if asked not in undone)
                now = Place(now.done - undone, now.skipped - undone, kept)
            yield answer, self.pass_over(now)


def settlings(protocol: dict[str, Any]) -> list[Settling]:
    """Every way of settling the declared choices."""
    pairs = [[(name, option) for option in choice["options"]] for name, choice in protocol.get("choices", {}).items()]
    return list(itertools.product(*pairs))


def run_all(scene: Scene, protocol: dict[str, Any], choices: Settling, limit: int = 50_000) -> Runs:
    """Every state a run can reach, nearest first."""
    walk = Walk(protocol, choices)
    start = (World(scene), walk.pass_over(Place()))
    numbers = {(start[0].frozen(), start[1]): 0}
    states, runs = [start], Runs([], {}, [0])
    for number, (world, place) in enumerate(states):
        ready = walk.ready(place)
        runs.edges.append([])
        if not ready:
            runs.ends[number] = (frozenset(at_the_end(world)), place.answers)
        for name in ready:
            now = world.copy()
            slips = frozenset(perform(now, walk.steps[name]))
            for answer, there in walk.after(place, name):
                key = (now.frozen(), there)
                if key not in numbers:
                    numbers[key] = len(states)
                    states.append((now, there))
                    runs.depth.append(runs.depth[number] + 1)
                runs.edges[number].append((name, answer, slips, numbers[key]))
        if len(states) > limit:
            raise TooManyStatesError
    return runs


def judge(runs: Runs) -> dict[Slip, Verdict]:
    """Each slip that some run makes, and what becomes of runs with and without it."""
    starts: dict[Slip, set[int]] = defaultdict(set)
    for slip, _, there in _made(runs):
        starts[slip].add(there)
    verdicts = {}
    for slip, after in starts.items():
        with_it, avoiding = _reached(runs, after, None), _reached(runs, {0}, slip)
        verdicts[slip] = Verdict(
            {answers for end, (slips, answers) in runs.ends.items() if end in avoiding and slip not in slips},
            {answers for end, (_, answers) in runs.ends.items() if end in with_it},
        )
    return verdicts


def shortest(runs: Runs, slip: Slip, answers: Answers) -> int | None:
    """Steps up to and including the slip in a shortest run that can still end with these answers."""
    lengths = []
    for made, length, there in _made(runs):
        if made == slip:
            ends = (runs.ends[end][1] for end in _reached(runs, {there}, None) if end in runs.ends)
            if any(answers.items() <= dict(end).items() for end in ends):
                lengths.append(length)
    return min(lengths, default=None)


def _made(runs: Runs) -> Iterator[tuple[Slip, int, int]]:
    """Every slip with the number of steps up to it and the state right after it."""
    for number, edges in enumerate(runs.edges):
        for _, _, slips, there in edges:
            yield from ((slip, runs.depth[number] + 1, there) for slip in slips)
        for slip in runs.ends.get(number, (frozenset(), ()))[0]:
            yield slip, runs.depth[number], number


def _reached(runs: Runs, starts: set[int], without: Slip | None) -> set[int]:
    """States that can be reached, by steps that do not make the given slip."""
    seen, waiting = set(starts), sorted(starts)
    while waiting:
        for _, _, slips, there in runs.edges[waiting.pop()]:
            if there not in seen and without not in slips:
                seen.add(there)
                waiting.append(there)
    return seen
