"""A review for a terminal."""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping

from ..checks import Finding
from ..reports.terminal import harmless
from .model import Change, Review, Reviewed
from .sharing import Shared, shared_changes
from .telling import detail, duty, heading, opening, readers, version


def text_review(review: Review) -> str:
    """The whole review as text."""
    lines = [f"Review of a change: {review.base} → {review.head}", opening(review), ""]
    shared, known = shared_changes(review.protocols)
    for title, found in (
        ("Findings that appear", (*review.unraised, *review.appeared)),
        ("Findings that vanish", review.vanished),
    ):
        lines += _findings(title, found)
    if review.clinic:
        lines += ["The clinic", *(line for change in review.clinic for line in _change(change)), ""]
    if shared:
        lines += ["Shared parts", *(line for one in shared for line in _shared(one)), ""]
    for one in review.protocols:
        lines += [*_protocol(one, known), ""]
    return "\n".join(harmless(line) for line in lines).rstrip("\n") + "\n"


def _protocol(one: Reviewed, known: Mapping[int, Shared]) -> Iterator[str]:
    yield f"{one.protocol}  {one.title}{f'  [{one.grade.word}]' if one.grade is not None else ''}"
    if one.state == "unreadable":
        yield "  It cannot be compared: its file cannot be read as meant in one of the two texts."
        return
    yield from (f"  {line}" for line in (version(one.version), readers(one)) if line)
    for change in one.changes:
        if id(change) not in known:
            yield from _change(change)
    told = [change.name for change in one.changes if id(change) in known]
    if told:
        yield f"  From shared parts, told above: {', '.join(told)}"
    for each in one.duties:
        yield f"  For you as {each.title}{' (must read again)' if each.must_read else ''}:"
        yield from (f"    {line}" for line in duty(each, one))
    for phase in one.phases:
        yield f"  Phase {phase.id}, before and after:"
        for line in difflib.unified_diff(phase.before, phase.after, lineterm="", n=1):
            if not line.startswith(("---", "+++", "@@")):
                yield f"    {line}"


def _change(change: Change) -> Iterator[str]:
    yield f"  [{change.grade.word}] {heading(change)}"
    for one in change.details:
        yield f"      {detail(one)} ({one.grade.word}: {one.reason})"


def _shared(one: Shared) -> Iterator[str]:
    places = ", ".join(f"{protocol}: {step}" for protocol, step in one.places)
    yield f"  [{one.grade.word}] part '{one.part}', step '{one.step}' {one.change.kind}; used in {places}"
    for each in one.change.details:
        yield f"      {detail(each)} ({each.grade.word}: {each.reason})"


def _findings(title: str, findings: tuple[Finding, ...]) -> Iterator[str]:
    if findings:
        yield title
        for finding in findings:
            place = f"{finding.span.path}:{finding.span.line}:{finding.span.column}"
            yield f"  {place}  {finding.rule} ({finding.severity.value})  {finding.message}"
        yield ""
