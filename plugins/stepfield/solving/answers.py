"""From the solver's answers to what a proof tells: each slip with its scenarios, an order that shows it, its cause."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Set

from ..asepsis import Occurrence, Proof, StepGraph
from ..asepsis.criterion import TooManyValuesError, first_look
from ..asepsis.happen import do_step, end_slips
from ..asepsis.proof import fewest_words
from ..asepsis.trace import cause_of
from ..asepsis.way import Way
from ..asepsis.ways import TooManyWaysError
from ..asepsis.world import Slip as Seen
from ..asepsis.world import SlipKey, World
from ..language.model import Protocol, Requirement
from ..planning.scenarios import done_in, scenarios_of
from .formulas import Bit, Solver, every, negated, some
from .question import Question, can_be_asked, width_of
from .world import Slip

MOST_WIDTH = 1_800
"""Up to so many pairs of a step and a slot it may stand in; beyond, the formulas take longer than the search."""
MOST_SETTLINGS = 256
"""In up to so many settlings of choices and answers each slip is asked for."""
SECONDS = 5.0
"""How long the solver may take for one question."""

Settling = tuple[tuple[str, str], ...]
"""Option or answer for every choice and question, in order; a question that is passed over has none."""


class Unanswered(Exception):  # noqa: N818 - nothing went wrong
    """The solver can't be asked, or does not answer in time; the message says why."""


def settled(proof: Proof, requirements: tuple[Requirement, ...]) -> Proof:
    """The proof with every slip there is, in every order, though its exploration reached its bound.

    Raises Unanswered, with the reason.
    """
    protocol = proof.graph.protocol
    looked = _first_look(proof.graph)
    if not can_be_asked(protocol):
        raise Unanswered("a protocol that goes back, or asks too late, can't be put to a solver")
    if looked is not None and not looked:
        return Proof(proof.graph, proof.exploration, proof.scenarios, (), _never_done(protocol))
    if width_of(protocol) > MOST_WIDTH:
        raise Unanswered("too many steps may come at the same time for a solver as well")
    try:
        answers = _Answers(proof.graph, protocol, requirements, looked)
        occurrences = tuple(answers.occurrences())
    except TimeoutError:
        raise Unanswered("the solver took too long") from None
    except ModuleNotFoundError:
        raise Unanswered("a solver may go further: install the extra 'solver'") from None
    return Proof(proof.graph, proof.exploration, proof.scenarios, occurrences, _never_done(protocol))


def _first_look(graph: StepGraph) -> Set[SlipKey] | None:
    """The slips that are not excluded without any search; None if there are too many circumstances to tell."""
    try:
        return first_look(graph).slips.keys()
    except (TooManyWaysError, TooManyValuesError):
        return None


class _Answers:
    def __init__(
        self,
        graph: StepGraph,
        protocol: Protocol,
        requirements: tuple[Requirement, ...],
        looked: Set[SlipKey] | None,
    ) -> None:
        self.graph, self.protocol, self.looked = graph, protocol, looked
        self.choices = {one.id.value for one in protocol.choices}
        self.settlings = tuple(itertools.islice(_settlings(protocol), MOST_SETTLINGS + 1))
        if len(self.settlings) > MOST_SETTLINGS:
            raise Unanswered("there are too many settlings of choices and answers to ask a solver for each")
        self.asked = {
            step.id.value: [answer.value for answer in step.asks.answers]
            for step in (protocol.steps[number] for number in graph.tracked)
            if step.asks is not None
        }
        self.solver = Solver(SECONDS)
        self.question = Question(protocol, requirements)
        self.solver.know(*self.question.known)

    def occurrences(self) -> Iterator[Occurrence]:
        """Every slip there is, the earliest steps first."""
        for slip, bit in self._open(dict(self.question.possible)):
            failing = [one for one in self.settlings if self.solver.can(bit, self._is(one))]
            always = not self.solver.can(negated(bit), some(self._is(one) for one in failing))
            # Asked once more for the first of them, so that the model at hand is a run of that one.
            self.solver.can(bit, self._is(failing[0]))
            witness = self._way()
            yield self._occurrence(slip, witness, failing, always)

    def _open(self, slips: Mapping[Slip, Bit]) -> list[tuple[Slip, Bit]]:
        """The slips that can occur: several at a time, until there is no other."""
        left = {slip: bit for slip, bit in slips.items() if bit is not False and self._is_open(slip)}
        found: dict[Slip, Bit] = {}
        while left and self.solver.can(some(left.values())):
            seen = [slip for slip, bit in left.items() if self.solver.holds(bit)]
            found.update({slip: left.pop(slip) for slip in seen})
        return sorted(found.items(), key=lambda one: self._key(one[0])[1:])

    def _is_open(self, slip: Slip) -> bool:
        return self.looked is None or self._key(slip) in self.looked

    def _occurrence(self, slip: Slip, witness: Way, failing: list[Settling], always: bool) -> Occurrence:
        key = self._key(slip)
        shown, steps = self._replayed(key, witness)
        return Occurrence(
            slip=shown,
            scenarios=tuple(self._scenarios(failing)),
            always=always,
            witness=steps,
            cause=cause_of(self.graph, shown, steps),
            shortest=False,
        )

    def _replayed(self, key: SlipKey, witness: Way) -> tuple[Seen, Way]:
        """The slip as the engine sees it when the order is done step by step, and the order up to it.

        Raises RuntimeError if it does not: then the two do not mean the same, and nothing may be told.
        """
        world = World(self.graph)
        for place, (step, _) in enumerate(witness, start=1):
            for slip in do_step(self.graph, self.graph.deeds[step], world):
                if slip.key == key:
                    return slip, witness[:place]
        for slip in end_slips(self.graph, world):
            if slip.key == key:
                return slip, witness
        raise RuntimeError(f"the order that the solver names for {key} does not show it")

    def _key(self, slip: Slip) -> SlipKey:
        rule, step, subject = slip
        return (rule, -1 if step is None else self.graph.index[step], subject)

    def _way(self) -> Way:
        """The order of the run at hand: the steps that are done, each with its answer if anybody looks at it."""
        steps: list[tuple[int, str | None]] = []
        for slot in self.question.slots:
            name = next(name for name, stands in slot.items() if self.solver.holds(stands))
            if self.solver.holds(self.question.done[name]):
                given = (one for one in self.asked.get(name, ()) if self.solver.holds(self.question.options[name, one]))
                steps.append((self.graph.index[name], next(given, None)))
        return tuple(steps)

    def _is(self, settling: Settling) -> Bit:
        return every(self.question.options[name, value] for name, value in settling)

    def _scenarios(self, failing: list[Settling]) -> Iterator[Mapping[str, str]]:
        """Each settling of the choices that has the slip, with the answers that decide, in the fewest words."""
        tracked = [self.graph.steps[number].id.value for number in self.graph.tracked]

        def answers(settling: Settling) -> tuple[str | None, ...]:
            return tuple(dict(settling).get(name) for name in tracked)

        def chosen(settling: Settling) -> dict[str, str]:
            return {name: value for name, value in settling if name in self.choices}

        for choices in [dict(one) for one in dict.fromkeys(tuple(chosen(one).items()) for one in failing)]:
            here = [answers(one) for one in failing if chosen(one) == choices]
            usual = [answers(one) for one in self.settlings if chosen(one) == choices]
            for told in fewest_words(self.graph, here, usual):
                yield {**choices, **told}


def _settlings(protocol: Protocol) -> Iterator[Settling]:
    """Every settling of the choices and answers that steps look at, without answers nobody gives."""
    choices = {one.id.value for one in protocol.choices}
    known: set[Settling] = set()
    for scenario in scenarios_of(protocol):
        done = {
            step.id.value for step, is_done in zip(protocol.steps, done_in(protocol, scenario), strict=True) if is_done
        }
        settling = tuple((name, one) for name, one in scenario.items() if name in choices or name in done)
        if settling not in known:
            known.add(settling)
            yield settling


def _never_done(protocol: Protocol) -> tuple[int, ...]:
    """The steps that are done in no settling; a step without a condition always is."""
    left = {number for number, step in enumerate(protocol.steps) if step.when}
    for scenario in scenarios_of(protocol) if left else ():
        left -= {number for number, is_done in enumerate(done_in(protocol, scenario)) if is_done}
        if not left:
            break
    return tuple(sorted(left))
