"""The whole site as ready pages: what each shows is worked out here, and any site generator can take it from here."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Set
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from ..checks import Report, Rule, Severity, all_rules
from ..checks.words import sentence
from ..language.schemas import KINDS, SHARED, schema
from ..reports import checked_of, covered
from .addresses import (
    ABOUT,
    ASSETS,
    HOME,
    LANGUAGE,
    PROBLEMS,
    RULES,
    Links,
    part_page,
    picture_page,
    role_page,
    team_page,
)
from .fields import reference
from .frame import Frame, Framing
from .home import missing, protocol_cards, role_cards, ways
from .parts import part_values
from .problems import counted, problems
from .prose import blocks
from .reading import Reading
from .screens import INDEX as SCREENS
from .screens import screens
from .sheets import sheets
from .templating import render
from .views import Link
from .whole import picture_values, team_values, without_picture

_BEHIND = (
    ("Wall screens", SCREENS),
    ("Problems", PROBLEMS),
    ("What is checked", ABOUT),
    ("Rules", RULES),
    ("Language reference", LANGUAGE),
)
"""What those look for who write protocols or hang them up; title and address."""
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
    home, role, team, picture, part, problems, language, rules or about. ``search_weight`` is how much its hits count
    beside those of other pages; 0 keeps it out of the search.
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


def build_site(report: Report, url: str = "") -> Site:
    """Draws every page of a checked protocol set; ``url`` is the web address under which the site will be found.

    Raises ValueError if two pages would have one address.
    """
    readings = {one.protocol.id: Reading(one, report.facts) for one in report.facts.examined}
    documents = tuple(_documents(report, readings, url))
    pages = tuple(_Maker(report, readings, frozenset(document.address for document in documents)).pages())
    addresses: dict[str, str] = {}
    for page in pages:
        clash = addresses.setdefault(page.address.casefold(), page.title)
        if clash is not page.title:
            raise ValueError(f"two pages would be {page.address}: {clash!r} and {page.title!r}")
    return Site(pages, (*assets(), *documents), url)


def _documents(report: Report, readings: Mapping[str, Reading], url: str) -> Iterator[Asset]:
    """Finished files that are no pages of the theme: wall screens, sheets to print."""
    yield from (Asset(*file) for file in screens(report))
    yield from (Asset(*file) for file in sheets(report, tuple(readings.values()), url))


def assets() -> tuple[Asset, ...]:
    """The style sheet, the scripts and their licence."""
    files = sorted(path for path in _ASSET_FOLDER.iterdir() if path.is_file())
    return tuple(Asset(f"{ASSETS}/{path.name}", path.read_bytes()) for path in files)


class _Maker:
    def __init__(self, report: Report, readings: Mapping[str, Reading], documents: Set[str]) -> None:
        self.report, self.facts, self.documents = report, report.facts, documents
        self.framing = Framing(report)
        self.readings = readings
        self.rules: tuple[Rule, ...] = all_rules()

    def pages(self) -> Iterator[Page]:
        """Every page, in the order of the menu."""
        yield self.home()
        for reading in self.readings.values():
            yield from self.team(reading)
        for card in role_cards(self.all, HOME):
            yield self.role(card.id, card.link.text)
        for reading in self.readings.values():
            for role in reading.roles:
                yield self.part(reading, role)
        yield self.problem_page()
        yield self.rule_page()
        yield self.language()
        yield self.about()

    @property
    def all(self) -> list[Reading]:
        """The readings of all protocols."""
        return list(self.readings.values())

    def home(self) -> Page:
        frame = self.framing.of_site(HOME, tells_errors=True)
        values = {
            "roles": role_cards(self.all, HOME),
            "protocols": protocol_cards(self.all, HOME),
            "missing": missing(self.facts.protocol_set.unreadable, HOME),
            "ways": ways(self.documents, HOME, frame.speech),
            "counts": counted(self.report),
            "to_problems": Links(HOME).to(PROBLEMS),
            "behind": tuple(Link(text, Links(HOME).to(page)) for text, page in _BEHIND),
        }
        headings = (("Who are you?", "choose_role"), ("Protocols", "choose_protocol"))
        return _page("home", HOME, "Home", frame, values, headings, weight=0.2, title_shown=frame.clinic)

    def role(self, role: str, title: str) -> Page:
        address = role_page(role)
        frame = replace(self.framing.of_site(address, tells_errors=True), path=(Link("Home", Links(address).to(HOME)),))
        values = {"protocols": protocol_cards(self.all, address, role)}
        return _page("role", address, title, frame, values, (), in_menu=False, weight=0.0)

    def team(self, reading: Reading) -> Iterator[Page]:
        """The page of the whole team; its picture has a page of its own where both together would be too heavy."""
        protocol = reading.protocol
        address, title = team_page(protocol.id), protocol.title.value
        links = Links(address)
        frame = self.framing.of_protocol(address, protocol, (Link("Home", links.to(HOME)),))
        values = team_values(reading, links)
        headings = tuple((phase.title, f"{phase.id}_phase") for phase in protocol.phases)
        page = _page("team", address, title, frame, values, headings, written_in=protocol.path)
        if len(page.html.encode()) <= HEAVY:
            yield page
            return
        apart = picture_page(protocol.id)
        values = without_picture(values, links.to(apart))
        yield _page("team", address, title, frame, values, headings, written_in=protocol.path)
        way = (Link("Home", Links(apart).to(HOME)), Link(title, Links(apart).to(address)))
        frame = self.framing.of_protocol(apart, protocol, way)
        yield _page(
            "picture", apart, title, frame, picture_values(reading, Links(apart)), headings, in_menu=False, weight=0.0,
            written_in=protocol.path,
        )  # fmt: skip

    def part(self, reading: Reading, role: str) -> Page:
        protocol = reading.protocol
        address = part_page(protocol.id, role)
        links, title = Links(address), reading.role(role)
        path = (Link("Home", links.to(HOME)), Link(title, links.to(role_page(role))))
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

    def problem_page(self) -> Page:
        values = {"problems": problems(self.report, self.readings), "counts": counted(self.report)}
        return self._site_page("problems", PROBLEMS, "Problems", values, ())

    def rule_page(self) -> Page:
        rules = tuple((rule, rule.severity.value, blocks(rule.page)) for rule in self.rules)
        headings = tuple((rule.name, f"rule_{rule.name}") for rule in self.rules)
        return self._site_page("rules", RULES, "Rules", {"rules": rules}, headings)

    def language(self) -> Page:
        kinds: Mapping[str, Any] = {kind: schema(kind) for kind in KINDS}
        found = reference(kinds, schema(SHARED))
        headings = (
            *((shape.title, shape.anchor) for shape in found.files),
            ("Shapes inside the files", "inside_files"),
            ("How words and values are written", "small_words"),
        )
        return self._site_page("language", LANGUAGE, "Language reference", {"reference": found}, headings)

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
        headings = (("What is checked", "is_checked"), ("What is not checked", "not_checked"))
        return self._site_page("about", ABOUT, "What is checked", values, headings)

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
