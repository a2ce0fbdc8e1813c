"""While protocols are being written: the last good pages of a protocol whose file cannot be read for the moment."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from pathlib import PurePosixPath

from ..checks import Finding, Report, Severity
from .addresses import PROBLEMS, Links
from .frame import MOST_LINES, Framing, problem_anchor, short
from .page import Page, Site
from .templating import render
from .views import Link

_PAGE = re.compile(r'<div class="sf-page[^>]*>')
_READING = ("bad-yaml", "bad-shape")


def lost_pages(site: Site, report: Report, before: Iterable[Page]) -> tuple[Page, ...]:
    """The pages among earlier ones that a site has no more because a file cannot be read."""
    now = {page.address for page in site.pages}
    lost = set(report.facts.protocol_set.unreadable)
    gone = [page for page in before if page.address not in now]
    return tuple(page for page in gone if lost and (page.kind == "role" or _protocol(page) in lost))


def with_lost(site: Site, report: Report, lost: Iterable[Page]) -> Site:
    """A site with lost pages; each says at its top that it is not what the files say now, and why."""
    return replace(site, pages=(*site.pages, *(_marked(page, report) for page in lost)))


def _protocol(page: Page) -> str | None:
    return PurePosixPath(page.written_in).stem if page.written_in is not None else None


def _marked(page: Page, report: Report) -> Page:
    links = Links(page.address)
    told = [(number, found) for number, found in enumerate(report.findings, start=1) if _tells(found)]
    told.sort(key=lambda entry: entry[1].protocol != _protocol(page))
    lines = tuple(Link(short(found), links.to(PROBLEMS, problem_anchor(number))) for number, found in told)
    banner = render("lost.html", Framing(report).speech, lines=lines[:MOST_LINES], problems=links.to(PROBLEMS))
    return replace(page, html=_PAGE.sub(lambda found: found.group() + banner, page.html, count=1))


def _tells(finding: Finding) -> bool:
    """Whether a finding can be why a file is not read."""
    return finding.severity is Severity.ERROR and finding.rule in _READING
