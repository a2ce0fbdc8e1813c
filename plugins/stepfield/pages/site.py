"""The whole site as ready pages: what each shows is worked out here, and any site generator can take it from here."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from ..changes.approvals import Approved
from ..changes.approved import Since
from ..checks import Report
from ..planning.teams import Teams
from ..reports.evidence import evidence_table
from ..reports.tables import csv_table
from .addresses import (
    ABOUT,
    ASSETS,
    CALENDAR,
    CHANGES,
    DATES,
    DIFFERS,
    EVIDENCE,
    EVIDENCE_TABLE,
    HOME,
    LANGUAGE,
    PEOPLE,
    PROBLEMS,
    RULES,
    role_page,
)
from .dates import calendar_file
from .frame import Framing
from .home import role_cards
from .of_protocol import ProtocolPages
from .of_set import SetPages
from .page import Asset, Page, Site
from .reading import Reading
from .screens import Drawn as DrawnScreens
from .screens import Screens
from .sheets import Drawn as DrawnSheets
from .sheets import File, Sheets
from .together import drawn_together

_ASSET_FOLDER = Path(__file__).parent / "assets"
_LAST = (PEOPLE, CHANGES, DIFFERS, EVIDENCE, DATES, PROBLEMS, RULES, LANGUAGE, ABOUT)
"""The pages that come after those of protocols and roles, in the order of the menu."""


@dataclass(frozen=True, slots=True)
class Begun:
    """A site of which everything is there but what stands beside its pages: wall screens and sheets to print.

    ``coming`` are the addresses of those, and ``documents`` draws them, which can be done while a site generator works.
    """

    site: Site
    coming: tuple[str, ...]
    documents: Callable[[], tuple[Asset, ...]]


def build_site(
    report: Report,
    url: str = "",
    since: Since | None = None,
    teams: Mapping[str, Teams | str] | None = None,
    approvals: Sequence[Approved] | None = None,
) -> Site:
    """Draws everything at once: see ``begin_site``."""
    begun = begin_site(report, url, since, teams, approvals)
    return replace(begun.site, assets=(*begun.site.assets, *begun.documents()))


def begin_site(
    report: Report,
    url: str = "",
    since: Since | None = None,
    teams: Mapping[str, Teams | str] | None = None,
    approvals: Sequence[Approved] | None = None,
) -> Begun:
    """Draws every page of a checked protocol set.

    ``url`` is the web address under which the site will be found, ``since`` what changed since the last approved text.
    ``teams`` tells who can do each protocol, if that was judged; ``approvals`` are those in its history, if it was
    asked.

    Raises ValueError if two pages would have one address.
    """
    readings = {one.protocol.id: Reading(one, report.facts) for one in report.facts.examined}
    made = _Maker(report, readings, url, SetPages(report, readings, Framing(report), since, teams, approvals))
    coming = tuple(made.coming())
    pages = tuple(made.pages(frozenset(coming)))
    addresses: dict[str, str] = {}
    for page in pages:
        clash = addresses.setdefault(page.address.casefold(), page.title)
        if clash is not page.title:
            raise ValueError(f"two pages would be {page.address}: {clash!r} and {page.title!r}")
    return Begun(Site(pages, (*assets(), *made.files()), url), coming, lambda: tuple(made.documents()))


def assets() -> tuple[Asset, ...]:
    """The style sheet, the scripts and their licence."""
    files = sorted(path for path in _ASSET_FOLDER.iterdir() if path.is_file())
    return tuple(Asset(f"{ASSETS}/{path.name}", path.read_bytes()) for path in files)


@dataclass(frozen=True, slots=True)
class _Drawn:
    """What is drawn of one protocol: the pages of the whole team and of each role, and the cards."""

    teams: tuple[Page, ...]
    parts: tuple[Page, ...]
    cards: tuple[File, ...]


class _Maker:
    """Draws all there is, what can be drawn at once by several processes."""

    def __init__(self, report: Report, readings: Mapping[str, Reading], url: str, of_set: SetPages) -> None:
        self.facts, self.url = report.facts, url
        self.readings, self.of_set = list(readings.values()), of_set
        self.of_one = ProtocolPages(of_set.framing, judged_teams=of_set.teams is not None)
        self.screens, self.sheets = Screens(report), Sheets(report, url, of_set.trace)
        protocols = [partial(self.of_protocol, number) for number in range(len(self.readings))]
        work: list[Callable[[], _Drawn | Page]] = [*of_set.ways(), *protocols]
        drawn = drawn_together(lambda number: work[number](), len(work))
        self.drawn = [one for one in drawn if isinstance(one, _Drawn)]
        self.set_pages = {one.address: one for one in drawn if isinstance(one, Page)}

    def anew(self, number: int) -> Reading:
        """A reading that is let go with all it has worked out, once a protocol is drawn.

        Were what is worked out of a hundred protocols kept, a third of the time would go into memory.
        """
        return Reading(self.readings[number].examined, self.facts)

    def of_protocol(self, number: int) -> _Drawn:
        """The pages and cards of one protocol."""
        reading = self.anew(number)
        parts = tuple(self.of_one.part(reading, role) for role in reading.roles)
        # A card tells how one stands, as a part does, so what can happen is worked out once for both.
        return _Drawn(tuple(self.of_one.team(reading)), parts, tuple(self.sheets.cards(reading)))

    def coming(self) -> Iterator[str]:
        """The addresses of the documents."""
        yield from self.screens.addresses()
        yield from self.sheets.addresses(self.readings)

    def documents(self) -> Iterator[Asset]:
        """Finished files that are no pages of the theme and need nothing of what can happen: screens and sheets."""
        screens, sheets = self.screens, self.sheets
        found = drawn_together(self._documents, len(self.readings))
        yield from (Asset(*file) for file in screens.of_all([on_wall for on_wall, _ in found]))
        for _, on_paper in found:
            yield from (Asset(*file) for file in on_paper.files)
        yield from (Asset(*file) for file in sheets.of_all([on_paper.listed for _, on_paper in found]))

    def _documents(self, number: int) -> tuple[DrawnScreens, DrawnSheets]:
        reading = self.anew(number)
        return self.screens.of_protocol(reading), self.sheets.of_protocol(reading)

    def files(self) -> Iterator[Asset]:
        """The cards, and what can be taken along: a table and a calendar."""
        for one in self.drawn:
            yield from (Asset(*file) for file in one.cards)
        if self.of_set.trace.rows:
            yield Asset(EVIDENCE_TABLE, csv_table([evidence_table(self.of_set.trace)]))
        days = calendar_file(self.facts.protocol_set, self.facts.today, self.url, self.of_set.framing.speech)
        if days is not None:
            yield Asset(CALENDAR, days)

    def pages(self, documents: Set[str]) -> Iterator[Page]:
        """Every page, in the order of the menu; ``documents`` are the addresses of what stands beside them."""
        yield self.of_set.home(documents)
        for one in self.drawn:
            yield from one.teams
        roles = [role_page(card.id) for card in role_cards(self.readings, HOME)]
        yield from (self.set_pages[address] for address in roles)
        for one in self.drawn:
            yield from one.parts
        yield from (self.set_pages[address] for address in _LAST if address in self.set_pages)
