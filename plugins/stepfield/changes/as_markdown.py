"""A review for a pull request: Markdown in which nothing of a protocol's text can be more than text."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterator, Mapping

from ..checks import Finding
from ..reports.terminal import harmless
from .model import Change, Duty, PhaseView, Review, Reviewed
from .sharing import Shared, shared_changes
from .telling import detail, duty, heading, opening, readers, version

Pictures = Mapping[tuple[str, str], tuple[str | None, str | None]]
"""By protocol and phase the addresses of the pictures before and after."""
_SPECIAL = re.compile(r"([\\`*_{}\[\]()#+\-.!|>~:@])")


def markdown_review(review: Review, pictures: Pictures | None = None) -> str:
    """The whole review as Markdown; with ``pictures`` the phases are shown by them and not as text."""
    lines = [f"# Review of a change: {plain(review.base)} → {plain(review.head)}", "", plain(opening(review)), ""]
    shared, known = shared_changes(review.protocols)
    lines += _findings(review)
    if review.clinic:
        lines += ["## The clinic", "", *(line for change in review.clinic for line in _change(change)), ""]
    if shared:
        lines += ["## Shared parts", "", *(line for one in shared for line in _shared(one)), ""]
    for one in review.protocols:
        lines += _protocol(one, known, pictures)
    return "\n".join(lines).rstrip("\n") + "\n"


def plain(text: str) -> str:
    """Text that Markdown shows as it is, on one line."""
    safe = harmless(text).replace("&", "&amp;").replace("<", "&lt;")
    return _SPECIAL.sub(r"\\\1", safe)


def _protocol(one: Reviewed, known: Mapping[int, Shared], pictures: Pictures | None) -> Iterator[str]:
    grade = f": {one.grade.word}" if one.grade is not None else ""
    yield from (f"## {plain(one.title)} (`{plain_code(one.protocol)}`){grade}", "")
    if one.state == "unreadable":
        yield from ("It cannot be compared: its file cannot be read as meant in one of the two texts\\.", "")
        return
    for line in (version(one.version), readers(one)):
        if line:
            yield from (plain(line), "")
    told = []
    for change in one.changes:
        other = known.get(id(change))
        if other is None:
            yield from _change(change)
        else:
            told.append(f"`{plain_code(change.name)}`")
    if told:
        yield f"- From shared parts, told above: {', '.join(told)}"
    if one.changes:
        yield ""
    if one.duties:
        yield from ("### What changes for you", "")
        for each in one.duties:
            yield from _duty(each, one)
        yield ""
    for phase in one.phases:
        yield from _phase(one, phase, pictures)


def _change(change: Change) -> Iterator[str]:
    yield f"- **{change.grade.word}**: {plain(heading(change))}"
    for one in change.details:
        yield f"  - {plain(detail(one))} *({one.grade.word}: {plain(one.reason)})*"


def _shared(one: Shared) -> Iterator[str]:
    places = ", ".join(f"`{plain_code(protocol)}`: `{plain_code(step)}`" for protocol, step in one.places)
    what = f"part `{plain_code(one.part)}`, step `{plain_code(one.step)}` {one.change.kind}"
    yield f"- **{one.grade.word}**: {what}; used in {places}"
    for each in one.change.details:
        yield f"  - {plain(detail(each))} *({each.grade.word}: {plain(each.reason)})*"


def _duty(one: Duty, reviewed: Reviewed) -> Iterator[str]:
    yield f"- **{plain(one.title)}**{' (must read again)' if one.must_read else ''}"
    for line in duty(one, reviewed):
        yield f"  - {plain(line)}"


def _phase(one: Reviewed, phase: PhaseView, pictures: Pictures | None) -> Iterator[str]:
    yield from (f"### Phase: {plain(phase.title)}", "")
    shown = (pictures or {}).get((one.protocol, phase.id))
    if shown is not None and any(shown):
        for name, address in zip(("Before", "After"), shown, strict=True):
            if address is not None:
                yield from (f"![{name}: {plain(phase.title)}](<{address}>)", "")
        return
    yield "```diff"
    for line in difflib.unified_diff(phase.before, phase.after, lineterm="", n=3):
        if not line.startswith(("---", "+++")):
            yield harmless(line).replace("```", "'''")
    yield from ("```", "")


def _findings(review: Review) -> Iterator[str]:
    yield from _list("Findings that appear", (*review.unraised, *review.appeared))
    yield from _list("Findings that vanish", review.vanished)


def _list(title: str, findings: tuple[Finding, ...]) -> Iterator[str]:
    if findings:
        yield from (f"## {title}", "")
        for finding in findings:
            place = f"`{plain_code(finding.span.path)}:{finding.span.line}`"
            yield f"- **{finding.rule}** ({finding.severity.value}), {place}: {plain(finding.message)}"
        yield ""


def plain_code(text: str) -> str:
    """Text for a code span."""
    return harmless(text).replace("`", "'")
