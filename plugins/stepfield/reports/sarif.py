"""Findings in SARIF 2.1.0, the OASIS standard that code hosts and editors read."""

from __future__ import annotations

import difflib
import json
from collections.abc import Iterator, Mapping, Sequence
from typing import Any
from urllib.parse import quote

from .. import __version__
from ..checks import Facts, Finding, Mend, Report, Rule, Severity, all_rules
from ..checks.fixing import changed_texts
from ..checks.manual import summary_of
from ..language.editing import CannotEditError
from ..language.source import Span
from .fingerprint import fingerprint
from .scope import SAFE, checked_of
from .story import story_of

SCHEMA = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
_LEVELS = {Severity.ERROR: "error", Severity.WARNING: "warning", Severity.NOTE: "note"}


def sarif_report(reports: Sequence[Report]) -> str:
    """One run with every finding; the order that shows a slip is a code flow, a mend that was tried is a fix.

    What was not proved stands among the notifications of the run.
    """
    rules = {rule.name: number for number, rule in enumerate(all_rules())}
    checked = checked_of(reports)
    results = [_result(found, report.facts, rules) for report in reports for found in report.findings]
    told = [
        *({"level": "warning", "message": _text(f"Not proved: {one.protocol}: {one.why}")} for one in checked.unproved),
        *({"level": "note", "message": _text(f"Not looked at: {text}")} for text in checked.not_checked),
        {"level": "note", "message": _text(SAFE)},
    ]
    run = {
        "tool": {"driver": {"name": "Stepfield", "version": __version__, "rules": [_rule(one) for one in all_rules()]}},
        "columnKind": "unicodeCodePoints",
        "invocations": [{"executionSuccessful": True, "toolExecutionNotifications": told}],
        "results": results,
    }
    return json.dumps({"$schema": SCHEMA, "version": "2.1.0", "runs": [run]}, indent=2) + "\n"


def _rule(rule: Rule) -> dict[str, Any]:
    return {
        "id": rule.name,
        "shortDescription": _text(summary_of(rule.page)),
        "help": {"text": rule.page.strip(), "markdown": rule.page.strip()},
        "defaultConfiguration": {"level": _LEVELS[rule.severity]},
    }


def _result(finding: Finding, facts: Facts, rules: Mapping[str, int]) -> dict[str, Any]:
    advice = f" What to do: {finding.advice}" if finding.advice else ""
    found: dict[str, Any] = {
        "ruleId": finding.rule,
        "ruleIndex": rules[finding.rule],
        "level": _LEVELS[finding.severity],
        "message": _text(finding.message + advice),
        "locations": [_location(finding.span)],
        "partialFingerprints": {"stepfield/v1": fingerprint(finding)},
    }
    related = [(note.span, note.text) for note in finding.related]
    if finding.cause is not None:
        related.append((finding.cause.span, f"the cause: {finding.cause.step}"))
    if related:
        found["relatedLocations"] = [_location(span, text, number) for number, (span, text) in enumerate(related, 1)]
    story = story_of(finding, facts)
    if story:
        places = [{"location": _location(line.span, str(line))} for line in story]
        found["codeFlows"] = [{"threadFlows": [{"locations": places}]}]
    fixes = [fix for mend in finding.mends for fix in _fixes(finding, mend, facts)]
    if fixes:
        found["fixes"] = fixes
    return found


def _fixes(finding: Finding, mend: Mend, facts: Facts) -> Iterator[dict[str, Any]]:
    """A mend as replacements of whole lines; none if it can't be written by additions alone."""
    examined = facts.by_id.get(finding.protocol or "")
    if examined is None:
        return
    sources = facts.protocol_set.sources
    try:
        texts = changed_texts(facts.protocol_set, examined.protocol, mend)
    except CannotEditError:
        return
    changes = [
        {"artifactLocation": {"uri": _uri(path)}, "replacements": list(_replacements(sources.get(path, ""), text))}
        for path, text in texts.items()
    ]
    yield {"description": _text(mend.say), "artifactChanges": changes}


def _replacements(before: str, after: str) -> Iterator[dict[str, Any]]:
    old, new = before.splitlines(keepends=True), after.splitlines(keepends=True)
    for kind, first, last, start, end in difflib.SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        if kind != "equal":
            region = {"startLine": first + 1, "startColumn": 1, "endLine": last + 1, "endColumn": 1}
            yield {"deletedRegion": region, "insertedContent": {"text": "".join(new[start:end])}}


def _location(span: Span, text: str | None = None, number: int | None = None) -> dict[str, Any]:
    region = {
        "startLine": span.line,
        "startColumn": span.column,
        "endLine": max(span.line, span.end_line),
        "endColumn": max(1, span.end_column if span.end_line > span.line else max(span.end_column, span.column)),
    }
    place: dict[str, Any] = {"physicalLocation": {"artifactLocation": {"uri": _uri(span.path)}, "region": region}}
    if text is not None:
        place["message"] = _text(text)
    if number is not None:
        place["id"] = number
    return place


def _uri(path: str) -> str:
    """A path as a relative reference; a colon in its first segment must not read as a scheme (RFC 3986, 4.2)."""
    return quote(path.replace("\\", "/"), safe="/~")


def _text(text: str) -> dict[str, str]:
    return {"text": text}
