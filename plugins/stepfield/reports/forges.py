"""Findings as the two common forges show them beside the lines of a change."""

from __future__ import annotations

import json
from collections.abc import Sequence

from ..checks import Finding, Report, Severity
from .fingerprint import fingerprints
from .scope import SAFE, checked_of, covered
from .terminal import harmless

_COMMANDS = {Severity.ERROR: "error", Severity.WARNING: "warning", Severity.NOTE: "notice"}
_GRAVITY = {Severity.ERROR: "critical", Severity.WARNING: "minor", Severity.NOTE: "info"}


def github_report(reports: Sequence[Report]) -> str:
    """A workflow command a line, which GitHub and Gitea-like runners turn into annotations; the summary is plain."""
    lines = [_command(finding) for report in reports for finding in report.findings]
    checked = checked_of(reports)
    lines += [
        f"::warning title=not proved::{_data(f'{one.protocol}: {one.why}. Not every order was tried.')}"
        for one in checked.unproved
    ]
    lines.append(_plain(f"Checked as of {checked.today}: {covered(checked)}. {SAFE}"))
    return "\n".join(lines) + "\n"


def _command(finding: Finding) -> str:
    span = finding.span
    told = {
        "file": span.path,
        "line": str(span.line),
        "endLine": str(max(span.line, span.end_line)),
        "col": str(span.column),
        "title": finding.rule,
    }
    if span.end_line == span.line:
        told["endColumn"] = str(max(span.column, span.end_column))
    properties = ",".join(f"{name}={_property(value)}" for name, value in told.items())
    return f"::{_COMMANDS[finding.severity]} {properties}::{_data(_words(finding))}"


def _words(finding: Finding) -> str:
    """The sentence, what to do, and which mends were tried, each on its own line."""
    lines = [finding.message]
    if finding.advice:
        lines.append(f"What to do: {finding.advice}")
    lines += [f"Proved to help: {mend.say}." for mend in finding.mends]
    return "\n".join(" ".join(line.split()) for line in lines)


def _data(text: str) -> str:
    """Text after the second pair of colons: what could end the line or be read as an escape is escaped."""
    shown = "\n".join(harmless(line) for line in text.split("\n"))
    return shown.replace("%", "%25").replace("\r", "%0D").replace("\n", "%0A")


def _property(text: str) -> str:
    """Text of a property, where colons and commas separate."""
    return _data(text).replace(":", "%3A").replace(",", "%2C")


def _plain(text: str) -> str:
    """A line of its own that can't be read as a command."""
    return harmless(text).replace("::", ": :")


def gitlab_report(reports: Sequence[Report]) -> str:
    """GitLab's code quality report: a list of findings, each recognised by its fingerprint."""
    findings = [finding for report in reports for finding in report.findings]
    found = [
        {
            "description": _words(finding),
            "check_name": finding.rule,
            "fingerprint": mark,
            "severity": _GRAVITY[finding.severity],
            "location": {
                "path": finding.span.path,
                "lines": {"begin": finding.span.line, "end": max(finding.span.line, finding.span.end_line)},
            },
        }
        for finding, mark in zip(findings, fingerprints(findings), strict=True)
    ]
    return json.dumps(found, indent=2) + "\n"
