"""The whole site as ready pages: what each shows is worked out here, and any site generator can take it from here."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from ..changes import RULES as RULES_OF_CHANGES
from ..changes.approvals import Approved
from ..changes.approved import Since
from ..changes.drift import drift_of, is_adopted
from ..checks import Report, Rule, Severity, all_rules
from ..checks.tracing import trace
from ..checks.words import sentence
from ..language.schemas import KINDS, SHARED, schema
from ..planning.teams import Teams
from ..reports import checked_of, covered
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
    Links,
    part_page,
    picture_page,
    role_page,
    team_page,
)
from .dates import calendar_file, dates_values
from .differs import differs_values
from .evidence import evidence_values
from .fewest import notes_of
from .fields import reference
from .frame import Frame, Framing
from .home import missing, protocol_cards, role_cards, ways
from .news import LINES, news_of
from .parts import part_values
from .people import people_of
from .problems import counted, problems
from .prose import blocks
from .reading import Reading
from .screens import INDEX as SCREENS
from .screens import Drawn as DrawnScreens
from .screens import Screens
from .sheets import Drawn, Sheets
from .speech import N_
from .templating import render
from .together import drawn_together
from .views import Link
from .whole import picture_values, team_values, without_picture
from .words import SEVERITIES

_BEHIND = (
    (N_("Wall screens"), SCREENS),
    (N_("What this rests on"), EVIDENCE),
    (N_("Dates"), DATES),
    (N_("Problems"), PROBLEMS),
    (N_("What is checked"), ABOUT),
    (N_("Rules"), RULES),
    (N_("Language reference"), LANGUAGE),
)
"""What those look for who write protocols or hang them up; title and address."""
_PEOPLE = N_("How few people can do it")
HEAVY = 260_000
"""From so many bytes on, a page is lighter without its picture; the theme adds its own to them."""
_ASSET_FOLDER = Path(__file__).parent / "assets"


@dataclass(frozen=True, slots=True)
class Heading:
    """A place on a page that its table of contents leads to; level 1 is the page's title."""

    text: str
    anchor: str
    level: int


@dataclass(frozen=True, slots=True)
class Page:
    """One finished page.

    ``address`` ends in .html and is relative to the site; ``written_in`` is the file it was drawn from. ``kind`` is
    home, role, team, picture, part, differs, problems, language, rules or about. ``search_weight`` is how much its hits
    count beside those of other pages; 0 keeps it out of the search.
    """

    address: str
    kind: str
    title: str
    html: str
    headings: tuple[Heading, ...]
    in_menu: bool
    search_weight: float
    written_in: str | None = None


@dataclass(frozen=True, slots=True)
class Asset:
    """A file that pages load."""

    address: str
    content: bytes


@dataclass(frozen=True, slots=True)
class Site:
    """All pages, in the order of the menu, and all assets; ``url`` is where it is published, empty if not known."""

    pages: tuple[Page, ...]
    assets: tuple[Asset, ...]
    url: str = ""


def build_site(
    report: Report,
    url: str = "",
    since: Since | None = None,
    teams: Mapping[str, Teams | str] | None = None,
    approvals: Sequence[Approved] | None = None,
) -> Site:
    """Draws every page of a checked protocol set.

    ``url`` is the web address under which the site will be found, ``since`` what changed since the last approved text.
    ``teams`` tells who can do each protocol, if that was judged; ``approvals`` are those in its history, if it was
    asked.

    Raises ValueError if two pages would have one address.
    """
    readings = {one.protocol.id: Reading(one, report.facts) for one in report.facts.examined}
    made = _Maker(report, readings, since, url, teams, approvals)
    documents = tuple(made.documents())
    pages = tuple(made.pages(frozenset(document.address for document in documents)))
    addresses: dict[str, str] = {}
    for page in pages:
        clash = addresses.setdefault(page.address.casefold(), page.title)
        if clash is not page.title:
            raise ValueError(f"two pages would be {page.address}: {clash!r} and {page.title!r}")
    return Site(pages, (*assets(), *documents), url)


def assets() -> tuple[Asset, ...]:
    """The style sheet, the scripts and their licence."""
    files = sorted(path for path in _ASSET_FOLDER.iterdir() if path.is_file())
    return tuple(Asset(f"{ASSETS}/{path.name}", path.read_bytes()) for path in files)


@dataclass(frozen=True, slots=True)
class _Drawn:
    """What is drawn of one protocol: the pages of the whole team and of each role, the sheets, the wall screens."""

    teams: tuple[Page, ...]
    parts: tuple[Page, ...]
    sheets: Drawn
    screens: DrawnScreens


class _Maker:
    def __init__(
        self,
        report: Report,
        readings: Mapping[str, Reading],
        since: Since | None,
        url: str,
        teams: Mapping[str, Teams | str] | None,
        approvals: Sequence[Approved] | None,
    ) -> None:
        self.report, self.facts, self.since, self.teams = report, report.facts, since, teams
        self.trace, self.approvals, self.url = trace(self.facts.protocol_set, self.facts.today), approvals, url
        self.framing = Framing(report)
        self.readings = readings
        self.rules: tuple[Rule, ...] = all_rules()
        self.adopted = is_adopted(self.facts.protocol_set)
        self.behind = ((N_("What differs here"), DIFFERS), *_BEHIND) if self.adopted else _BEHIND
        self.screens, self.sheets = Screens(report), Sheets(report, url)
        self.drawn, self.of_site = self.all_drawn()

    def all_drawn(self) -> tuple[list[_Drawn], dict[str, Page]]:
        """What is drawn of each protocol, and the pages of the whole set but for the home page, by address.

        Each is a piece of work of its own, so that several processes can share them.
        """
        found = self.all
        ways = [partial(self.of_protocol, reading) for reading in found]
        of_site: list[Callable[[], Page]] = [
            self.evidence, self.dates, self.problem_page, self.rule_page, self.language, self.about, self.changes
        ]  # fmt: skip
        of_site += [partial(self.people, self.teams)] if self.teams is not None else []
        of_site += [self.differs] if self.adopted else []
        of_site += [partial(self.role, card.id, card.link.text) for card in role_cards(found, HOME)]
        work: list[Callable[[], _Drawn | Page]] = [*of_site, *ways]
        drawn = drawn_together(lambda number: work[number](), len(work))
        return (
            [one for one in drawn if isinstance(one, _Drawn)],
            {one.address: one for one in drawn if isinstance(one, Page)},
        )

    def documents(self) -> Iterator[Asset]:
        """Finished files that are no pages of the theme: wall screens, sheets to print."""
        yield from (Asset(*file) for file in self.screens.of_all([one.screens for one in self.drawn]))
        for one in self.drawn:
            yield from (Asset(*file) for file in one.sheets.files)
        yield from (Asset(*file) for file in self.sheets.of_all([one.sheets.listed for one in self.drawn]))
        if self.trace.rows:
            yield Asset(EVIDENCE_TABLE, csv_table([evidence_table(self.trace)]))
        days = calendar_file(self.facts.protocol_set, self.facts.today, self.url, self.framing.speech)
        if days is not None:
            yield Asset(CALENDAR, days)

    def pages(self, documents: Set[str]) -> Iterator[Page]:
        """Every page, in the order of the menu; ``documents`` are the addresses of what stands beside them."""
        yield self.home(documents)
        for one in self.drawn:
            yield from one.teams
        roles = [role_page(card.id) for card in role_cards(self.all, HOME)]
        yield from (self.of_site[address] for address in roles)
        for one in self.drawn:
            yield from one.parts
        rest = (PEOPLE, CHANGES, DIFFERS, EVIDENCE, DATES, PROBLEMS, RULES, LANGUAGE, ABOUT)
        yield from (self.of_site[address] for address in rest if address in self.of_site)

    def say(self, message: str) -> str:
        """A message in the clinic's language."""
        return self.framing.speech.say(message)

    def to_home(self, links: Links) -> Link:
        """The way home."""
        return Link(self.say("Home"), links.to(HOME))

    def of_protocol(self, reading: Reading) -> _Drawn:
        """Everything that is drawn of one protocol."""
        parts = tuple(self.part(reading, role) for role in reading.roles)
        screens = self.screens.of_protocol(reading)
        return _Drawn(tuple(self.team(reading)), parts, self.sheets.of_protocol(reading), screens)

    @property
    def all(self) -> list[Reading]:
        """The readings of all protocols."""
        return list(self.readings.values())

    def home(self, documents: Set[str]) -> Page:
        frame = self.framing.of_site(HOME, tells_errors=True)
        values = {
            "roles": role_cards(self.all, HOME),
            "protocols": protocol_cards(self.all, HOME),
            "missing": missing(self.facts.protocol_set.unreadable, HOME),
            "ways": ways(documents, HOME, frame.speech),
            "counts": counted(self.report, frame.speech),
            "to_problems": Links(HOME).to(PROBLEMS),
            "to_people": None if self.teams is None else Links(HOME).to(PEOPLE),
            "to_changes": Links(HOME).to(CHANGES),
            "changed": None if self.since is None else len(self.since.review.protocols),
            "behind": tuple(Link(self.say(text), Links(HOME).to(page)) for text, page in self.behind),
        }
        headings = ((self.say("Who are you?"), "choose_role"), (self.say("Protocols"), "choose_protocol"))
        return _page("home", HOME, self.say("Home"), frame, values, headings, weight=0.2, title_shown=frame.clinic)

    def role(self, role: str, title: str) -> Page:
        address = role_page(role)
        frame = replace(self.framing.of_site(address, tells_errors=True), path=(self.to_home(Links(address)),))
        values = {"protocols": protocol_cards(self.all, address, role)}
        return _page("role", address, title, frame, values, (), in_menu=False, weight=0.0)

    def team(self, reading: Reading) -> Iterator[Page]:
        """The page of the whole team; its picture has a page of its own where both together would be too heavy."""
        protocol = reading.protocol
        address, title = team_page(protocol.id), protocol.title.value
        links = Links(address)
        frame = self.framing.of_protocol(address, protocol, (self.to_home(links),))
        values = {**team_values(reading, links), "to_people": self.to_people(links, protocol.id)}
        headings = tuple((phase.title, f"{phase.id}_phase") for phase in protocol.phases)
        page = _page("team", address, title, frame, values, headings, written_in=protocol.path)
        if len(page.html.encode()) <= HEAVY:
            yield page
            return
        apart = picture_page(protocol.id)
        values = without_picture(values, links.to(apart))
        yield _page("team", address, title, frame, values, headings, written_in=protocol.path)
        way = (self.to_home(Links(apart)), Link(title, Links(apart).to(address)))
        frame = self.framing.of_protocol(apart, protocol, way)
        yield _page(
            "picture", apart, title, frame, picture_values(reading, Links(apart)), headings, in_menu=False, weight=0.0,
            written_in=protocol.path,
        )  # fmt: skip

    def part(self, reading: Reading, role: str) -> Page:
        protocol = reading.protocol
        address = part_page(protocol.id, role)
        links, title = Links(address), reading.role(role)
        path = (self.to_home(links), Link(title, links.to(role_page(role))))
        frame = self.framing.of_protocol(address, protocol, path)
        certain = not any(banner.kind == "error" for banner in frame.banners)
        values = part_values(reading, links, role, certain=certain)
        headings = tuple((phase.title, phase.anchor) for phase in values["phases"] if phase.entries)
        full = f"{title}: {protocol.title}"
        page = _page(
            "part", address, full, frame, values, headings, in_menu=False, weight=0.0, title_shown=title,
            written_in=protocol.path,
        )  # fmt: skip
        if len(page.html.encode()) <= HEAVY:
            return page
        fewer = part_values(reading, links, role, certain=certain, rest=False)
        return _page(
            "part", address, full, frame, fewer, headings, in_menu=False, weight=0.0, title_shown=title,
            written_in=protocol.path,
        )  # fmt: skip

    def to_people(self, links: Links, protocol: str) -> str | None:
        """The way to how few people can do a protocol, if that was judged."""
        return None if self.teams is None else links.to(PEOPLE, f"people_{protocol}")

    def people(self, teams: Mapping[str, Teams | str]) -> Page:
        found = people_of(self.all, teams, PEOPLE)
        notes = notes_of(self.framing.speech)
        values = {"protocols": found, "notes": notes, "to_problems": Links(PEOPLE).to(PROBLEMS)}
        headings = tuple((one.link.text, f"people_{one.id}") for one in found)
        return self._site_page("people", PEOPLE, self.say(_PEOPLE), values, headings)

    def changes(self) -> Page:
        speech, clinic = self.framing.speech, self.facts.protocol_set.clinic
        names = {role.id.value: role.title for role in clinic.roles} if clinic is not None else {}
        news = news_of(self.since, CHANGES, names) if self.since is not None else ()
        values = {"since": self.since.named if self.since is not None else None, "news": news, "lines": LINES}
        headings = tuple((one.link.text, f"news_{one.id}") for one in news)
        return self._site_page("changes", CHANGES, speech.say("What changed"), values, headings)

    def differs(self) -> Page:
        """What an adopted set does otherwise than the shared protocols."""
        drift = drift_of(self.facts.protocol_set, self.facts.today)
        values = differs_values(drift, self.facts.protocol_set, DIFFERS, self.framing.speech)
        headings = tuple((section.title, section.anchor) for section in values["sections"])
        return self._site_page("differs", DIFFERS, self.say("What differs here"), values, headings)

    def evidence(self) -> Page:
        """What the protocols rest on, from requirements to steps and back."""
        values = evidence_values(self.trace, EVIDENCE, self.framing.speech)
        headings = (
            (self.say("Gaps"), "gaps"),
            (self.say("From the requirement to the steps"), "from_requirements"),
            (self.say("From the step to the requirements"), "from_steps"),
        )
        shown = headings if values["asked"] else ()
        title = self.say("What this rests on")
        page = self._site_page("evidence", EVIDENCE, title, values, shown)
        if len(page.html.encode()) <= HEAVY:
            return page
        fewer = evidence_values(self.trace, EVIDENCE, self.framing.speech, most_links=0)
        return self._site_page("evidence", EVIDENCE, title, fewer, shown)

    def dates(self) -> Page:
        """What falls due when, and who approved what."""
        values = dates_values(self.facts.protocol_set, self.facts.today, self.approvals, self.framing.speech)
        headings = (
            *(((self.say("Overdue"), "overdue"),) if values["overdue"] else ()),
            (self.say("Coming"), "coming"),
            (self.say("Who approved which version"), "approvals"),
        )
        return self._site_page("dates", DATES, self.say("Dates"), values, headings)

    def problem_page(self) -> Page:
        speech = self.framing.speech
        values = {
            "problems": problems(self.report, self.readings, speech),
            "counts": counted(self.report, speech),
        }
        return self._site_page("problems", PROBLEMS, self.say("Problems"), values, ())

    def rule_page(self) -> Page:
        every = sorted((*self.rules, *RULES_OF_CHANGES), key=lambda rule: rule.name)
        rules = tuple(
            (rule, rule.severity.value, self.say(SEVERITIES[rule.severity.value]), blocks(rule.page)) for rule in every
        )
        headings = tuple((rule.name, f"rule_{rule.name}") for rule in every)
        return self._site_page("rules", RULES, self.say("Rules"), {"rules": rules}, headings)

    def language(self) -> Page:
        kinds: Mapping[str, Any] = {kind: schema(kind) for kind in KINDS}
        found = reference(kinds, schema(SHARED))
        headings = (
            *((shape.title, shape.anchor) for shape in found.files),
            (self.say("Shapes inside the files"), "inside_files"),
            (self.say("How words and values are written"), "small_words"),
        )
        return self._site_page("language", LANGUAGE, self.say("Language reference"), {"reference": found}, headings)

    def about(self) -> Page:
        proofs = [one.proof for one in self.facts.examined if one.proof is not None]
        values = {
            "protocols": len(self.facts.examined),
            "scenarios": sum(proof.scenarios for proof in proofs),
            "states": sum(proof.states for proof in proofs),
            "covered": sentence(covered(checked_of([self.report]))),
            "unproved": tuple(
                (one.protocol.title.value, one.unproved) for one in self.facts.examined if one.unproved is not None
            ),
            "missing": missing(self.facts.protocol_set.unreadable, ABOUT),
            "errors": sum(1 for finding in self.report.findings if finding.severity is Severity.ERROR),
            "rule_count": len(self.rules),
            "to_rules": Links(ABOUT).to(RULES),
            "to_problems": Links(ABOUT).to(PROBLEMS),
        }
        title = self.say("What is checked")
        headings = ((title, "is_checked"), (self.say("What is not checked"), "not_checked"))
        return self._site_page("about", ABOUT, title, values, headings)

    def _site_page(
        self, kind: str, address: str, title: str, values: Mapping[str, object], headings: tuple[tuple[str, str], ...]
    ) -> Page:
        frame = self.framing.of_site(address, tells_errors=False)
        return _page(kind, address, title, frame, values, headings, weight=0.2)


def _page(  # noqa: PLR0913 - one argument for each thing a page has
    kind: str,
    address: str,
    title: str,
    frame: Frame,
    values: Mapping[str, object],
    headings: tuple[tuple[str, str], ...],
    *,
    in_menu: bool = True,
    weight: float = 1.0,
    title_shown: str | None = None,
    written_in: str | None = None,
) -> Page:
    html = render(f"{kind}.html", frame.speech, frame=frame, title=title_shown or title, **values)
    places = (Heading(title_shown or title, "sf_top", 1), *(Heading(text, anchor, 2) for text, anchor in headings))
    return Page(address, kind, title, html, places, in_menu, weight, written_in)
