"""What stands round the content of every page: the caution, the marks of what is not approved, what was found wrong."""

from __future__ import annotations

import datetime
from collections.abc import Iterable
from dataclasses import dataclass

from ..checks import Finding, Report, Severity
from ..language.model import Protocol
from .addresses import HOME, PROBLEMS, Links
from .speech import Speech, speech
from .views import Banner, Link, Mark, Standing
from .words import FIRST_THINGS, STATES, STATUS, opening

MOST_LINES = 5
"""How many findings a banner tells before it only counts the rest."""


@dataclass(frozen=True, slots=True)
class Frame:
    """The surroundings of one page. ``running`` is what every printed sheet of it carries at its foot."""

    clinic: str
    speech: Speech
    first_things: str
    notice: str | None
    home: str
    banners: tuple[Banner, ...]
    standing: Standing | None
    running: str
    path: tuple[Link, ...] = ()


class Framing:
    """Makes the frames of one site from its report."""

    def __init__(self, report: Report) -> None:
        self.report = report
        self.facts = report.facts
        self.clinic = report.facts.protocol_set.clinic
        self.speech = speech(self.clinic.language if self.clinic is not None else "en")

    def of_site(self, page: str, *, tells_errors: bool) -> Frame:
        """The frame of a page that belongs to no protocol; it may tell of every error there is."""
        links = Links(page)
        banners = self._errors(self.report.findings, links) if tells_errors else ()
        return self._frame(links, banners, None, self._clinic(), ())

    def of_protocol(self, page: str, protocol: Protocol, path: tuple[Link, ...]) -> Frame:
        """The frame of a page of one protocol; it tells of its errors and of those of the set as a whole."""
        links = Links(page)
        concerned = [found for found in self.report.findings if _concerns(found, protocol)]
        banners = self._errors(concerned, links) + self._unproved(protocol, links)
        standing = standing_of(protocol, self.facts.today, self.speech)
        version = self.speech.say("version %(version)s", version=standing.version)
        running = f"{protocol.title} · {version} · {self._clinic()}"
        return self._frame(links, banners, standing, running, path)

    def _frame(
        self, links: Links, banners: tuple[Banner, ...], standing: Standing | None, running: str, path: tuple[Link, ...]
    ) -> Frame:
        notice = self.clinic.notice if self.clinic is not None else None
        first = self.speech.say(FIRST_THINGS)
        return Frame(self._clinic(), self.speech, first, notice, links.to(HOME), banners, standing, running, path)

    def _clinic(self) -> str:
        return self.clinic.name if self.clinic is not None else self.speech.say("Unnamed clinic")

    def _errors(self, findings: Iterable[Finding], links: Links) -> tuple[Banner, ...]:
        places = {id(found): number for number, found in enumerate(self.report.findings, start=1)}
        errors = [
            Link(short(found), links.to(PROBLEMS, problem_anchor(places[id(found)])))
            for found in findings
            if found.severity is Severity.ERROR
        ]
        if not errors:
            return ()
        more = max(0, len(errors) - MOST_LINES)
        return (Banner("error", tuple(errors[:MOST_LINES]), more, links.to(PROBLEMS)),)

    def _unproved(self, protocol: Protocol, links: Links) -> tuple[Banner, ...]:
        reason = self.facts.by_id[protocol.id].unproved
        return (
            () if reason is None else (Banner("unproved", (Link(reason, links.to(PROBLEMS)),), 0, links.to(PROBLEMS)),)
        )


def _concerns(finding: Finding, protocol: Protocol) -> bool:
    """Whether a finding is about a protocol or about what all rest on; a slip in a list of cases is neither."""
    in_days = finding.span.path.rpartition("/")[2] == "screens.yaml"
    return finding.protocol == protocol.id or (finding.protocol is None and not in_days)


def problem_anchor(number: int) -> str:
    """The place of a finding on the problems page, by its number there."""
    return f"problem_{number}"


def standing_of(protocol: Protocol, today: datetime.date, speech: Speech) -> Standing:
    """Version, status and approval of a protocol; marks where it is not for use."""
    marks = []
    status = protocol.status.value
    if status in STATES:
        marks.append(Mark(status, *(speech.say(words) for words in STATES[status])))
    review = protocol.review_by[0] if protocol.review_by is not None else None
    if review is not None and review < today and status == "approved":
        meaning = speech.say("it was to be looked at again by %(date)s", date=review.isoformat())
        marks.append(Mark("overdue", speech.say("Review overdue"), meaning))
    approved, by = protocol.approved, None
    if approved is not None:
        by = speech.say("by %(name)s, %(date)s", name=approved.by, date=approved.date.isoformat())
    return Standing(
        version=protocol.version.value,
        status=speech.say(STATUS.get(status, status)),
        owner=protocol.owner,
        approved=by,
        review_by=review.isoformat() if review is not None else None,
        marks=tuple(marks),
    )


def short(finding: Finding) -> str:
    """A finding on one line."""
    return opening(finding.message, 220)
