"""What the log of a build says of the findings: a line each, with its place."""

from __future__ import annotations

from collections.abc import Sequence

from ..checks import Report, Severity


def log_lines(report: Report) -> dict[Severity, list[str]]:
    """The lines of each severity, in the order of the report."""
    lines: dict[Severity, list[str]] = {severity: [] for severity in Severity}
    for found in report.findings:
        place = f"{found.span.path}:{found.span.line}:{found.span.column}"
        lines[found.severity].append(f"{place}: {found.rule}: {found.message}")
    return lines


def why_stopped(errors: Sequence[str]) -> str:
    """Why there is no site, with the lines of all errors."""
    count = f"{len(errors)} error" + ("s" if len(errors) > 1 else "")
    return "\n".join([f"The protocols have {count}; the site was not built:", *errors])
