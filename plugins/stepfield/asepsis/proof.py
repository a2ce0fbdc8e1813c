"""What the exploration proves: every slip told once over all scenarios, and what stands behind "none found".

A scenario is one settling of the choices, and of those answers that decide whether the slip occurs.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from .explore import Answers, Exploration, explore
from .graph import StepGraph
from .trace import cause_of
from .world import Slip, SlipKey

DEFAULT_LIMIT = 200_000
"""How many states one scenario may have before the search gives up and says so."""


@dataclass(frozen=True, slots=True)
class Occurrence:
    """One slip: where it occurs, whether every order of those scenarios has it, a shortest order and its cause.

    ``witness`` is (step, answer) pairs for the first scenario; ``cause`` the step that brought the slip about, if any.
    """

    slip: Slip
    scenarios: tuple[Mapping[str, str], ...]
    always: bool
    witness: tuple[tuple[int, str | None], ...]
    cause: int | None


@dataclass(frozen=True, slots=True)
class Proof:
    """All explorations of one protocol and what they came to.

    ``never`` are the steps no scenario reaches (only told when every scenario was explored to the end).
    """

    graph: StepGraph
    explorations: tuple[Exploration, ...]
    occurrences: tuple[Occurrence, ...]
    never: tuple[int, ...]

    @property
    def complete(self) -> bool:
        """Whether every order of every scenario was explored."""
        return all(found.complete for found in self.explorations)

    @property
    def states(self) -> int:
        """How many states were looked at."""
        return sum(len(found.parents) for found in self.explorations)


def scenarios_of(graph: StepGraph) -> Iterator[dict[str, str]]:
    """Every settling of the choices, in the order they are declared."""
    choices = graph.protocol.choices
    for picked in itertools.product(*([option.value for option, _ in choice.options] for choice in choices)):
        yield {choice.id.value: option for choice, option in zip(choices, picked, strict=True)}


def prove(graph: StepGraph, limit: int = DEFAULT_LIMIT) -> Proof:
    """Explores every scenario and merges what was seen; ``limit`` bounds the states of one scenario."""
    explorations = tuple(explore(graph, settled, limit) for settled in scenarios_of(graph))
    keys = dict.fromkeys(key for found in explorations for key in found.slips)
    occurrences = [_occurrence(key, explorations) for key in keys]
    happened = {step for found in explorations for step in found.happened}
    whole = all(found.complete for found in explorations)
    never = tuple(step for step in range(len(graph.steps)) if whole and step not in happened)
    return Proof(graph, explorations, tuple(occurrences), never)


def _occurrence(key: SlipKey, explorations: tuple[Exploration, ...]) -> Occurrence:
    having = [found for found in explorations if key in found.slips]
    scenarios: list[Mapping[str, str]] = []
    always = True
    for found in having:
        seen = _sightings(key, found)
        decisive = _decisive(found, seen)
        given = dict.fromkeys(_project(found, node, decisive) for node, _, _ in seen)
        scenarios += [{**found.settled, **dict(answers)} for answers in given]
        always = always and found.complete and not any(_avoidable(key, found, answers) for answers in given)
    node, step, answer = _sightings(key, having[0])[0]
    last = [] if step is None else [(step, answer)]
    witness = (*having[0].way_to(node), *last)
    slip = having[0].slips[key]
    return Occurrence(slip, tuple(scenarios), always, witness, cause_of(having[0].graph, slip, witness))


Sighting = tuple[int, int | None, str | None]
"""Node, step and answer at which a slip shows; step None at an end."""


def _sightings(key: SlipKey, found: Exploration) -> list[Sighting]:
    """Everywhere a slip shows, the shortest way first."""
    seen: list[Sighting] = []
    for node, edges in enumerate(found.edges):
        seen += [(node, edge.step, edge.answer) for edge in edges if key in edge.slips]
        if key in found.ends.get(node, ()):
            seen.append((node, None, None))
    return seen


def _decisive(found: Exploration, seen: list[Sighting]) -> tuple[int, ...]:
    """The tracked questions (by position) some of whose answers keep the slip away."""
    step = seen[0][1]
    nodes = [node for node, edges in enumerate(found.edges) if any(edge.step == step for edge in edges)]
    usual = nodes if step is not None else list(found.ends)
    failing = [node for node, _, _ in seen]
    return tuple(
        position
        for position in range(len(found.graph.tracked))
        if {found.answers[node][position] for node in failing} < {found.answers[node][position] for node in usual}
    )


def _project(found: Exploration, node: int, decisive: tuple[int, ...]) -> tuple[tuple[str, str], ...]:
    given: Answers = found.answers[node]
    steps = found.graph.steps
    return tuple(
        (steps[found.graph.tracked[position]].id.value, answer)
        for position in decisive
        if (answer := given[position]) is not None
    )


def _avoidable(key: SlipKey, found: Exploration, answers: tuple[tuple[str, str], ...]) -> bool:
    """Whether some whole order with these answers ends without the slip."""
    wanted = {found.graph.tracked.index(found.graph.index[name]): answer for name, answer in answers}
    reached, stack = {0}, [0]
    while stack:
        node = stack.pop()
        if node in found.ends:
            fits = all(found.answers[node][position] == answer for position, answer in wanted.items())
            if fits and key not in found.ends[node]:
                return True
        for edge in found.edges[node]:
            if edge.to not in reached and key not in edge.slips:
                reached.add(edge.to)
                stack.append(edge.to)
    return False
