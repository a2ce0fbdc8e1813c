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
"""How many states the search looks at before it gives up and says so."""


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
    ``all_tried`` is false when the bound on states was reached before every scenario had its turn.
    """

    graph: StepGraph
    explorations: tuple[Exploration, ...]
    occurrences: tuple[Occurrence, ...]
    never: tuple[int, ...]
    all_tried: bool

    @property
    def complete(self) -> bool:
        """Whether every order of every scenario was explored."""
        return self.all_tried and all(found.complete for found in self.explorations)

    @property
    def states(self) -> int:
        """How many states were looked at."""
        return sum(len(found.parents) for found in self.explorations)


def scenarios_of(graph: StepGraph) -> Iterator[dict[str, str]]:
    """Every settling of the choices that some step looks at, in the order they are declared."""
    looked_at = {part.choice for parts in graph.conditions for part in parts}
    choices = [choice for choice in graph.protocol.choices if choice.id.value in looked_at]
    for picked in itertools.product(*([option.value for option, _ in choice.options] for choice in choices)):
        yield {choice.id.value: option for choice, option in zip(choices, picked, strict=True)}


def prove(graph: StepGraph, limit: int = DEFAULT_LIMIT) -> Proof:
    """Explores every scenario and merges what was seen; ``limit`` bounds the states of all of them together."""
    explorations, all_tried = _explore_all(graph, limit)
    keys = dict.fromkeys(key for found in explorations for key in found.slips)
    occurrences = [_occurrence(key, explorations) for key in keys]
    happened = {step for found in explorations for step in found.happened}
    whole = all_tried and all(found.complete for found in explorations)
    never = tuple(step for step in range(len(graph.steps)) if whole and step not in happened)
    return Proof(graph, explorations, tuple(occurrences), never, all_tried)


def _explore_all(graph: StepGraph, limit: int) -> tuple[tuple[Exploration, ...], bool]:
    explorations: list[Exploration] = []
    for settled in scenarios_of(graph):
        if limit <= 0:
            return tuple(explorations), False
        explorations.append(explore(graph, settled, limit))
        limit -= len(explorations[-1].parents)
    return tuple(explorations), True


def _occurrence(key: SlipKey, explorations: tuple[Exploration, ...]) -> Occurrence:
    having = [found for found in explorations if key in found.slips]
    scenarios: list[Mapping[str, str]] = []
    always = True
    for found in having:
        failing = _failing_answers(key, found)
        scenarios += [{**found.settled, **given} for given in _fewest_words(found, failing)]
        always = always and found.complete and not _avoidable(key, found, failing)
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


def _failing_answers(key: SlipKey, found: Exploration) -> list[Answers]:
    """The answers with which some whole order ends that has the slip; those of the shortest sighting come first."""
    starts = [edge.to for edges in found.edges for edge in edges if key in edge.slips]
    starts += [node for node, slips in found.ends.items() if key in slips]
    reached: dict[int, None] = {}
    for start in starts:
        stack = [start]
        while stack:
            node = stack.pop()
            if node not in reached:
                reached[node] = None
                stack += [edge.to for edge in found.edges[node]]
    return list(dict.fromkeys(found.answers[node] for node in reached if node in found.ends))


def _fewest_words(found: Exploration, failing: list[Answers]) -> list[dict[str, str]]:
    """The failing answers, told only for the questions that decide; later questions are dropped first."""
    usual = {found.answers[node] for node in found.ends}
    telling = list(range(len(found.graph.tracked)))
    for question in reversed(range(len(found.graph.tracked))):
        fewer = [other for other in telling if other != question]
        told = {_told(answers, fewer) for answers in failing}
        if {answers for answers in usual if _told(answers, fewer) in told} == set(failing):
            telling = fewer
    names = [found.graph.steps[question].id.value for question in found.graph.tracked]
    told_once = dict.fromkeys(_told(answers, telling) for answers in failing) or {(): None}
    return [
        {names[question]: answer for question, answer in zip(telling, given, strict=False) if answer is not None}
        for given in told_once
    ]


def _told(answers: Answers, telling: list[int]) -> Answers:
    return tuple(answers[question] for question in telling)


def _avoidable(key: SlipKey, found: Exploration, failing: list[Answers]) -> bool:
    """Whether some whole order ends with the same answers but without the slip."""
    reached, stack = {0}, [0]
    while stack:
        node = stack.pop()
        if node in found.ends and found.answers[node] in failing and key not in found.ends[node]:
            return True
        for edge in found.edges[node]:
            if edge.to not in reached and key not in edge.slips:
                reached.add(edge.to)
                stack.append(edge.to)
    return False
