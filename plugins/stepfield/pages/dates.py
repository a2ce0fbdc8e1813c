"""Dates: what falls due when, the overdue first; who approved which version when; and all of it for a calendar."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ..changes.approvals import Approved
from ..checks.dates import ACCEPTANCE, DEVIATION, REVIEW, Due, dates_of
from ..checks.words import sentence
from ..language.model import ProtocolSet
from ..reports.calendar import AllDay, calendar
from .addresses import CALENDAR, DATES, Links, team_page
from .speech import N_, Speech
from .views import Link
from .words import STATUS, in_words

KINDS = {
    REVIEW: N_("Review of a protocol"),
    DEVIATION: N_("A local change ends"),
    ACCEPTANCE: N_("An accepted finding counts again"),
}
"""What each kind of day is called."""


@dataclass(frozen=True, slots=True)
class Day:
    """One day to keep. ``days`` is how many are left, or with ``overdue`` how many have passed."""

    day: str
    kind: str
    link: Link
    about: str
    who: str
    reason: str
    place: str
    overdue: bool
    days: int


@dataclass(frozen=True, slots=True)
class Record:
    """Who approved a version of a protocol, and when; ``since`` is the day it came into the history, if that is known.

    ``current`` tells that it is the text as it is now.
    """

    protocol: Link
    version: str
    status: str
    by: str
    approved: str
    review_by: str
    since: str
    current: bool


def dates_values(
    whole: ProtocolSet, today: datetime.date, history: Sequence[Approved] | None, speech: Speech
) -> dict[str, Any]:
    """What the template of the page asks for; ``history`` is None where nobody asked the history for approvals."""
    links = Links(DATES)
    titles = {one.id: one.title.value for one in whole.protocols}
    days = [_day(one, titles, today, links, speech) for one in dates_of(whole)]
    return {
        "overdue": tuple(day for day in days if day.overdue),
        "coming": tuple(day for day in days if not day.overdue),
        "records": tuple(_records(whole, history or (), links, speech)),
        "from_history": history is not None,
        "today": today.isoformat(),
        "calendar": links.to(CALENDAR) if days else "",
    }


def calendar_file(whole: ProtocolSet, today: datetime.date, url: str, speech: Speech) -> bytes | None:
    """All days as a calendar file; None where there are none. ``url`` is where the site is published, if known."""
    titles = {one.id: one.title.value for one in whole.protocols}
    clinic = whole.clinic.name if whole.clinic is not None else ""
    entries = [_entry(one, titles, url, speech) for one in dates_of(whole)]
    return calendar(entries, speech.say("Dates: %(clinic)s", clinic=clinic), today) if entries else None


def _entry(one: Due, titles: Mapping[str, str], url: str, speech: Speech) -> AllDay:
    kind = speech.say(KINDS[one.kind])
    about = _about(one, titles)
    told = [one.who, one.reason, f"{one.span.path}:{one.span.line}"]
    address = f"{url.rstrip('/')}/{DATES}" if url.startswith("https://") else ""
    return AllDay(one.key, one.day, f"{kind}: {about}", "\n".join(part for part in told if part), kind, address)


def _about(one: Due, titles: Mapping[str, str]) -> str:
    """What a day is about, in words."""
    named = [titles.get(one.protocol, one.protocol)] if one.protocol else []
    return ": ".join([*named, *([", ".join(one.about)] if one.about else [])])


def _day(one: Due, titles: Mapping[str, str], today: datetime.date, links: Links, speech: Speech) -> Day:
    known = one.protocol in titles
    target = links.to(team_page(one.protocol)) if one.protocol is not None and known else ""
    return Day(
        day=one.day.isoformat(),
        kind=speech.say(KINDS[one.kind]),
        link=Link(titles.get(one.protocol or "", one.protocol or ""), target),
        about=", ".join(one.about),
        who=one.who,
        reason=sentence(one.reason) if one.reason else "",
        place=speech.say("%(path)s, line %(line)s", path=one.span.path, line=one.span.line),
        overdue=one.is_overdue(today),
        days=abs((one.day - today).days),
    )


def _records(whole: ProtocolSet, history: Iterable[Approved], links: Links, speech: Speech) -> Iterable[Record]:
    """Of every protocol the text as it is, then the approved versions that the history has, the newest first."""
    past: dict[str, list[Approved]] = {}
    for one in history:
        past.setdefault(one.protocol, []).append(one)
    for protocol in whole.protocols:
        approval, review = protocol.approved, protocol.review_by
        link = Link(protocol.title.value, links.to(team_page(protocol.id)))
        same = [one for one in past.get(protocol.id, ()) if approval is not None and one.is_of(protocol)]
        status = protocol.status.value
        yield Record(
            protocol=link,
            version=protocol.version.value,
            status=speech.say(STATUS.get(status, status)),
            by=approval.by if approval is not None else "",
            approved=approval.date.isoformat() if approval is not None else "",
            review_by=review[0].isoformat() if review is not None else "",
            since=same[0].since.isoformat() if same else "",
            current=True,
        )
        for one in past.get(protocol.id, ()):
            if one not in same:
                yield _past(one, link, speech)
    known = {protocol.id for protocol in whole.protocols}
    for name in sorted(past.keys() - known):
        for one in past[name]:
            yield _past(one, Link(in_words(name), ""), speech)


def _past(one: Approved, link: Link, speech: Speech) -> Record:
    return Record(
        protocol=link,
        version=one.version,
        status=speech.say(STATUS["approved"]),
        by=one.by,
        approved=one.date.isoformat(),
        review_by=one.review_by.isoformat() if one.review_by is not None else "",
        since=one.since.isoformat(),
        current=False,
    )
