"""Holding every name in a protocol's unfolded steps against what is declared."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from .model import Condition, Effect, Kind, Need, Phase, Repeat, Step, Wait
from .names import quoted
from .parts import Unfolding
from .schemas import EffectForm, effect_forms
from .source import Problem, Text


@dataclass(frozen=True, slots=True)
class Requirements:
    """The names evidence.yaml declares: its requirements and its sets of requirements."""

    requirements: Mapping[str, Text]
    sets: Mapping[str, Text]


class Resolver:
    """Looks up the names of one protocol's steps, once its parts are unfolded.

    Names that lead into the missing steps of a use, and names bound to nothing known, are dropped without a word: the
    use is already reported. ``whole`` is False if clinic.yaml cannot be read, so that not every name is known.
    """

    def __init__(self, job: Unfolding, requirements: Requirements | None, whole: bool) -> None:
        self.scope, self.lookup, self.requirements, self.whole = job.scope, job.lookup, requirements, whole
        self.uses, self.missing, self.lost = job.uses, frozenset(job.missing), frozenset(job.lost)
        scope = job.scope
        self.misshapen: list[Problem] = []
        self.roles = {role.value: role for role in scope.team}
        self.subjects = {name: subject.name for name, subject in scope.subjects.items()}
        self.forms: dict[str, EffectForm] = {form.field: form for form in effect_forms()}
        self.steps: dict[str, Step] = {}
        self.order: dict[str, tuple[int, int]] = {}
        self.inside: dict[str, list[Text]] = {}

    def phases(self, phases: tuple[Phase, ...]) -> tuple[Phase, ...]:
        """The phases with every name looked up."""
        self._declare(phases)
        return tuple(replace(phase, steps=tuple(map(self._step, phase.steps))) for phase in phases)

    def _declare(self, phases: tuple[Phase, ...]) -> None:
        """Takes down every phase, step and use, and what is declared twice."""
        named: dict[str, Text] = {}
        choices = {choice.id.value: choice.id for choice in self.scope.choices}
        for number, phase in enumerate(phases):
            first = named.setdefault(phase.id.value, phase.id)
            if first is not phase.id:
                self.lookup.taken(phase.id, first)
            for step in phase.steps:
                self.order.setdefault(step.id.value, (number, len(self.order)))
                self._declare_step(step, choices)
        for name, place in self.uses.items():
            self.inside.setdefault(name, [])
            if name in self.steps:
                self._twice(place, self.steps[name].id, name)

    def _declare_step(self, step: Step, choices: Mapping[str, Text]) -> None:
        name = step.id.value
        other = self.steps.get(name)
        if other is not None:
            self._twice(step.id, other.id, name)
            if step.asks and not other.asks:
                self.steps[name] = step  # names of answers are looked up in the one that asks
            return
        if name in choices:
            self._twice(step.id, choices[name], name)
        self.steps[name] = step
        while "." in name:
            name = name.rpartition(".")[0]
            self.inside.setdefault(name, []).append(step.id)

    def _twice(self, name: Text, first: Text, step: str) -> None:
        """Notes a step's name as taken; inside a part (a dotted name) the part's own file is where that is told."""
        self.lookup.sound = False
        if "." not in step:
            self.lookup.taken(name, first, step)

    def _step(self, step: Step) -> Step:
        at = step.id.value
        asks = self._answers(step)
        return replace(
            step,
            helpers=self._helpers(step, at),
            after=tuple(self._after(step.after, at)),
            when=tuple(filter(None, (self._condition(condition, at) for condition in step.when))),
            needs=tuple(self._needs(step.needs, at)),
            effects=tuple(filter(None, (self._effect(effect, at) for effect in step.effects))),
            repeat=self._repeat(step, asks, at),
            waits=tuple(self._waits(step.waits, at)),
            within=tuple(self._waits(step.within, at)),
            meets=self._meets(step.meets, at),
            keeps=tuple(kept for kept in step.keeps if self._is_requirement(kept.requirement)),
        )

    def _helpers(self, step: Step, at: str) -> tuple[Text, ...]:
        """Who helps, each once and never the owner: a part may have one role bound for two of its people."""
        helpers: dict[str, Text] = {}
        for helper in self._found(step.helpers, self.roles, "role of the team", at):
            if step.role is None or helper.value != step.role.value:
                helpers.setdefault(helper.value, helper)
        return tuple(helpers.values())

    def _answers(self, step: Step) -> dict[str, Text]:
        """The answers a step may get; one that is listed twice is noted."""
        answers: dict[str, Text] = {}
        for answer in step.asks.answers if step.asks else ():
            first = answers.setdefault(answer.value, answer)
            if first is not answer:
                self.lookup.taken(answer, first, step.id.value)
        return answers

    def _found(self, names: Iterable[Text], known: Mapping[str, Text], what: str, at: str | None) -> Iterator[Text]:
        for name in names:
            found = self._find(name, known, what, at)
            if found is not None:
                yield found

    def _find(self, name: Text, known: Mapping[str, Text], what: str, at: str | None) -> Text | None:
        if name.value in known:
            return name
        if name.value.partition(".")[0] in self.lost:
            return None
        return self.lookup.find(name, known, what, at)

    def _subject(self, name: Text, at: str) -> Text | None:
        if name.value not in self.subjects and not self.whole:
            self.lookup.sound = False  # it may be a surface of the clinic.yaml that could not be read
            return None
        return self._find(name, self.subjects, "subject", at)

    def _needs(self, needs: Iterable[Need], at: str) -> Iterator[Need]:
        for need in needs:
            owner, dot, _ = need.subject.value.partition(".")
            if dot and owner not in self.roles and self._is_owner(owner, at):
                continue
            subject = self._subject(need.subject, at)
            if subject is not None:
                yield Need(subject, need.level)

    def _is_owner(self, role: str, at: str) -> bool:
        """Whether this is the step's own role: one the team lacks is reported once, by the rule about owners."""
        owner = self.steps[at].role
        return owner is not None and owner.value == role

    def _effect(self, effect: Effect, at: str) -> Effect | None:
        form = self.forms[effect.field]
        thing = self._subject(effect.thing, at)
        target = effect.target
        if target is not None:
            to_role = form.target == "role"
            target = self._find(target, self.roles, "role of the team", at) if to_role else self._subject(target, at)
        if thing is None or (effect.target is not None and target is None):
            return None
        self._check_kind(form, thing, at)
        return Effect(effect.field, thing, target, effect.level)

    def _check_kind(self, form: EffectForm, thing: Text, at: str) -> None:
        subject = self.scope.subjects[thing.value]
        if form.thing == "pack" and subject.kind is not Kind.PACK:
            message = (
                f"{quoted(thing.value)} is no pack but of the kind {subject.kind.value}; '{form.field}' wants packs"
            )
            hint = "declare it under packs, with what it holds"
        elif form.thing == "worn" and subject.worn_on is None:
            message = f"{quoted(thing.value)} cannot be put on: it does not say where it is worn"
            hint = "give it worn_on: hands, body, face, head or feet"
        else:
            return
        related = ((subject.name.span, f"{quoted(thing.value)} is declared here"),)
        self.misshapen.append(
            Problem("bad-shape", thing.span, message, self.lookup.protocol, at, thing.value, hint, related)
        )

    def _place(self, name: Text, at: str) -> list[Text]:
        """The step a name stands for, or all steps of a use, in written order; none if it is unknown."""
        if name.value in self.steps:
            return [name]
        if name.value in self.inside and name.value not in self.missing:
            return [Text(step.value, name.span) for step in self.inside[name.value]]
        if any(name.value == lost or name.value.startswith(f"{lost}.") for lost in self.missing):
            return []
        known = {**{key: step.id for key, step in self.steps.items()}, **self.uses}
        found = self.lookup.find(name, known, "step", at)
        return [] if found is None else self._place(found, at)

    def _after(self, names: Iterable[Text], at: str) -> Iterator[Text]:
        for name in names:
            yield from self._place(name, at)

    def _waits(self, waits: Iterable[Wait], at: str) -> Iterator[Wait]:
        for wait in waits:
            found = self._place(wait.step, at)
            if found:
                yield Wait(found[-1], wait.seconds)

    def _repeat(self, step: Step, answers: Mapping[str, Text], at: str) -> Repeat | None:
        if step.repeat is None:
            return None
        start = self._place(step.repeat.start, at)
        answer = self.lookup.find(step.repeat.answer, answers, "answer of this step", at)
        if not start or not answer:
            return None
        if not self._leads_back(step, start[0].value):
            message = f"{quoted(start[0].value)} is no earlier step of the same phase that the same role takes part in"
            hint = "name one that is, or repeat from the asking step itself"
            self.misshapen.append(
                Problem("bad-shape", step.repeat.start.span, message, self.lookup.protocol, at, "from", hint)
            )
        return Repeat(start[0], answer)

    def _leads_back(self, step: Step, start: str) -> bool:
        """Whether the asking step's lane can go back to another step."""
        back = self.steps[start]
        takes_part = step.role is None or step.role.value in {str(role) for role in (back.role, *back.helpers)}
        (phase, place), (back_phase, back_place) = self.order[step.id.value], self.order[start]
        return takes_part and phase == back_phase and back_place <= place

    def _condition(self, condition: Condition, at: str) -> Condition | None:
        name = condition.name
        if any(name.value.startswith(f"{lost}.") for lost in self.missing):
            return None
        choices = {choice.id.value: choice.id for choice in self.scope.choices}
        known = choices if name.value in choices else {**choices, **{key: step.id for key, step in self.steps.items()}}
        found = self.lookup.find(name, known, "choice or step", at)
        if found is None:
            return None
        options = self._options(found.value)
        what = (
            f"option of the choice {quoted(found.value)}"
            if found.value in choices
            else f"answer of the step {quoted(found.value)}"
        )
        kept = tuple(self._found(condition.options, options, what, at))
        return Condition(found, kept) if kept else None

    def _options(self, name: str) -> dict[str, Text]:
        for choice in self.scope.choices:
            if choice.id.value == name:
                return {option.value: option for option, _ in choice.options}
        asks = self.steps[name].asks
        return {answer.value: answer for answer in asks.answers} if asks else {}

    def _meets(self, names: tuple[Text, ...], at: str) -> tuple[Text, ...]:
        if self.requirements is None:
            return names
        return tuple(self._found(names, self.requirements.requirements, "requirement in evidence.yaml", at))

    def _is_requirement(self, name: Text) -> bool:
        """Whether there is such a requirement; where not, that is told of what the step meets."""
        return self.requirements is None or name.value in self.requirements.requirements

    def sets(self, names: tuple[Text, ...]) -> tuple[Text, ...]:
        """The sets of requirements the protocol adopts."""
        if self.requirements is None:
            return names
        return tuple(self._found(names, self.requirements.sets, "set of requirements in evidence.yaml", None))
