"""What the solver is asked about slips, and what its answers come to: the same that a whole search would have told.

For each slip that the first look leaves open: in which settlings of choices and answers it can occur, whether there an
order goes without it, and an order that shows it. That order is replayed by the engine before anything is told.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from functools import cached_property

from .clauses import FALSE, Literal
from .cone import cone_of
from .criterion import FirstLook
from .drawn_orders import Draws, draws
from .encoding import Encoded, encode
from .order import bits
from .proof import Occurrence, fewest_words
from .settlings import AllSettlings
from .solver import Solver
from .trace import cause_of, replay, slips_at_end
from .way import Way
from .world import Slip, SlipKey

Model = frozenset[Literal]


class Asking:
    """Questions about the slips of one protocol.

    Raises TooManyClausesError, TooManySettlingsError, NoSolverError; and while asking, GaveUpError.
    """

    def __init__(self, look: FirstLook, choices: tuple[str, ...], *, drawing: bool) -> None:
        self.graph, self.look = look.graph, look
        self.settlings = AllSettlings(self.graph, choices)
        self.draws = draws(self.graph, self.settlings, look.slips) if drawing else Draws()
        self.solved = 0

    @cached_property
    def encoded(self) -> Encoded:
        """All that matters to the slips that drawing has not settled, as clauses; made when it is first asked for."""
        return encode(cone_of(self.look, [key for key in self.look.slips if not self._is_drawn(key)]))

    @cached_property
    def solver(self) -> Solver:
        """The solver of these clauses."""
        return Solver(self.encoded.clauses)

    @cached_property
    def class_literal(self) -> dict[int, Literal]:
        """For each lot of settlings that differ in nothing that matters the literal that says it is one of them."""
        return {mask: self._all_of(literals) for mask, literals in self._classes().items()}

    def occurrence(self, key: SlipKey) -> Occurrence | None:
        """What there is to tell of a slip; None if it occurs in no order."""
        failing = self.draws.having.get(key, 0)
        if self._is_drawn(key):
            return self._told(key, failing, always=False)
        self.solved += 1
        failing = self._whole_lots(failing)
        occurs = self._either(self.encoded.at_step.get(key, FALSE), self.encoded.at_end.get(key, FALSE))
        while (model := self._in_some(failing ^ self.settlings.everything, occurs)) is not None:
            failing |= next(mask for mask, literal in self.class_literal.items() if literal in model)
        if not failing:
            return None
        avoided = failing & self._whole_lots(self.draws.lacking.get(key, 0))
        return self._told(key, failing, always=not avoided and self._in_some(failing, -occurs) is None)

    def _is_drawn(self, key: SlipKey) -> bool:
        """Whether the orders drawn tell all there is: a slip in every settling that not every order has."""
        having, lacking = self.draws.having.get(key, 0), self.draws.lacking.get(key, 0)
        return having == self.settlings.everything and bool(lacking)

    def _whole_lots(self, settlings: int) -> int:
        return sum(mask for mask in self.class_literal if mask & settlings)

    def _classes(self) -> dict[int, list[Literal]]:
        """The settlings put together that differ in nothing that matters, each lot with the literals that say so."""
        told: list[tuple[str | int, Mapping[str, Literal] | Mapping[str | None, Literal]]] = [
            *self.encoded.options.items(),
            *self.encoded.answers.items(),
        ]
        classes: dict[int, list[Literal]] = {self.settlings.everything: []}
        for name, given in told:
            classes = {
                within: [*literals, literal]
                for mask, literals in classes.items()
                for value, literal in given.items()
                if (within := mask & self.settlings.having.get((name, value), 0))
            }
        return classes

    def _in_some(self, settlings: int, literal: Literal) -> Model | None:
        """A case in which a literal holds, in any of the lots of settlings."""
        if literal == FALSE or not settlings:
            return None
        within = [found for mask, found in self.class_literal.items() if mask & settlings]
        if len(within) == len(self.class_literal):
            return self.solver.model([literal])
        one_of_them = self.solver.new()
        self.solver.add([-one_of_them, *within])
        return self.solver.model([literal, one_of_them])

    def _told(self, key: SlipKey, failing: int, always: bool) -> Occurrence:
        combination, first = next((one, mask) for one, mask in self.settlings.combinations.items() if mask & failing)
        way, at_end = self._drawn(key, failing & first) or self._witness(key, failing & first)
        moments = replay(self.graph, [step for step, _ in way])
        shown: Iterable[Slip] = slips_at_end(self.graph, moments) if at_end else moments[-1].slips
        slip = next((one for one in shown if one.key == key), None)
        if slip is None:
            raise AssertionError(f"the order found for {key} does not show it when it is replayed")
        return Occurrence(
            slip=slip,
            scenarios=tuple(self._scenarios(failing, combination, way)),
            always=always,
            witness=way,
            cause=cause_of(self.graph, slip, way),
            shortest=self._is_shortest(key, way, at_end=at_end),
        )

    def _is_shortest(self, key: SlipKey, way: Way, *, at_end: bool) -> bool:
        """Whether no order that shows the slip can be shorter: as far as that is plain from what must come before."""
        if at_end:
            return key[1] < 0 and not any(self.graph.conditions)
        before = bits(self.graph.order.ancestors()[key[1]])
        return len(way) == 1 + sum(not self.graph.conditions[step] for step in before)

    def _scenarios(self, failing: int, combination: object, way: Way) -> Iterator[Mapping[str, str]]:
        """Every settling of the choices that has the slip, with the answers that decide; the witness's comes first."""
        settlings = self.settlings
        given = {step: answer for step, answer in way if answer is not None}
        for picked, mask in settlings.combinations.items():
            if not mask & failing:
                continue
            shown = mask & failing
            for question, answer in given.items() if picked == combination else ():
                shown &= settlings.having.get((question, answer), 0)
            here = dict.fromkeys((*settlings.answers(shown), *settlings.answers(mask & failing)))
            options = settlings.of_options((mask & -mask).bit_length() - 1)
            for told in fewest_words(self.graph, list(here), settlings.answers(mask)):
                yield {**options, **told}

    def _drawn(self, key: SlipKey, settlings: int) -> tuple[Way, bool] | None:
        """An order that was drawn and shows a slip in some of the settlings, and whether it shows at the end only."""
        drawn = self.draws.shortest(key, settlings)
        if drawn is None:
            return None
        length = drawn.slips[key]
        if length > len(drawn.way):
            return drawn.way, True
        return self._trimmed(key, drawn.way[:length]), False

    def _witness(self, key: SlipKey, settlings: int) -> tuple[Way, bool]:
        """An order that shows a slip in some of the settlings, and whether it shows at the end only."""
        model = self._in_some(settlings, self.encoded.at_step.get(key, FALSE))
        if model is None:
            model = self._in_some(settlings, self.encoded.at_end.get(key, FALSE))
            assert model is not None
            return self._way(model, settlings, None), True
        done, step = self.encoded.done[key[1]], key[1]
        place = self._place(model, step)
        low = min(done)
        while low < place:
            middle = (low + place) // 2
            earlier = self._in_some(settlings, self._all_of([self.encoded.at_step[key], done[middle + 1]]))
            if earlier is None:
                low = middle + 1
            else:
                model, place = earlier, self._place(earlier, step)
        return self._trimmed(key, self._way(model, settlings, step)), False

    def _place(self, model: Model, step: int) -> int:
        done = self.encoded.done[step]
        return next(place for place in sorted(done) if done[place + 1] in model)

    def _way(self, model: Model, settlings: int, until: int | None) -> Way:
        """The order of a case, up to a step or to the end, with the steps left out put in where they may come."""
        graph = self.graph
        number = self._settling(model, settlings)
        options = self.settlings.of_options(number)
        answers = dict(zip(graph.tracked, self.settlings.settled[number][1], strict=True))
        wanted = sorted(self.encoded.done, key=lambda step: self._place(model, step))
        if until is not None:
            wanted = wanted[: wanted.index(until) + 1]
        else:
            wanted += graph.order.sorted_steps()
        done, order = 0, list[int]()
        ancestors, written = graph.order.ancestors(), graph.order.sorted_steps()
        for step in wanted:
            missing = (ancestors[step] | 1 << step) & ~done
            order += [one for one in written if missing >> one & 1]
            done |= missing
        happens = {
            step: all(
                (options[part.choice] if part.choice is not None else answers[part.question or 0]) in part.options
                for part in graph.conditions[step]
            )
            for step in order
        }
        return tuple((step, answers.get(step)) for step in order if happens[step])

    def _settling(self, model: Model, settlings: int) -> int:
        mask = next(mask for mask, literal in self.class_literal.items() if literal in model) & settlings
        return (mask & -mask).bit_length() - 1

    def _trimmed(self, key: SlipKey, way: Way) -> Way:
        """The way without each step that no later one waits for and the slip shows without."""
        ancestors, phase_of = self.graph.order.ancestors(), self.graph.order.phase_of
        for step, answer in way[-2::-1]:
            if (
                answer is not None
                or phase_of[step] != phase_of[key[1]]
                or any(ancestors[later] >> step & 1 for later, _ in way)
            ):
                continue
            shorter = tuple(one for one in way if one[0] != step)
            if any(slip.key == key for slip in replay(self.graph, [one for one, _ in shorter])[-1].slips):
                way = shorter
        return way

    def _either(self, one: Literal, other: Literal) -> Literal:
        if FALSE in (one, other):
            return other if one == FALSE else one
        return -self._all_of([-one, -other])

    def _all_of(self, literals: list[Literal]) -> Literal:
        """A literal that holds just where all of these do."""
        whole = self.solver.new()
        for literal in literals:
            self.solver.add([-whole, literal])
        self.solver.add([whole, *(-literal for literal in literals)])
        return whole
