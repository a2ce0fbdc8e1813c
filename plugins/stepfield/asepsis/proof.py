"""What the exploration proves: every slip told once over all scenarios, and what stands behind "none found".

A scenario is one settling of the choices, and of those answers that decide whether the slip occurs.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Protocol

from .explore import Exploration, explore
from .graph import StepGraph
from .order import bits
from .sharing import Settlings, combinations
from .stepping import Settled
from .trace import cause_of
from .way import Sighting, Way, first_sightings, shortened
from .world import Slip, SlipKey

DEFAULT_LIMIT = 200_000
"""How many states the search looks at before it gives up and says so."""
SHORTENING_LIMIT = 4_000
"""How many states are looked at to shorten the order that shows one slip."""


@dataclass(frozen=True, slots=True)
class Occurrence:
    """One slip: where it occurs, whether every order of those scenarios has it, a shortest order and its cause.

    ``witness`` is (step, answer) pairs for the first scenario, a shortest order unless ``shortest`` is false; ``cause``
    the step that brought the slip about, if any.
    """

    slip: Slip
    scenarios: tuple[Mapping[str, str], ...]
    always: bool
    witness: Way
    cause: int | None
    shortest: bool = True


@dataclass(frozen=True, slots=True)
class Climbed:
    """What was settled without an end of the search.

    Of the slips that a first look leaves ``open`` (all others occur in no order), orders drawn at random settled
    ``drawn`` and a solver ``solved``; ``reason`` tells why not all is settled, None if it is. Only then ``occurrences``
    and ``never`` (steps that are never reached) are all there is.
    """

    occurrences: tuple[Occurrence, ...] = ()
    never: tuple[int, ...] = ()
    open: int = 0
    drawn: int = 0
    solved: int = 0
    reason: str | None = None


class Beside(Protocol):
    """The rungs of the ladder beside the search."""

    def goes_on(self, found: Exploration) -> bool:
        """Whether a search is to go on to its bound."""

    def climb(self, found: Exploration) -> Climbed:
        """Settles everything, or tells why not."""


@dataclass(frozen=True, slots=True)
class Proof:
    """What one exploration of a protocol came to.

    ``scenarios`` counts the settlings of the choices that some step looks at. ``never`` are the steps no scenario
    reaches (only told when everything was explored to the end, or settled otherwise). ``climbed`` is what was settled
    otherwise.
    """

    graph: StepGraph
    exploration: Exploration
    scenarios: int
    occurrences: tuple[Occurrence, ...]
    never: tuple[int, ...]
    climbed: Climbed | None = None

    @property
    def complete(self) -> bool:
        """Whether every order of every scenario was explored."""
        return self.exploration.complete

    @property
    def states(self) -> int:
        """How many states were looked at."""
        return len(self.exploration.done)


def prove(
    graph: StepGraph,
    limit: int = DEFAULT_LIMIT,
    *,
    reduced: bool = True,
    beside: Beside | None = None,
) -> Proof:
    """Explores every scenario and merges what was seen; ``limit`` bounds the states of all of them together.

    ``reduced`` leaves out orders that make no difference to one another; without it every single one is tried.
    ``beside`` may settle what the search does not.
    """
    found = explore(graph, limit, reduced=reduced, goes_on=beside.goes_on if beside is not None else None)
    climbed = beside.climb(found) if beside is not None and not found.complete else None
    if climbed is not None and climbed.reason is None:
        return Proof(graph, found, combinations(found), climbed.occurrences, climbed.never, climbed)
    settlings = Settlings(found)
    occurrences = tuple(_occurrence(key, settlings) for key in found.slips)
    never = tuple(step for step in range(len(graph.steps)) if found.complete and step not in found.happened)
    return Proof(graph, found, settlings.count, occurrences, never, climbed)


def _occurrence(key: SlipKey, settlings: Settlings) -> Occurrence:
    found, seen = settlings.found, settlings.failing(key)
    where = 0
    for _, mask in seen:
        where |= mask
    shown = [
        (sighting, *shortened(key, settlings, where & -where, sighting, SHORTENING_LIMIT))
        for sighting in first_sightings(key, settlings, where & -where)
    ]
    sighting, witness, _ = min(shown, key=lambda one: len(one[1]))
    failing: Mapping[Settled, int] = {}
    always = found.complete
    if found.complete:
        failing = settlings.answers_at_ends(settlings.forward(seen))
        kept = settlings.forward(settlings.starts, lambda edge: key not in edge.slips)
        avoiding = settlings.answers_at_ends(kept, but=key)
        always = not any(avoiding.get(answers, 0) & mask for answers, mask in failing.items())
    slip = found.slips[key]
    return Occurrence(
        slip=slip,
        scenarios=tuple(_scenarios(settlings, sighting, where, failing)),
        always=always,
        witness=witness,
        cause=cause_of(found.graph, slip, witness),
        shortest=all(is_shortest for _, _, is_shortest in shown),
    )


def _scenarios(
    settlings: Settlings, sighting: Sighting, where: int, failing: Mapping[Settled, int]
) -> Iterator[Mapping[str, str]]:
    """Every settling of the choices that has the slip, with the answers that decide; the sighting's own comes first."""
    if not settlings.told_apart:
        yield sighting.settled
        return
    usual = settlings.answers_at_ends(settlings.reaching)
    first = where & -where
    reach = settlings.forward([(sighting.node, first)]) if settlings.found.complete else []
    shown = settlings.answers_at_ends(reach)
    for combination in bits(where):
        bit = 1 << combination
        here = dict.fromkeys(shown if bit == first else ()) | dict.fromkeys(_in(failing, bit))
        for given in fewest_words(settlings.found.graph, list(here), _in(usual, bit)):
            yield {**settlings.settled(combination), **given}


def _in(answers: Mapping[Settled, int], combination: int) -> list[Settled]:
    return [given for given, mask in answers.items() if mask & combination]


def fewest_words(graph: StepGraph, failing: list[Settled], usual: list[Settled]) -> list[dict[str, str]]:
    """The failing answers, told only for the questions that decide; later questions are dropped first.

    A question that was passed over has no answer to tell: what is told must fit the failing answers and no others.
    """
    telling = list(range(len(graph.tracked)))
    for question in reversed(range(len(graph.tracked))):
        fewer = [other for other in telling if other != question]
        told = [_told(answers, fewer) for answers in dict.fromkeys(failing)]
        if {answers for answers in usual if any(_fits(answers, one) for one in told)} == set(failing):
            telling = fewer
    names = [graph.steps[question].id.value for question in graph.tracked]
    told_once = list({tuple(one.items()): one for one in (_told(answers, telling) for answers in failing)}.values())
    return [{names[question]: answer for question, answer in one.items()} for one in told_once] or [{}]


def _told(answers: Settled, telling: list[int]) -> dict[int, str]:
    return {question: answer for question in telling if (answer := answers[question]) is not None}


def _fits(answers: Settled, told: Mapping[int, str]) -> bool:
    return all(answers[question] == answer for question, answer in told.items())
