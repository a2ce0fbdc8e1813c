"""Findings that a clinic knows of and accepts for a while: taken out of what counts, told apart, never hidden."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

from ..language.model import Accepted
from .finding import Finding, Severity
from .rule import all_rules
from .run import Report, ranked
from .words import listed, quoted

NEVER = ("bad-yaml", "bad-shape", "not-proved")
"""What cannot be accepted: where these hold, nobody knows what else there is."""
EXPIRED, NEEDLESS = "acceptance-expired", "acceptance-needless"


def with_acceptances(report: Report) -> Report:
    """The report with the accepted findings set apart; acceptances past their day or for nothing are findings."""
    known = report.facts.protocol_set.accepted
    if not known:
        return report
    in_time = {one.key: one for one in known if one.until >= report.facts.today and one.rule.value not in NEVER}
    accepted = tuple((finding, in_time[finding.key]) for finding in report.findings if finding.key in in_time)
    found = [finding for finding in report.findings if finding.key not in in_time]
    told = {finding.key: finding for finding in report.findings}
    more = [*_expired(known, report), *_needless(known, report, told)]
    return replace(report, findings=ranked([*found, *more]), accepted=accepted)


def without_known(report: Report, before: Report) -> Report:
    """The report without the findings that an earlier text had as well, by rule, protocol, step and subject."""
    known = {finding.key for finding in before.findings}
    new = tuple(finding for finding in report.findings if finding.key not in known)
    return replace(report, findings=new, known=len(report.findings) - len(new))


def _expired(known: Iterable[Accepted], report: Report) -> Iterator[Finding]:
    for one in known:
        days = (report.facts.today - one.until).days
        if days > 0:
            yield Finding(
                rule=EXPIRED,
                severity=Severity.WARNING,
                span=one.until_span,
                message=f"{_named(one)} was accepted until {one.until}, {days} {'day' if days == 1 else 'days'} ago.",
                protocol=one.protocol,
                step=one.step,
                subject=one.subject or one.rule.value,
                advice="Mend what was found and take this out, or have it accepted anew with a later `until`.",
            )


def _needless(
    known: Iterable[Accepted], report: Report, told: Mapping[tuple[str, str, str, str], Finding]
) -> Iterator[Finding]:
    seen: set[tuple[str, str, str, str]] = set()
    for one in known:
        why = _why_needless(one, report, told, again=one.key in seen)
        seen.add(one.key)
        if why is not None:
            yield Finding(
                rule=NEEDLESS,
                severity=Severity.WARNING,
                span=one.rule.span,
                message=f"{_named(one)} is accepted, {why}.",
                protocol=one.protocol,
                step=one.step,
                subject=one.subject or one.rule.value,
                advice="Take it out, so that the same finding is told if it ever comes.",
            )


def _why_needless(
    one: Accepted, report: Report, told: Mapping[tuple[str, str, str, str], Finding], *, again: bool
) -> str | None:
    """Why an acceptance has no use, as the end of a sentence; None if it has one, or if that is past its day."""
    if one.rule.value not in {rule.name for rule in all_rules()}:
        return f"but there is no rule {quoted(one.rule)}"
    if one.rule.value in NEVER:
        return "but that cannot be: nobody knows what else such a text holds"
    if again:
        return "but it is so above already"
    if one.key in told or report.facts.today > one.until:
        return None
    whole = report.facts.protocol_set
    looked_at = {*whole.paths, *whole.unreadable}
    if one.protocol is not None and one.protocol not in looked_at:
        return f"but there is no protocol {quoted(one.protocol)}"
    near = [
        f"{key[2] or 'no step'} / {key[3] or 'no subject'}"
        for key in told
        if key[0] == one.rule.value and key[1] == (one.protocol or "")
    ]
    return "but it is not found" + (f" there; this rule finds there: {listed(near)} (step / subject)" if near else "")


def _named(one: Accepted) -> str:
    place = ", ".join(
        [
            f"{what} {quoted(name)}"
            for what, name in (("protocol", one.protocol), ("step", one.step))
            if name is not None
        ]
        + ([quoted(one.subject)] if one.subject is not None else [])
    )
    return f"A finding of {quoted(one.rule)}{f' ({place})' if place else ''}"
