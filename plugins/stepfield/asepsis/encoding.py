"""All orders of a protocol at once, as clauses: each step that matters stands in one place of a row of places.

What is the case behind a place follows from what was the case before it and from the step that stands in it. What
each step does is not written here once more: it is read off the ways that the engine's own code was seen to go. A step
whose condition is not met has a place too, in which nothing happens.

Where somebody may go back (``repeat``) an order has no greatest length, and where a step is passed over because a
question it depends on comes later, the moment of passing over would matter: such protocols are not put into clauses.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from .asked_world import Value, Var
from .clauses import FALSE, TRUE, Choice, Clauses, Literal
from .cone import Cone, Rows
from .criterion import own_key
from .graph import StepGraph
from .order import bits
from .ways import OneWay
from .world import SlipKey

MOST_CLAUSES = 4_000_000
Scenery = dict[Var, Choice]
"""What is the case at one place."""


class TooManyClausesError(Exception):
    """The protocol would take more clauses than a solver can hold in reasonable memory."""


def why_not_encoded(graph: StepGraph) -> str | None:
    """What the protocol has that cannot be put into clauses exactly; None if there is nothing of that kind."""
    if graph.repeats:
        return "somebody may go back in it"
    if graph.protocol.people:
        return "one person has several roles in it"
    return "a condition looks at a question that may come later" if asked_late(graph) else None


def asked_late(graph: StepGraph) -> bool:
    """Whether some condition looks at a question that need not have been asked by then."""
    ancestors = graph.order.ancestors()
    return any(
        part.question is not None and not ancestors[step] >> part.question & 1
        for step, parts in enumerate(graph.conditions)
        for part in parts
    )


@dataclass(slots=True)
class Encoded:
    """The clauses, and what some of their literals say.

    ``done[step][place]`` says that a step is done before a place, ``at_step`` and ``at_end`` that a slip is made;
    ``options`` is the literal of each option of a choice, ``answers`` of each answer to a question (the answer None
    says that it is not asked); ``happens`` says that a step is not passed over.
    """

    clauses: Clauses
    done: dict[int, dict[int, Literal]] = field(default_factory=dict)
    at_step: dict[SlipKey, Literal] = field(default_factory=dict)
    at_end: dict[SlipKey, Literal] = field(default_factory=dict)
    options: dict[str, dict[str, Literal]] = field(default_factory=dict)
    answers: dict[int, dict[str | None, Literal]] = field(default_factory=dict)
    happens: dict[int, Literal] = field(default_factory=dict)


def encode(cone: Cone) -> Encoded:
    """Puts all that matters into clauses. Raises TooManyClausesError."""
    return _Encoder(cone).run()


class _Encoder:
    def __init__(self, cone: Cone) -> None:
        self.cone, self.graph = cone, cone.look.graph
        self.clauses = Clauses()
        self.encoded = Encoded(self.clauses)
        self.steps = cone.steps
        self.ancestors = self.graph.order.ancestors()
        self.kept = sum(1 << step for step in self.steps)
        self.slips: dict[SlipKey, list[Literal]] = {}

    def run(self) -> Encoded:
        for step in self.steps:
            self._happens(step)
        self._places()
        scenery: Scenery = {
            var: {value: TRUE if value == self.cone.look.scene.at_first(var) else FALSE for value in values}
            for var, values in self.cone.values.items()
        }
        for place in range(len(self.steps)):
            scenery = self._place(place, scenery)
            if len(self.clauses.clauses) > MOST_CLAUSES:
                raise TooManyClausesError
        self.encoded.at_step = {key: self.clauses.some(shown) for key, shown in self.slips.items()}
        self.slips = {}
        end = len(self.graph.steps)
        if end in self.cone.rows:
            for key, shown in _Row(self, self.cone.rows[end], TRUE, scenery, {}).run().items():
                self.slips.setdefault(own_key(self.graph, end, key), []).append(shown)
        self.encoded.at_end = {key: self.clauses.some(shown) for key, shown in self.slips.items()}
        return self.encoded

    def _happens(self, step: int) -> Literal:
        """Whether a step's conditions are met. A condition on a question that is not asked is not met."""
        if step not in self.encoded.happens:
            met = []
            for part in self.graph.conditions[step]:
                given: Mapping[Any, Literal]
                given = self._options(part.choice) if part.choice is not None else self._answers(part.question or 0)
                met.append(self.clauses.some(given[option] for option in part.options if option in given))
            self.encoded.happens[step] = self.clauses.every(met) if met else TRUE
        return self.encoded.happens[step]

    def _options(self, choice: str) -> dict[str, Literal]:
        if choice not in self.encoded.options:
            declared = next(one for one in self.graph.protocol.choices if one.id.value == choice)
            self.encoded.options[choice] = self._one_of([option.value for option, _ in declared.options])
        return self.encoded.options[choice]

    def _answers(self, question: int) -> Mapping[str | None, Literal]:
        if question not in self.encoded.answers:
            asks, asked = self.graph.steps[question].asks, self._happens(question)
            given = self._one_of([answer.value for answer in asks.answers] if asks else [])
            known: dict[str | None, Literal] = {
                answer: self.clauses.every((asked, literal)) for answer, literal in given.items()
            }
            self.encoded.answers[question] = {**known, None: -asked}
        return self.encoded.answers[question]

    def _one_of(self, names: Iterable[str]) -> dict[str, Literal]:
        names = list(dict.fromkeys(names))
        literals = self.clauses.one_of(range(len(names)))
        return {name: literals[number] for number, name in enumerate(names)}

    def _places(self) -> None:
        """Every step in one place, no two in the same, each behind all that comes before it."""
        done = self.encoded.done
        after = dict.fromkeys(self.steps, 0)
        for step in self.steps:
            for earlier in bits(self.ancestors[step] & self.kept):
                after[earlier] += 1
        for step in self.steps:
            first = (self.ancestors[step] & self.kept).bit_count()
            last = len(self.steps) - 1 - after[step]
            inside = {place: self.clauses.new() for place in range(first + 1, last + 1)}
            done[step] = {first: FALSE, **inside, last + 1: TRUE}
            for place in range(first, last + 1):
                self.clauses.add((-done[step][place], done[step][place + 1]))
        for step in self.steps:
            for earlier in self._just_before(step):
                for place, literal in done[step].items():
                    if literal != FALSE and place - 1 <= max(done[earlier]):
                        self.clauses.add((-literal, self.is_done(earlier, place - 1)))

    def is_done(self, step: int, place: int) -> Literal:
        """Whether a step is done before a place."""
        known = self.encoded.done[step]
        return known[place] if place in known else FALSE if place < min(known) else TRUE

    def _just_before(self, step: int) -> Iterable[int]:
        """The steps that come before it with none of the others that matter in between."""
        left = self.ancestors[step] & self.kept
        for earlier in sorted(bits(left), reverse=True, key=lambda other: self.ancestors[other].bit_count()):
            if left >> earlier & 1:
                left &= ~self.ancestors[earlier]
        return bits(left)

    def _place(self, place: int, before: Scenery) -> Scenery:
        """What is the case behind a place."""
        standing = self._standing(place)
        groups: dict[tuple[Rows, Literal], list[int]] = {}
        for step in standing:
            groups.setdefault((self.cone.rows[step], self._happens(step)), []).append(step)
        acting = {
            group: self.clauses.every((group[1], self.clauses.some(standing[step] for step in steps)))
            for group, steps in groups.items()
        }
        behind = dict(before)
        for var, actors in self._actors(acting).items():
            behind[var] = self.clauses.one_of(self.cone.values[var])
            changed = self.clauses.some(actors)
            for value, literal in behind[var].items():
                self.clauses.add((changed, -before[var][value], literal))
        for group, acts in acting.items():
            for key, shown in _Row(self, group[0], acts, before, behind).run().items():
                self._note(key, shown, {step: standing[step] for step in groups[group]})
        return behind

    def _standing(self, place: int) -> dict[int, Literal]:
        """For each step that may stand in a place whether it does; one does, and no two."""
        clauses, found, lanes = self.clauses, dict[int, Literal](), dict[str, list[Literal]]()
        for step in self.steps:
            known = self.encoded.done[step]
            if place in known and place + 1 in known:
                found[step] = clauses.every((-known[place], known[place + 1]))
                lanes.setdefault(str(self.graph.steps[step].role), []).append(found[step])
        clauses.add(found.values())
        clauses.no_two([clauses.some(lane) for lane in lanes.values()])
        return found

    def _actors(self, acting: Mapping[tuple[Rows, Literal], Literal]) -> dict[Var, list[Literal]]:
        actors: dict[Var, list[Literal]] = {}
        for (rows, _), acts in acting.items():
            changed = {var: None for part in rows for way in part for var, _ in way.outcome.changes}
            for var in changed:
                actors.setdefault(var, []).append(acts)
        return actors

    def _note(self, key: SlipKey, shown: Literal, standing: Mapping[int, Literal]) -> None:
        """Notes a slip of a group for the steps of the group."""
        for step, literal in standing.items():
            own = own_key(self.graph, step, key)
            made = shown if len(standing) == 1 else self.clauses.every((shown, literal))
            self.slips.setdefault(own, []).append(made)


class _Row:
    """One step in one place: part after part, what is the case in between and behind."""

    def __init__(self, encoder: _Encoder, rows: Rows, acts: Literal, before: Scenery, behind: Scenery) -> None:
        self.clauses, self.values = encoder.clauses, encoder.cone.values
        self.rows, self.acts, self.now, self.behind = rows, acts, dict(before), behind
        self.slips: dict[SlipKey, list[Literal]] = {}

    def run(self) -> dict[SlipKey, Literal]:
        """Adds the clauses; the literals of the slips made."""
        last = {var: number for number, part in enumerate(self.rows) for way in part for var, _ in way.outcome.changes}
        for number, part in enumerate(self.rows):
            changed = {var: None for way in part for var, _ in way.outcome.changes}
            then = {
                var: self.behind[var] if last[var] == number else self.clauses.one_of(self.values[var])
                for var in changed
            }
            self._part(part, then)
            self.now |= then
        return {key: self.clauses.some(shown) for key, shown in self.slips.items()}

    def _part(self, part: Sequence[OneWay], then: Scenery) -> None:
        keys = dict.fromkeys(key for way in part for key in way.outcome.slips)
        made = {key: self.clauses.new() for key in keys}
        for literal in made.values():
            self.clauses.add((self.acts, -literal))
        for way in part:
            here = [-self.acts]
            for var, value in way.reads:
                here.append(-self.now[var].get(value, FALSE))
            for key, literal in made.items():
                self.clauses.add((*here, literal if key in way.outcome.slips else -literal))
            changes, seen = dict(way.outcome.changes), dict(way.reads)
            for var, choice in then.items():
                known: Value | None = changes.get(var, seen.get(var))
                if known is not None:
                    self.clauses.add((*here, choice.get(known, FALSE)))
                    continue
                for value, literal in choice.items():
                    self.clauses.add((*here, -self.now[var][value], literal))
        for key, literal in made.items():
            self.slips.setdefault(key, []).append(literal)
