"""What an editor shows of a file: findings, what a name means at its place, and mends that can be written."""

from __future__ import annotations

import difflib
from collections.abc import Iterator
from dataclasses import dataclass

from ..asepsis import Exploration
from ..checks import Finding, Report, Severity, with_mends
from ..checks.fixing import changed_texts
from ..checks.words import Naming, listed
from ..language.editing import CannotEditError
from ..language.model import Level, Protocol, Step
from ..language.names import near
from ..language.source import Span
from ..reports import story_of
from .desk import LOOK_LIMIT, Desk, Looked
from .names import Named, name_at
from .positions import Position, Range, range_of

GRAVITY = {Severity.ERROR: 1, Severity.WARNING: 2, Severity.NOTE: 3}
"""As the Language Server Protocol numbers them (3.17, DiagnosticSeverity)."""


@dataclass(frozen=True, slots=True)
class Told:
    """One finding as an editor marks it; ``related`` are further places, each with a few words."""

    range: Range
    severity: int
    rule: str
    message: str
    related: tuple[tuple[Span, str], ...]


@dataclass(frozen=True, slots=True)
class Change:
    """New text for a stretch of a file."""

    path: str
    range: Range
    text: str


@dataclass(frozen=True, slots=True)
class Offer:
    """A change that can be made at once: its title, the rule it mends, and the changes."""

    title: str
    rule: str
    changes: tuple[Change, ...]


def lines_of(report: Report, path: str) -> list[str]:
    """The lines of a file as it was looked at."""
    return report.facts.protocol_set.sources.get(path, "").split("\n")


def findings_in(looked: Looked) -> tuple[Told, ...]:
    """The findings that stand in the file looked at."""
    report, lines = looked.report, lines_of(looked.report, looked.path)
    return tuple(_told(finding, report, lines) for finding in report.findings if finding.span.path == looked.path)


def _told(finding: Finding, report: Report, lines: list[str]) -> Told:
    words = [finding.message]
    if finding.advice:
        words.append(f"What to do: {finding.advice}")
    related = [(note.span, note.text) for note in finding.related]
    if finding.cause is not None:
        related.append((finding.cause.span, f"the cause: {finding.cause.step}"))
    story = story_of(finding, report.facts)
    related += [(line.span, str(line)) for line in story[-6:]]
    return Told(
        range_of(finding.span, lines), GRAVITY[finding.severity], finding.rule, "\n".join(words), tuple(related)
    )


def meaning_at(desk: Desk, path: str, line: int, column: int) -> tuple[Span, str] | None:
    """What the name at a place means there: a step's people, a thing's state before and after the step."""
    looked = desk.look(path)
    found = name_at(looked.report.facts.protocol_set, path, line, column)
    if found is None:
        return None
    for protocol in looked.report.facts.protocol_set.protocols:
        text = _meaning(desk, looked, protocol, found)
        if text is not None:
            return found.text.span, text
    return None


def _meaning(desk: Desk, looked: Looked, protocol: Protocol, found: Named) -> str | None:
    value = found.text.value
    naming = Naming(protocol, looked.report.facts.protocol_set.clinic)
    prefix = found.step.id.value.rpartition(".")[0] if found.step is not None else ""
    for step in protocol.steps:
        if step.id.value in (value, f"{prefix}.{value}"):
            role = naming.role(step.role)
            return f"**{step.id}** ({role})\n\n{' '.join(step.do.value.split())}"
    if value in protocol.subjects and found.step is not None:
        subject = protocol.subjects[value]
        explored = desk.explored(protocol.path)
        state = _state(explored, protocol, found.step, value) if explored is not None else UNKNOWN
        return f"**{value}**: {subject.title}\n\n{state}"
    if value in protocol.subjects:
        subject = protocol.subjects[value]
        return f"**{value}**: {subject.title}, starts {subject.starts.word}"
    return None


UNKNOWN = "Its state here is not known: not every order could be tried."


def _state(explored: Exploration, protocol: Protocol, step: Step, name: str) -> str:
    graph = explored.graph
    number, subject = graph.index.get(step.id.value), graph.number.get(name)
    if number is None or subject is None:
        return UNKNOWN
    before, after = explored.levels(number, subject), explored.levels(number, subject, after=True)
    if not before:
        return f"No order of {protocol.id} comes to this step."
    return f"Before this step: {_levels(before)}. After it: {_levels(after)}."


def _levels(levels: frozenset[Level]) -> str:
    words = [level.word for level in sorted(levels)]
    return f"{words[0]} in every order" if len(words) == 1 else f"{listed(words, 'or')}, depending on the order"


def offers_at(desk: Desk, path: str, wanted: Range) -> tuple[Offer, ...]:
    """Mends of the findings in a stretch of a file: those that were tried, and the nearest names for unknown ones."""
    looked = desk.look(path)
    lines = lines_of(looked.report, path)
    here = [
        finding
        for finding in looked.report.findings
        if finding.span.path == path and _meets(range_of(finding.span, lines), wanted)
    ]
    if not here:
        return ()
    keys = {finding.key for finding in here}
    tried = with_mends(looked.report, LOOK_LIMIT)
    mended = [finding for finding in tried.findings if finding.key in keys and finding.span.path == path]
    return (*_nearest(here, looked), *(offer for finding in mended for offer in _mends(finding, looked.report)))


def _meets(one: Range, other: Range) -> bool:
    return one.start.line <= other.end.line and other.start.line <= one.end.line


def _nearest(findings: list[Finding], looked: Looked) -> Iterator[Offer]:
    protocol = looked.protocol
    if protocol is None:
        return
    clinic = looked.report.facts.protocol_set.clinic
    known = [
        *protocol.subjects,
        *(step.id.value for step in protocol.steps),
        *(choice.id.value for choice in protocol.choices),
        *(role.id.value for role in (clinic.roles if clinic is not None else ())),
        *(one.id.value for one in looked.report.facts.protocol_set.requirements),
    ]
    lines = lines_of(looked.report, looked.path)
    for finding in findings:
        if finding.rule == "unknown-name" and finding.subject:
            for name in near(finding.subject, known):
                change = Change(looked.path, range_of(finding.span, lines), name)
                yield Offer(f"Write {name!r}", finding.rule, (change,))


def _mends(finding: Finding, report: Report) -> Iterator[Offer]:
    examined = report.facts.by_id.get(finding.protocol or "")
    for mend in finding.mends if examined is not None else ():
        try:
            texts = changed_texts(report.facts.protocol_set, examined.protocol, mend)  # type: ignore[union-attr]
        except CannotEditError:
            continue
        changes = tuple(
            change for path, text in texts.items() for change in _changes(path, "\n".join(lines_of(report, path)), text)
        )
        yield Offer(f"{mend.say[:1].upper()}{mend.say[1:]}", finding.rule, changes)


def _changes(path: str, before: str, after: str) -> Iterator[Change]:
    old, new = before.splitlines(keepends=True), after.splitlines(keepends=True)
    for kind, first, last, start, end in difflib.SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        if kind != "equal":
            yield Change(path, Range(Position(first, 0), Position(last, 0)), "".join(new[start:end]))
