"""From the solver's answers to what a proof tells: each slip with its scenarios, an order that shows it, its cause."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping

from ..asepsis import Occurrence, Proof, StepGraph
from ..asepsis.happen import do_step, end_slips
from ..asepsis.proof import fewest_words
from ..asepsis.trace import cause_of
from ..asepsis.way import Way
from ..asepsis.world import Slip as Seen
from ..asepsis.world import SlipKey, World
from ..language.model import Protocol, Requirement
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
    if not can_be_asked(protocol):
        raise Unanswered("a protocol that goes back, or asks too late, can't be put to a solver")
    if width_of(protocol) > MOST_WIDTH:
        raise Unanswered("too many steps may come at the same time for a solver as well")
    answers = _Answers(proof.graph, protocol, requirements)
    try:
        occurrences = tuple(answers.occurrences())
    except TimeoutError:
        raise Unanswered("the solver took too long") from None
    except ModuleNotFoundError:
        raise Unanswered("a solver may go further: install the extra 'solver'") from None
    return Proof(proof.graph, proof.exploration, proof.scenarios, occurrences, answers.never())


class _Answers:
    def __init__(self, graph: StepGraph, protocol: Protocol, requirements: tuple[Requirement, ...]) -> None:
        self.graph, self.protocol = graph, protocol
        self.solver = Solver(SECONDS)
        self.question = Question(protocol, requirements)
        self.solver.know(*self.question.known)
        looked_at = {part.name.value for step in protocol.steps for part in step.when}
        self.choices = {
            one.id.value: [option.value for option, _ in one.options]
            for one in protocol.choices
            if one.id.value in looked_at
        }
        self.asked = {
            step.id.value: [answer.value for answer in step.asks.answers]
            for step in protocol.steps
            if step.asks is not None and step.id.value in looked_at
        }
        self.settlings = tuple(itertools.islice(self._settlings(), MOST_SETTLINGS + 1))
        if len(self.settlings) > MOST_SETTLINGS:
            raise Unanswered("there are too many settlings of choices and answers to ask a solver for each")

    def never(self) -> tuple[int, ...]:
        """The steps that are done in no settling."""
        done = {name for settling in self.settlings for name in self._done(dict(settling))}
        return tuple(number for number, step in enumerate(self.graph.steps) if step.id.value not in done)

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
        left = {slip: bit for slip, bit in slips.items() if bit is not False}
        found: dict[Slip, Bit] = {}
        while left and self.solver.can(some(left.values())):
            seen = [slip for slip, bit in left.items() if self.solver.holds(bit)]
            found.update({slip: left.pop(slip) for slip in seen})
        return sorted(found.items(), key=lambda one: self._key(one[0])[1:])

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

    def _settlings(self) -> Iterator[Settling]:
        """Every settling of the choices and answers that steps look at, without answers nobody gives."""
        options = {**self.choices, **self.asked}
        known: set[Settling] = set()
        for values in itertools.product(*options.values()):
            chosen = dict(zip(options, values, strict=True))
            done = self._done(chosen)
            settling = tuple((name, one) for name, one in chosen.items() if name in self.choices or name in done)
            if settling not in known:
                known.add(settling)
                yield settling

    def _done(self, settled: Mapping[str, str]) -> set[str]:
        """The steps whose conditions are met; a question always comes before the steps that look at its answer."""
        steps = {step.id.value: step for step in self.protocol.steps}
        met: dict[str, bool] = {}

        def judge(name: str) -> bool:
            if name not in met:
                met[name] = all(
                    settled.get(part.name.value) in {option.value for option in part.options}
                    and (part.name.value not in steps or judge(part.name.value))
                    for part in steps[name].when
                )
            return met[name]

        return {name for name in steps if judge(name)}

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
