"""One protocol, read for showing: titles, conditions and questions in words, waits and hand states looked up."""

from __future__ import annotations

from functools import cached_property

from ..checks import Examined, Facts
from ..checks.words import Naming
from ..language.model import Condition, Effect, Kind, Requirement, Step
from .addresses import Links, part_page, team_page
from .hands import HandStates
from .local import Marks, marks_of
from .speech import Speech, speech
from .tense import has_done
from .touch import Moments, moments_of
from .views import Answer, Asked, HandOver, Link, WaitView, Warn
from .waits import Waiting, implied, waits_of
from .words import HAZARDS, PARTS, in_sentence, in_words, length, one_of, opening


class Reading:
    """What all pages of one protocol ask; worked out once."""

    def __init__(self, examined: Examined, facts: Facts) -> None:
        self.examined, self.facts, self.protocol = examined, facts, examined.protocol
        self.clinic = facts.protocol_set.clinic
        self.language = self.clinic.language if self.clinic is not None else "en"
        self.speech = speech(self.language)
        self.naming = Naming(self.protocol, self.clinic)
        self.steps = self.protocol.steps
        self._things: dict[str, str] = {}
        self.index: dict[str, int] = {}
        for number, step in enumerate(self.steps):
            self.index.setdefault(step.id.value, number)
        proof = examined.proof
        self.hands = HandStates(proof) if proof is not None and proof.complete else None

    @cached_property
    def moments(self) -> Moments | None:
        """How everybody stands at each step and what they may touch; None where not every order could be explored."""
        return moments_of(self.examined.proof)

    @cached_property
    def local(self) -> Marks:
        """What is marked as different from the shared protocol, in a clinic that adopted it."""
        return marks_of(self.facts.protocol_set, self.protocol, self.facts.today, self.speech)

    @cached_property
    def waits(self) -> tuple[Waiting, ...]:
        """Every wait of every role."""
        return waits_of(self.protocol, self.examined.order)

    @property
    def roles(self) -> tuple[str, ...]:
        """The roles that have a page: the team, in its written order, each once."""
        return tuple(dict.fromkeys(role.value for role in self.protocol.team))

    def role(self, role: object) -> str:
        """What a role is called."""
        titles = self.naming.roles
        return titles.get(str(role), str(role))

    def thing(self, name: str) -> str:
        """What a thing is called; a part of a person as whose part it is."""
        known = self._things.get(name)
        if known is None:
            known = self._things[name] = self._thing(name)
        return known

    def _thing(self, name: str) -> str:
        subject = self.protocol.subjects.get(name)
        if subject is None:
            return in_words(name)
        if subject.kind is Kind.PERSON and subject.role is not None:
            part = name.rpartition(".")[2]
            return f"{self.role(subject.role)}: {self.speech.say(PARTS.get(part, part))}"
        return subject.title

    def people(self, step: Step) -> tuple[str, ...]:
        """The ids of all who take part, the owner first."""
        return self._people[id(step)]

    @cached_property
    def _people(self) -> dict[int, tuple[str, ...]]:
        """Who takes part, by step; by its identity, since two steps may have one name and comparing takes long."""
        people = {id(step): [step.role, *step.helpers] for step in self.steps}
        return {step: tuple(dict.fromkeys(one.value for one in those if one)) for step, those in people.items()}

    @cached_property
    def handled(self) -> list[tuple[str, ...]]:
        """By step, the things it handles or needs."""
        return [_handled(step) for step in self.steps]

    @cached_property
    def waits_at(self) -> dict[int, list[Waiting]]:
        """The waits by the step that waits."""
        found: dict[int, list[Waiting]] = {}
        for wait in self.waits:
            found.setdefault(wait.step, []).append(wait)
        return found

    @cached_property
    def waits_until(self) -> dict[int, list[Waiting]]:
        """The waits by the step that is waited for."""
        found: dict[int, list[Waiting]] = {}
        for wait in self.waits:
            found.setdefault(wait.until, []).append(wait)
        return found

    @cached_property
    def counted_from(self) -> dict[str, list[tuple[int, float]]]:
        """By the step whose end a least wait is counted from: the number of the step that waits so, and the seconds."""
        found: dict[str, list[tuple[int, float]]] = {}
        for number, step in enumerate(self.steps):
            for wait in step.waits:
                found.setdefault(wait.step.value, []).append((number, wait.seconds))
        return found

    @cached_property
    def requirement(self) -> dict[str, Requirement]:
        """What the set's evidence asks for, by name."""
        return {requirement.id.value: requirement for requirement in self.facts.protocol_set.requirements}

    def anchor(self, number: int) -> str | None:
        """The place of a step on a page; None for a second step of one name (its own finding tells)."""
        name = self.steps[number].id.value
        return name if self.index[name] == number else None

    def step_link(self, number: int, links: Links, role: str | None) -> Link:
        """A link to a step: on the role's own page if it is theirs, else on the whole-team page."""
        step = self.steps[number]
        own = role is not None and role in self.people(step)
        page = part_page(self.protocol.id, role) if own and role is not None else team_page(self.protocol.id)
        return Link(f"{number + 1}: {opening(step.do.value, 60)}", links.to(page, step.id.value))

    def condition(self, condition: Condition) -> str:
        """A condition in words: draping: two split sheets, or step 7 is answered: damaged."""
        name, options = condition.name.value, [option.value for option in condition.options]
        for choice in self.protocol.choices:
            if choice.id.value == name:
                titles = {option.value: title for option, title in choice.options}
                return f"{choice.title}: {one_of([titles.get(option, option) for option in options], self.speech)}"
        answers = one_of([in_words(text) for text in options], self.speech)
        if name in self.index:
            return self.speech.say(
                "step %(number)s is answered: %(answers)s", number=self.index[name] + 1, answers=answers
            )
        return f"{in_words(name)}: {answers}"

    def conditions(self, step: Step) -> tuple[str, ...]:
        """All conditions of a step, in words."""
        return tuple(self.condition(condition) for condition in step.when)

    def wait_view(self, number: int, role: str, until: int, links: Links) -> WaitView:
        """A wait as a page tells it."""
        step = self.steps[until]
        others = [self.role(person) for person in self.people(step) if person != role]
        certain = implied(step.when, self.steps[number].when)
        answer = in_words(step.repeat.answer.value) if step.repeat is not None else None
        return WaitView(
            who=in_sentence(others[0], self.language) if others else "",
            done=has_done(step.do.value, self.language),
            quote=opening(step.do.value).removesuffix("."),
            number=until + 1,
            href=self.step_link(until, links, None).href,
            only_if=() if certain else self.conditions(step),
            answer=answer,
        )

    def asked(self, number: int, links: Links, role: str | None) -> Asked | None:
        """The question of a step, with what follows from each answer."""
        step = self.steps[number]
        if step.asks is None:
            return None
        return Asked(
            step.asks.question.value,
            tuple(self._answer(number, answer.value, links, role) for answer in step.asks.answers),
        )

    def _answer(self, number: int, answer: str, links: Links, role: str | None) -> Answer:
        step, back = self.steps[number], None
        if step.repeat is not None and step.repeat.answer.value == answer:
            start = self.index.get(step.repeat.start.value)
            back = self.step_link(start, links, role) if start is not None else None
        leads = tuple(
            self.step_link(other, links, role)
            for other, later in enumerate(self.steps)
            if any(
                part.name.value == step.id.value and answer in {option.value for option in part.options}
                for part in later.when
            )
        )
        return Answer(in_words(answer), back, leads)

    def bounds(self, step: Step) -> tuple[str, ...]:
        """Least and most times against other steps, in words."""
        say = self.speech.say
        least = [
            say(
                "Not before %(time)s after %(step)s.",
                time=length(wait.seconds, self.speech), step=self.named(wait.step.value),
            )
            for wait in step.waits
        ]  # fmt: skip
        most = [
            say(
                "Done within %(time)s after %(step)s.",
                time=length(wait.seconds, self.speech), step=self.named(wait.step.value),
            )
            for wait in step.within
        ]  # fmt: skip
        return (*least, *most)

    def named(self, name: str) -> str:
        """A step in a sentence: its number and how its text opens."""
        number = self.index.get(name)
        if number is None:
            return in_words(name)
        text = opening(self.steps[number].do.value, 60).removesuffix(".")
        return self.speech.say("step %(number)s (%(text)s)", number=number + 1, text=text)

    def hand_overs(self, step: Step, role: str | None) -> tuple[HandOver, ...]:
        """What goes from hand to hand in a step, or is put on somebody; for one role only what concerns them."""
        if step.role is None:
            return ()
        giver = step.role.value
        found = [self._hand_over(effect, giver, role) for effect in step.effects]
        return tuple(over for over in found if over is not None)

    def _hand_over(self, effect: Effect, giver: str, role: str | None) -> HandOver | None:
        if effect.target is None:
            return None
        if effect.field == "passes":
            kind, thing, taker, place = "give", effect.thing.value, effect.target.value, "hands"
        elif effect.field == "covers" and "." in effect.thing.value:
            kind, thing = "dress", effect.target.value
            taker, _, place = effect.thing.value.rpartition(".")
        else:
            return None
        if taker == giver or role not in (None, giver, taker):
            return None
        return HandOver(kind, self.thing(thing), self.role(giver), self.role(taker), place, role == taker)

    def requirements(self, step: Step) -> tuple[str, ...]:
        """The requirements a step answers, each with its source."""
        found = [self.requirement[name.value] for name in step.meets if name.value in self.requirement]
        return tuple(f"{requirement.text} ({requirement.source})" for requirement in found)

    def record(self, name: str) -> str:
        """A line to write down, in words: Room pack: lot."""
        thing, _, what = name.rpartition(".")
        return f"{self.thing(thing)}: {in_words(what)}" if thing else in_words(what)


def _handled(step: Step) -> tuple[str, ...]:
    named = [text.value for effect in step.effects for text in (effect.thing, effect.target) if text is not None]
    return (*named, *(need.subject.value for need in step.needs))


def warn(kind: str, text: str, speech: Speech) -> Warn:
    """A caution with its signal word."""
    return Warn(kind, speech.say(HAZARDS.get(kind, HAZARDS["general"])), text)
