"""What this rests on: requirements with the steps that answer them, steps with what they answer, the gaps first."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from ..checks.tracing import Silent, Trace, Traced, kept_by, tables
from ..language.model import Requirement
from .addresses import EVIDENCE_TABLE, PRINT, Links, team_page
from .limits import STATES, amount, limit_words, source_line, state_of
from .sheets.places import form_page
from .speech import Speech
from .views import Link
from .words import opening

MOST_LINKS = 1500
"""A page with more links to steps than this would be too heavy: they stand on the forms of the protocols alone."""


@dataclass(frozen=True, slots=True)
class Answered:
    """How one protocol stands to a requirement; ``state`` is met, unmet or extra."""

    protocol: Link
    steps: tuple[Link, ...]
    state: str
    said: str


@dataclass(frozen=True, slots=True)
class Case:
    """One case of a table of limits."""

    name: str
    applies: str
    limit: str
    answered: tuple[Answered, ...]


@dataclass(frozen=True, slots=True)
class Asked:
    """A requirement, or a table of them with its ``cases``.

    ``source`` has section and year with it; ``count`` is in how many protocols it is adopted or answered.
    """

    anchor: str
    name: str
    text: str
    limit: str
    applies: str
    source: str
    certainty: str
    address: str
    aged: bool
    count: int
    answered: tuple[Answered, ...]
    cases: tuple[Case, ...]


@dataclass(frozen=True, slots=True)
class StepAnswers:
    """A step, and the requirements it answers."""

    step: Link
    asked: tuple[Link, ...]


@dataclass(frozen=True, slots=True)
class ProtocolAnswers:
    """A protocol: its steps that answer something, those that guard somebody and answer nothing, and its form."""

    anchor: str
    link: Link
    form: Link
    steps: tuple[StepAnswers, ...]
    silent: tuple[Link, ...]
    guarding: int


def evidence_values(trace: Trace, page: str, speech: Speech, *, most_links: int = MOST_LINKS) -> dict[str, Any]:
    """What the template of the page asks for; with more links to steps than ``most_links`` it goes without them."""
    making = _Making(trace, Links(page), speech, most_links)
    asked = tuple(making.asked())
    anchors = {row.requirement.id.value: _anchor(row.requirement) for row in trace.rows}
    texts = {one.anchor: one.text for one in asked}
    protocols = tuple(making.protocols(anchors, texts))
    lost = {_anchor(group[0].requirement) for group in tables(trace.rows) if not any(row.adopted for row in group)}
    return {
        "asked": asked,
        "protocols": protocols,
        "unmet": tuple(
            (Link(opening(row.requirement.text), f"#{_anchor(row.requirement)}"), tuple(map(making.link, row.unmet)))
            for row in trace.unmet
        ),
        "unadopted": tuple(_to(one) for one in asked if one.anchor in lost),
        "aged": tuple(_to(one) for one in asked if one.aged),
        "aged_after": trace.aged_after,
        "full": making.full,
        "table": Links(page).to(EVIDENCE_TABLE),
        "forms": Links(page).to(PRINT),
    }


class _Making:
    def __init__(self, trace: Trace, links: Links, speech: Speech, most_links: int) -> None:
        self.trace, self.links, self.speech = trace, links, speech
        self.full = sum(len(steps) for row in trace.rows for steps in row.met.values()) <= most_links

    def link(self, protocol: str) -> Link:
        """The way to a protocol."""
        return Link(self.trace.protocols[protocol].title.value, self.links.to(team_page(protocol)))

    def step(self, protocol: str, number: int, *, short: bool = False) -> Link:
        """The way to a step, by its number alone or with how its text opens."""
        step = self.trace.protocols[protocol].steps[number]
        words = "" if short else f": {opening(step.do.value, 60)}"
        return Link(f"{number + 1}{words}", self.links.to(team_page(protocol), step.id.value))

    def kept(self, row: Traced, protocol: str, number: int) -> Link:
        """The way to a step that answers a requirement, with the value it keeps, if any."""
        link = self.step(protocol, number, short=True)
        value = kept_by(self.trace.protocols[protocol].steps[number], row.requirement.id.value)
        return link if value is None else Link(f"{link.text} ({amount(value, self.speech)})", link.href)

    def asked(self) -> Iterator[Asked]:
        """Every requirement, and every table as one."""
        for group in tables(self.trace.rows):
            one = group[0].requirement
            is_table = one.table is not None
            yield Asked(
                anchor=_anchor(one),
                name=one.table or one.id.value,
                text=one.text,
                limit="" if is_table else limit_words(one.limit, self.speech),
                applies="" if is_table else one.applies_to or "",
                source=source_line(one),
                certainty=one.certainty or "",
                address=one.link or "",
                aged=group[0].aged,
                count=len({name for row in group for name in row.protocols}),
                answered=() if is_table else self.answered(group[0]),
                cases=tuple(map(self.case, group)) if is_table else (),
            )

    def case(self, row: Traced) -> Case:
        """One case of a table."""
        one = row.requirement
        return Case(one.id.value, one.applies_to or "", limit_words(one.limit, self.speech), self.answered(row))

    def answered(self, row: Traced) -> tuple[Answered, ...]:
        """How every protocol stands to a requirement; where that is too much, only those that lack a step."""
        names = row.protocols if self.full else row.unmet
        return tuple(self._answered(row, name) for name in names)

    def _answered(self, row: Traced, protocol: str) -> Answered:
        steps = tuple(self.kept(row, protocol, number) for number in row.met.get(protocol, ()))
        state = state_of(row, protocol)
        return Answered(self.link(protocol), steps, state, self.speech.say(STATES[state]))

    def protocols(self, anchors: dict[str, str], texts: dict[str, str]) -> Iterator[ProtocolAnswers]:
        """Every protocol with its steps; where that is too much, without them."""
        form = self.speech.say("Form for an inspection")
        for silent in sorted(self.trace.silent, key=lambda one: self.trace.protocols[one.protocol].title.value):
            name = silent.protocol
            yield ProtocolAnswers(
                anchor=f"steps_{name}",
                link=self.link(name),
                form=Link(form, self.links.to(form_page(name))),
                steps=tuple(self._steps(name, anchors, texts)) if self.full else (),
                silent=self._silent(silent),
                guarding=silent.guarding,
            )

    def _steps(self, protocol: str, anchors: dict[str, str], texts: dict[str, str]) -> Iterator[StepAnswers]:
        for number, step in enumerate(self.trace.protocols[protocol].steps):
            met = list(dict.fromkeys(anchors[name.value] for name in step.meets if name.value in anchors))
            if met:
                asked = tuple(Link(opening(texts[anchor], 70), f"#{anchor}") for anchor in met)
                yield StepAnswers(self.step(protocol, number), asked)

    def _silent(self, silent: Silent) -> tuple[Link, ...]:
        return tuple(self.step(silent.protocol, number, short=not self.full) for number in silent.steps)


def _anchor(one: Requirement) -> str:
    return f"req_{one.table or one.id.value}"


def _to(one: Asked) -> Link:
    return Link(opening(one.text), f"#{one.anchor}")
