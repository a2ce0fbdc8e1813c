"""What a report tells and counts of one protocol, where no order of steps is involved in it; as plain data too."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from ..asepsis import count_orders
from ..checks import Cause, Finding, Report, Severity
from ..checks.finding import Note
from ..language import Passed, Span
from ..language.files import place_of
from ..language.unused import names_used

_NUMBERS = ("steps", "scenarios", "states")
_WORDS = ("message", "protocol", "step", "subject", "advice")


@dataclass(frozen=True, slots=True)
class Judged:
    """A protocol all of whose orders were tried, and what was found in its text alone."""

    passed: Passed
    findings: tuple[Finding, ...]


def judged_in(report: Report) -> Iterator[Judged]:
    """Of a report the protocols that were proved, with findings that their own text brings about and nothing else."""
    whole = report.facts.protocol_set
    surfaces = {surface.name.value for surface in whole.clinic.surfaces} if whole.clinic is not None else set()
    # A part that wants a name bound for nothing does so whoever uses it: that is told each time from the part alone.
    problems = [problem for problem in whole.problems if problem.rule != "unused-name"]
    wrong = {problem.protocol for problem in problems} | {problem.span.path for problem in problems}
    found: dict[str | None, list[Finding]] = {}
    for finding in report.findings:
        found.setdefault(finding.protocol, []).append(finding)
    for one in report.facts.examined:
        protocol, proof, findings = one.protocol, one.proof, found.get(one.protocol.id, [])
        places = {protocol.id, protocol.path, *protocol.parts, *(step.span.path for step in protocol.steps)}
        searched = proof is not None and proof.exploration.complete and one.unproved is None
        if proof is None or not searched or places & wrong or not all(map(_is_of_text, findings)):
            continue
        orders = count_orders(proof.graph)
        passed = Passed(
            id=protocol.id,
            path=protocol.path,
            title=protocol.title.value,
            steps=len(protocol.steps),
            parts=protocol.parts,
            names=frozenset(surfaces & names_used(protocol)),
            scenarios=proof.scenarios,
            states=proof.states,
            orders=(orders.at_least, orders.at_most),
        )
        yield Judged(passed, tuple(findings))


def _is_of_text(finding: Finding) -> bool:
    """Whether nothing is told but what the text says: no scenario, no order, no mend."""
    plain = Finding(finding.rule, finding.severity, finding.span, finding.message)
    words = {name: getattr(finding, name) for name in _WORDS}
    return finding == replace(plain, cause=finding.cause, related=finding.related, **words)


def entry_of(judged: Judged, parts: Mapping[str, str]) -> dict[str, Any]:
    """As plain data; ``parts`` are the digests of all parts by id."""
    passed = judged.passed
    return {
        "title": passed.title,
        **{name: getattr(passed, name) for name in _NUMBERS},
        "parts": {part: parts[part] for part in sorted(passed.parts)},
        "names": sorted(passed.names),
        # In hexadecimal, as there are limits to how long a decimal number may be read or written.
        "orders": [hex(bound) for bound in passed.orders],
        "findings": [_finding_entry(finding) for finding in judged.findings],
    }


def judged_of(path: str, entry: dict[str, Any]) -> Judged:
    """From plain data for which ``is_entry`` holds; ``path`` is the protocol's file."""
    passed = Passed(
        id=place_of(path.rpartition("/")[2], "").id,
        path=path,
        title=entry["title"],
        parts=frozenset(entry["parts"]),
        names=frozenset(entry["names"]),
        orders=(int(entry["orders"][0], 16), int(entry["orders"][1], 16)),
        **{name: entry[name] for name in _NUMBERS},
    )
    return Judged(passed, tuple(map(_finding_of, entry["findings"])))


def is_entry(entry: object) -> bool:
    """Whether something read from a file has the shape that ``entry_of`` gives."""
    if not isinstance(entry, dict) or entry.keys() != {*_NUMBERS, "title", "parts", "names", "orders", "findings"}:
        return False
    parts, names, orders, findings = (entry[name] for name in ("parts", "names", "orders", "findings"))
    return (
        isinstance(entry["title"], str)
        and all(_is_count(entry[name]) for name in _NUMBERS)
        and isinstance(parts, dict)
        and _are_texts(list(parts.values()))
        and _are_texts(names)
        and _are_texts(orders)
        and len(orders) == 2
        and all(bound[:2] == "0x" and bound[2:].isalnum() and set(bound[2:]) <= _DIGITS for bound in orders)
        and isinstance(findings, list)
        and all(map(_is_finding, findings))
    )


_DIGITS = frozenset("0123456789abcdef")


def _finding_entry(finding: Finding) -> dict[str, Any]:
    cause = finding.cause
    return {
        "rule": finding.rule,
        "severity": finding.severity.value,
        "span": _span_entry(finding.span),
        **{name: getattr(finding, name) for name in _WORDS},
        "cause": None if cause is None else [cause.step, _span_entry(cause.span)],
        "related": [[note.text, _span_entry(note.span)] for note in finding.related],
    }


def _finding_of(entry: dict[str, Any]) -> Finding:
    cause = entry["cause"]
    return Finding(
        rule=entry["rule"],
        severity=Severity(entry["severity"]),
        span=Span(*entry["span"]),
        cause=None if cause is None else Cause(cause[0], Span(*cause[1])),
        related=tuple(Note(Span(*span), text) for text, span in entry["related"]),
        **{name: entry[name] for name in _WORDS},
    )


def _span_entry(span: Span) -> list[str | int]:
    return [span.path, span.line, span.column, span.end_line, span.end_column]


def _is_finding(entry: object) -> bool:
    if not isinstance(entry, dict) or entry.keys() != {"rule", "severity", "span", *_WORDS, "cause", "related"}:
        return False
    related = entry["related"]
    return (
        _are_texts([entry["rule"], entry["message"]])
        and entry["severity"] in [one.value for one in Severity]
        and _is_span(entry["span"])
        and all(entry[name] is None or isinstance(entry[name], str) for name in _WORDS)
        and (entry["cause"] is None or _is_note(entry["cause"]))
        and isinstance(related, list)
        and all(map(_is_note, related))
    )


def _is_note(entry: object) -> bool:
    return isinstance(entry, list) and len(entry) == 2 and isinstance(entry[0], str) and _is_span(entry[1])


def _is_span(entry: object) -> bool:
    return isinstance(entry, list) and len(entry) == 5 and isinstance(entry[0], str) and all(map(_is_count, entry[1:]))


def _is_count(number: object) -> bool:
    return type(number) is int and number >= 0


def _are_texts(texts: object) -> bool:
    return isinstance(texts, list) and all(isinstance(text, str) for text in texts)
