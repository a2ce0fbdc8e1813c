"""Pointing a finding at the local change that brought it about, where the adopted text alone does not have it."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Iterator
from dataclasses import replace

from ..language.build import build_set
from ..language.files import folder_of, place_of
from ..language.model import ProtocolSet, Step
from ..language.tailored import Deviation
from ..language.tailoring_fields import bare
from .finding import Finding, Note
from .words import quoted

MOST_TOLD = 4
Check = Callable[[ProtocolSet], Iterable[Finding]]
_LINE = re.compile(r"(?<!yaml )\bline [0-9]+\b")
_ADOPTED = (
    "The file was adopted and stays as it is: write the change into tailoring.yaml, "
    "or take it up with those who keep the shared text."
)
_DONE = {"set": "is changed here", "drop": "is left out here", "add": "is added here"}


def blamed(findings: Iterable[Finding], whole: ProtocolSet, check: Check) -> list[Finding]:
    """The findings, each at the place that is to blame; ``check`` judges the adopted text as it is without changes.

    What the adopted text has too stays where it is. Where one change alone can have brought a finding about, the
    finding stands at that change, and the place in the adopted text beside it; where several can, they stand beside it.
    """
    found = list(findings)
    tailoring = whole.tailoring
    if tailoring is None:
        return found
    changes: dict[str, list[Deviation]] = {}
    for deviation in tailoring.deviations:
        if deviation.protocol is not None:
            changes.setdefault(deviation.protocol, []).append(deviation)
    asked = [one for one in found if one.protocol in changes and one.span.path != tailoring.path]
    if not asked:
        return found
    adopted = {one.key for one in check(as_adopted(whole, {one.protocol for one in asked}))}
    new = {id(one) for one in asked if one.key not in adopted}
    return [_at(one, changes[one.protocol or ""]) if id(one) in new else one for one in found]


def as_adopted(whole: ProtocolSet, wanted: Collection[str | None]) -> ProtocolSet:
    """The set as it was adopted, with no more than the protocols that are wanted."""
    folder = folder_of(whole.sources)

    def is_wanted(path: str) -> bool:
        place = place_of(path, folder)
        return place.id in wanted if place.kind == "protocol" else place.kind in ("clinic", "evidence", "part")

    return build_set({path: text.encode() for path, text in whole.sources.items() if is_wanted(path)}, folder)


def _at(finding: Finding, changes: list[Deviation]) -> Finding:
    likely = [one for one in changes if one.name.value == finding.step or _touches(one, finding.subject)] or changes
    notes = tuple(Note(one.span, f"{quoted(one.name)} {_DONE[one.what]}") for one in likely[:MOST_TOLD])
    if len(likely) > 1:
        return replace(finding, related=(*finding.related, *notes))
    place = Note(finding.span, "what the adopted text says")
    return replace(
        finding,
        span=likely[0].span,
        message=_with_file(finding.message, finding.span.path),
        advice=finding.advice and _with_file(finding.advice, finding.span.path),
        related=(*finding.related, place),
    )


def told_of_adopted(findings: Iterable[Finding], whole: ProtocolSet) -> Iterator[Finding]:
    """The findings; where one stands in an adopted file, with where the advice is to be followed."""
    upstream = whole.upstream
    folder = "" if upstream is None else upstream.path.rpartition("/")[0]
    adopted = set() if upstream is None else {f"{folder}/{path}" if folder else path for path in upstream.digests}
    for finding in findings:
        told = finding.rule == "baseline-edited" or not finding.advice or finding.advice.endswith(_ADOPTED)
        if finding.span.path in adopted and not told:
            yield replace(finding, advice=f"{finding.advice} {_ADOPTED}")
        else:
            yield finding


def _with_file(text: str, path: str) -> str:
    """A text that told lines of the file it stood beside, to be told beside another."""
    return _LINE.sub(lambda found: f"{path} {found[0]}", text)


def _touches(change: Deviation, subject: str | None) -> bool:
    """Whether a change takes away, or brings, something that a step did to a thing, or said of a fact."""
    was, now = set(_said(change.before)), set(_said(change.after))
    return any(subject in names for names in was ^ now)


def _said(step: object) -> Iterator[tuple[str, ...]]:
    if isinstance(step, Step):
        for effect in step.effects:
            yield (effect.field, effect.thing.value, effect.target.value if effect.target else "", str(effect.level))
        for need in step.needs:
            yield ("needs", need.subject.value, need.level.word)
        for kind in ("requires", "confirms", "withdraws", "after", "meets", "records"):
            yield from ((kind, name) for name in bare(getattr(step, kind)))
