"""The problems page: every finding with its place in the text, its story, and what to do about it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ..checks import Finding, Report, Severity
from ..checks.words import sentence
from ..language.model import Protocol
from ..language.source import Span
from ..reports import story_of
from .addresses import PROBLEMS, RULES, Links, team_page
from .frame import problem_anchor
from .prose import Piece, pieces
from .reading import Reading
from .speech import Speech
from .views import Link
from .words import SEVERITIES, in_words, opening

LAST_STEPS = 6
"""So many steps of a story stand open; those before them are unfolded."""


@dataclass(frozen=True, slots=True)
class Place:
    """A stretch of a file as it stands there: the line in three pieces, the middle one meant."""

    where: str
    before: str
    marked: str
    after: str


@dataclass(frozen=True, slots=True)
class Related:
    """Another place that a finding is about, with what is said of it and the language of that."""

    text: str
    language: str
    place: Place


@dataclass(frozen=True, slots=True)
class Told:
    """One step of a story: who does it, what, and what is answered where the step asks."""

    who: str
    do: str
    answer: str | None
    href: str


@dataclass(frozen=True, slots=True)
class Problem:
    """One finding, ready to show."""

    anchor: str
    severity: str
    called: str
    """The severity in the clinic's language."""
    rule: Link
    message: tuple[Piece, ...]
    advice: tuple[Piece, ...]
    protocol: Link | None
    place: Place
    related: tuple[Related, ...]
    scenarios: tuple[str, ...]
    always: bool
    shortest: bool
    story: tuple[Told, ...]
    mends: tuple[tuple[Piece, ...], ...]

    @property
    def earlier(self) -> tuple[Told, ...]:
        """The steps of the story before its end; a single one is not worth folding away."""
        return self.story[:-LAST_STEPS] if len(self.story) > LAST_STEPS + 1 else ()

    @property
    def end(self) -> tuple[Told, ...]:
        """The last steps of the story, which show what goes wrong."""
        return self.story[len(self.earlier) :]


def problems(report: Report, readings: Mapping[str, Reading], speech: Speech) -> tuple[Problem, ...]:
    """Every finding of a report, in its order."""
    links = Links(PROBLEMS)
    places = Places(report.facts.protocol_set.sources, speech)
    return tuple(
        _problem(number, finding, readings.get(finding.protocol or ""), links, places)
        for number, finding in enumerate(report.findings, start=1)
    )


def counted(report: Report, speech: Speech) -> str:
    """How many findings there are of each severity, the gravest first; none is left out."""
    counts = {one: sum(finding.severity is one for finding in report.findings) for one in Severity}
    told = (
        speech.count("%(number)s error", "%(number)s errors", counts[Severity.ERROR]),
        speech.count("%(number)s warning", "%(number)s warnings", counts[Severity.WARNING]),
        speech.count("%(number)s note", "%(number)s notes", counts[Severity.NOTE]),
    )
    return ", ".join(told)


def _problem(number: int, finding: Finding, reading: Reading | None, links: Links, places: Places) -> Problem:
    protocol = reading.protocol if reading is not None else None
    related = [Related(sentence(note.text), "en", places.at(note.span)) for note in finding.related]
    if finding.cause is not None and finding.cause.step != finding.step:
        said = places.speech.say("Brought about by '%(step)s'", step=finding.cause.step)
        related.insert(0, Related(said, places.speech.spoken, places.at(finding.cause.span)))
    return Problem(
        anchor=problem_anchor(number),
        severity=finding.severity.value,
        called=places.speech.say(SEVERITIES[finding.severity.value]),
        rule=Link(finding.rule, links.to(RULES, f"rule_{finding.rule}")),
        message=pieces(finding.message),
        advice=pieces(finding.advice or ""),
        protocol=Link(protocol.title.value, _to_step(finding, protocol, links)) if protocol is not None else None,
        place=places.at(finding.span),
        related=tuple(related),
        scenarios=_scenarios(finding, reading),
        always=finding.always,
        shortest=finding.shortest,
        story=_story(finding, reading, links),
        mends=tuple(pieces(mend.say) for mend in finding.mends),
    )


def _to_step(finding: Finding, protocol: Protocol, links: Links) -> str:
    known = {step.id.value for step in protocol.steps}
    return links.to(team_page(protocol.id), finding.step if finding.step in known and finding.step else "")


def _scenarios(finding: Finding, reading: Reading | None) -> tuple[str, ...]:
    """The scenarios a finding occurs in, in words; none where it occurs in all."""
    protocol = reading.protocol if reading is not None else None
    proof = reading.examined.proof if reading is not None else None
    choices = {choice.id.value for choice in protocol.choices} if protocol is not None else set()
    if (
        proof is not None
        and len(finding.scenarios) == proof.scenarios
        and all(set(one) <= choices for one in finding.scenarios)
    ):
        return ()
    return tuple(text for scenario in finding.scenarios if (text := _scenario(scenario, protocol)))


def _scenario(scenario: Mapping[str, str], protocol: Protocol | None) -> str:
    """A settling of choices and answers, in words."""
    choices = {choice.id.value: choice for choice in protocol.choices} if protocol is not None else {}
    told = []
    for name, option in scenario.items():
        choice = choices.get(name)
        titles = {key.value: title for key, title in choice.options} if choice is not None else {}
        told.append(f"{choice.title if choice is not None else in_words(name)}: {titles.get(option, in_words(option))}")
    return "; ".join(told)


def _story(finding: Finding, reading: Reading | None, links: Links) -> tuple[Told, ...]:
    if reading is None:
        return ()
    page = team_page(reading.protocol.id)
    return tuple(
        Told(line.who, opening(line.do), line.answer, links.to(page, line.step))
        for line in story_of(finding, reading.facts)
    )


@dataclass(frozen=True, slots=True)
class Places:
    """Finds places in the texts of a set, by path."""

    sources: Mapping[str, str]
    speech: Speech

    def at(self, span: Span) -> Place:
        """A place as the file has it; only where it is, if the text is not at hand."""
        where = self.speech.say("%(path)s, line %(line)s", path=span.path, line=span.line)
        lines = self.sources.get(span.path, "").splitlines()
        if not 0 < span.line <= len(lines):
            return Place(where, "", "", "")
        line = lines[span.line - 1]
        start = span.column - 1
        end = span.end_column - 1 if span.end_line == span.line else len(line)
        return Place(where, line[:start].lstrip(), line[start:end], line[end:])
