"""Findings as text: the place marked in its line, the story that shows the slip, its cause, and what to do."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby

from ..checks import Facts, Finding, Report, Severity
from ..checks.words import at, folded, listed, quoted, sentence
from ..language.source import Span
from .scenarios import only_when
from .scope import SAFE, Checked, checked_of, covered
from .story import Line, shortened, story_of
from .terminal import harmless, width

_COLOURS = {Severity.ERROR: "31", Severity.WARNING: "33", Severity.NOTE: "36"}
WIDEST = 160
"""How much of a source line is shown."""


def text_report(reports: Sequence[Report], *, colour: bool = False) -> str:
    """All findings, grouped by protocol, and a summary of what was and was not checked."""
    lines: list[str] = []
    for report in reports:
        writer = _Writer(report.facts, colour)
        for protocol, findings in groupby(report.findings, key=lambda finding: finding.protocol):
            lines += writer.group(protocol, list(findings))
    found = [finding for report in reports for finding in report.findings]
    lines += _set_apart(reports)
    lines += _summary(found, checked_of(reports))
    return "\n".join(lines) + "\n"


def finding_text(finding: Finding, facts: Facts, *, colour: bool = False) -> str:
    """One finding as the report shows it."""
    return "\n".join(_Writer(facts, colour).finding(finding)) + "\n"


class _Writer:
    """Writes the findings of one protocol set."""

    def __init__(self, facts: Facts, colour: bool) -> None:
        self.facts, self.colour = facts, colour
        self.titles: dict[str | None, str] = {one.id: one.title for one in facts.protocol_set.passed}
        self.titles |= {one.protocol.id: one.protocol.title.value for one in facts.examined}
        self.sources = facts.protocol_set.sources
        self.lines: dict[str, list[str]] = {}

    def group(self, protocol: str | None, findings: list[Finding]) -> Iterator[str]:
        """The findings of one protocol under its name."""
        title = f"  {folded(self.titles[protocol])}" if protocol in self.titles else ""
        yield self.paint(harmless(f"{protocol or 'The whole set'}{title}"), "1")
        yield ""
        for finding in findings:
            yield from self.finding(finding)
            yield ""

    def finding(self, finding: Finding) -> Iterator[str]:
        """One finding: header, place, then what explains it."""
        span = finding.span
        rule = finding.rule if finding.severity is Severity.ERROR else f"{finding.rule} ({finding.severity.value})"
        rule = self.paint(rule, _COLOURS[finding.severity])
        place = self.paint(harmless(f"{span.path}:{span.line}:{span.column}"), "1")
        yield f"{place}  {rule}  {harmless(finding.message)}"
        yield from self.source(span)
        for text in self.explained(finding):
            yield f"  {harmless(text)}"

    def source(self, span: Span) -> Iterator[str]:
        """The line of the file with the place marked."""
        if span.path not in self.lines:
            self.lines[span.path] = self.sources[span.path].split("\n") if span.path in self.sources else []
        lines = self.lines[span.path]
        if not 1 <= span.line <= len(lines):
            return
        line, start = lines[span.line - 1], span.column - 1
        end = max(start + 1, span.end_column - 1 if span.end_line == span.line else len(line))
        cut = max(0, start - WIDEST // 2) if len(line) > WIDEST else 0
        shown, ahead = line[cut : cut + WIDEST], "…" if cut else ""
        before, marked = harmless(ahead + line[cut:start]), harmless(line[start : min(end, cut + WIDEST)])
        gutter = len(str(span.line))
        after = "…" if cut + WIDEST < len(line) else ""
        yield f"{' ' * gutter} |"
        yield f"{span.line} | {harmless(ahead + shown).rstrip()}{after}"
        yield f"{' ' * gutter} | {' ' * width(before)}{self.paint('^' * max(1, width(marked)), '1')}"

    def explained(self, finding: Finding) -> Iterator[str]:
        """When it occurs, the order that shows it, its cause, and what to do."""
        examined = self.facts.by_id.get(finding.protocol or "")
        when = only_when(finding.scenarios, examined.protocol) if examined is not None else None
        if when is not None:
            yield sentence(when)
        yield from _told(story_of(finding, self.facts), finding)
        if finding.cause is not None and finding.cause.step != finding.step:
            yield f"Cause: {quoted(finding.cause.step)} ({at(finding.cause.span, finding.span.path)})."
        for note in finding.related:
            yield f"See {note.span.path}:{note.span.line}:{note.span.column}: {note.text}."
        if finding.advice is not None:
            yield f"What to do: {finding.advice}"
        if finding.mends:
            yield f"Proved to help: {listed([mend.say for mend in finding.mends], 'or')}."
        if not finding.all_tried:
            yield "Not every change that might help was tried: that would have taken too long."

    def paint(self, text: str, code: str) -> str:
        return f"\x1b[{code}m{text}\x1b[0m" if self.colour else text


def _told(lines: tuple[Line, ...], finding: Finding) -> Iterator[str]:
    if not lines:
        return
    if finding.shortest:
        yield "Every order shows it; the shortest:" if finding.always else "The shortest order that shows it:"
    else:
        yield (
            "Every order shows it; one of them:"
            if finding.always
            else "An order that shows it, perhaps not the shortest:"
        )
    first, left_out, last = shortened(lines)
    for line in first:
        yield _line(line, finding)
    if left_out:
        yield f"   … {left_out} more steps …"
    for line in last:
        yield _line(line, finding)


def _line(line: Line, finding: Finding) -> str:
    """A step of the story; only the steps the finding is about are told with every sentence of theirs."""
    named = (finding.step, finding.cause.step if finding.cause is not None else None)
    told = line if line.step in named else replace(line, do=first_sentence(line.do))
    return f"  {told}  [{line.step}, {at(line.span, finding.span.path)}]"


def first_sentence(text: str) -> str:
    """The first sentence of a text, with a sign that there is more."""
    found = re.match(r".+?[.!?](?= )", text)
    return text if found is None else f"{found[0]} …"


def _set_apart(reports: Sequence[Report]) -> Iterator[str]:
    """The findings that do not count: accepted for a while, or there before."""
    for finding, why in (pair for report in reports for pair in report.accepted):
        place = f"{finding.span.path}:{finding.span.line}:{finding.span.column}"
        yield harmless(f"Accepted until {why.until} by {why.by}: {place}  {finding.rule}  {finding.message}")
        yield harmless(f"  {why.reason}")
    count = sum(len(report.accepted) for report in reports)
    if count:
        yield f"{_many(count, 'finding')} accepted for a while; not counted below."
    known = [report.known for report in reports if report.known is not None]
    if known:
        yield f"Not shown: {_many(sum(known), 'finding')} from before."


def _summary(findings: Sequence[Finding], checked: Checked) -> Iterator[str]:
    counts = [(kind, sum(finding.severity is kind for finding in findings)) for kind in Severity]
    found = [_many(count, kind.value) for kind, count in counts if count]
    yield f"{listed(found)}." if found else "No findings."
    yield (
        f"Checked as of {checked.today}: {_many(checked.protocols, 'protocol')}, {_many(checked.steps, 'step')}, "
        f"{_many(checked.scenarios, 'scenario')}, {_many(checked.states, 'state')}; {covered(checked)}."
    )
    for one in checked.unproved:
        yield f"Not proved: {harmless(one.protocol)}: {harmless(one.why)}."
    yield from textwrap.wrap(f"Not looked at: {'; '.join(checked.not_checked)}.", 110, subsequent_indent="  ")
    yield SAFE


def _many(count: int, word: str) -> str:
    return f"{count:,} {word}" if count == 1 else f"{count:,} {word}s"
