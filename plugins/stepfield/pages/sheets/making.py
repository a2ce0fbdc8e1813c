"""Makes the cards and sheets of a protocol set: finished pages of their own, made for paper."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from ...checks import Report
from ...checks.tracing import Trace, trace
from ...planning.uses import Uses, Way
from ..addresses import ASSETS, PRINT, PROBLEMS, Links, part_page, team_page
from ..frame import Framing
from ..local import Mark
from ..reading import Reading
from ..templating import render
from ..views import Link
from .cards import card_values
from .forms import form_values
from .furniture import Furniture, furniture, paper_styles
from .picks import chosen, pick_values, settled_ways
from .places import A4, A5, THINGS, card_page, form_page, pick_page, record_page, whole_page
from .records import record_values
from .stock import Struck, day_lists, struck, usual_limit
from .wholes import whole_values

File = tuple[str, bytes]
"""Address and content."""


@dataclass(frozen=True, slots=True)
class Listed:
    """What there is of one protocol to print."""

    title: str
    marks: tuple[str, ...]
    cards: tuple[Link, ...]
    sheets: tuple[Link, ...]
    struck: Struck


@dataclass(frozen=True, slots=True)
class Made:
    """A finished sheet, and what it is called in the list."""

    address: str
    name: str
    text: str

    @property
    def file(self) -> File:
        """Its address and content."""
        return self.address, self.text.encode()


@dataclass(frozen=True, slots=True)
class Drawn:
    """The sheets of one protocol that are of no single role, and how the list leads to all there is to print of it."""

    files: tuple[File, ...]
    listed: Listed


def sheets(report: Report, readings: Sequence[Reading], site_url: str) -> Iterator[File]:
    """Every file to print; ``site_url`` is where the site is published, empty if not known."""
    made = Sheets(report, site_url)
    drawn = [made.of_protocol(reading) for reading in readings]
    for reading in readings:
        yield from made.cards(reading)
    for one in drawn:
        yield from one.files
    yield from made.of_all([one.listed for one in drawn])


class Sheets:
    """Draws the cards and sheets of a checked protocol set."""

    def __init__(self, report: Report, site_url: str, traced: Trace | None = None) -> None:
        self.report, self.site_url = report, site_url
        self.framing = Framing(report)
        self.speech = self.framing.speech
        self.trace = traced or trace(report.facts.protocol_set, report.facts.today)

    def addresses(self, readings: Sequence[Reading]) -> Iterator[str]:
        """Where each file will be, but for the cards."""
        for reading in readings:
            name = reading.protocol.id
            yield from (whole_page(name), record_page(name), pick_page(name))
            yield from (pick_page(name, way.options) for way in settled_ways(Uses(reading.protocol)))
            if self.trace.rows:
                yield form_page(name)
        yield from (A4, A5, THINGS, PRINT)

    def of_protocol(self, reading: Reading) -> Drawn:
        """The sheets of one protocol that are of no single role."""
        others = list(self.others(reading))
        return Drawn(tuple(sheet.file for sheet in others), self.listed(reading, others))

    def of_all(self, listed: Sequence[Listed]) -> Iterator[File]:
        """What is there once: the styles of the paper, the list, and the sheet about the things of the set."""
        yield from paper_styles(self.speech).items()
        yield THINGS, self.things(listed).encode()
        yield PRINT, self.list(listed).encode()

    def cards(self, reading: Reading) -> Iterator[File]:
        """The card of every role."""
        for role in reading.roles:
            address, who = card_page(reading.protocol.id, role), reading.role(role)
            round_it = self._round(reading, address, self.speech.say("Card"), who, role)
            certain = all(banner.kind != "error" for banner in round_it.frame.banners)
            values = card_values(reading, address, role, certain=certain)
            yield self._made("card", round_it, address, who, values).file

    def others(self, reading: Reading) -> Iterator[Made]:
        """The sheets that are of no single role."""
        protocol, say = reading.protocol, self.speech.say
        title = protocol.title.value
        address, name = whole_page(protocol.id), say("Whole protocol")
        yield self._made(
            "whole", self._round(reading, address, name, title), address, name, whole_values(reading, address)
        )
        address, name = record_page(protocol.id), say("Record sheet")
        round_it = self._round(reading, address, name, title, more=reading.local.records)
        yield self._made("record", round_it, address, name, record_values(reading))
        yield from self._picks(reading)
        if self.trace.rows:
            address, name = form_page(protocol.id), say("What it rests on")
            round_it = self._round(reading, address, name, title)
            yield self._made("form", round_it, address, name, form_values(reading, self.trace))

    def _picks(self, reading: Reading) -> Iterator[Made]:
        """The pick list of whatever is chosen, and one for each way to choose."""
        protocol, say = reading.protocol, self.speech.say
        uses = Uses(protocol)
        name, settled = say("Pick list"), settled_ways(uses)
        listed: tuple[Way | None, ...] = (None, *settled)
        for way in listed:
            address = pick_page(protocol.id, way.options if way is not None else ())
            called = "; ".join(option for _, option in chosen(reading, way)) if way is not None else ""
            values = pick_values(reading, uses, way, apart=bool(settled))
            round_it = self._round(reading, address, name, called or protocol.title.value)
            shown = say("Pick list: %(choices)s", choices=called) if called else name
            yield self._made("pick", round_it, address, shown, values)

    def _round(
        self,
        reading: Reading,
        address: str,
        name: str,
        subject: str,
        role: str | None = None,
        *,
        more: tuple[Mark, ...] = (),
    ) -> Furniture:
        """What stands round a sheet; ``more`` marks of local changes stand on it beside those of the whole protocol."""
        protocol = reading.protocol.id
        page = team_page(protocol) if role is None else part_page(protocol, role)
        return furniture(
            self.framing, reading, address, name, subject,
            paper=A4 if role is None else A5,
            on_screen=Link(self.speech.say("Page on screen"), Links(address).to(page)),
            site_url=self.site_url,
            local=(*(reading.local.heads if role is None else reading.local.of_role(role)), *more),
        )  # fmt: skip

    def _made(self, kind: str, round_it: Furniture, address: str, name: str, values: Mapping[str, object]) -> Made:
        text = render(f"sheets/{kind}.html", self.speech, sheet=round_it, speech=self.speech, **values)
        return Made(address, name, text)

    def listed(self, reading: Reading, others: Sequence[Made]) -> Listed:
        """A protocol's line in the list."""
        protocol, links = reading.protocol, Links(PRINT)
        standing = self.framing.of_protocol(PRINT, protocol, ()).standing
        marks = tuple(mark.word for mark in standing.marks) if standing is not None else ()
        cards = tuple(Link(reading.role(role), links.to(card_page(protocol.id, role))) for role in reading.roles)
        sheets_of = tuple(Link(sheet.name, links.to(sheet.address)) for sheet in others)
        return Listed(protocol.title.value, marks, cards, sheets_of, struck(reading, Uses(protocol)))

    def list(self, listed: Sequence[Listed]) -> str:
        """The list of all cards and sheets."""
        links = Links(PRINT)
        return render(
            "sheets/index.html",
            self.speech,
            speech=self.speech,
            frame=self.framing.of_site(PRINT, tells_errors=False),
            protocols=listed,
            built=self.report.facts.today.isoformat(),
            styles=(links.to(f"{ASSETS}/sheets.css"), links.to(A4)),
            problems=links.to(PROBLEMS),
            failed=self.report.failed,
            things=links.to(THINGS),
        )

    def things(self, listed: Sequence[Listed]) -> str:
        """The sheet about the things of the whole set."""
        links = Links(THINGS)
        return render(
            "sheets/things.html",
            self.speech,
            speech=self.speech,
            frame=self.framing.of_site(THINGS, tells_errors=False),
            days=day_lists(self.report.facts.protocol_set),
            protocols=[one for one in listed if one.struck.lines or one.struck.too_many],
            calm=sum(1 for one in listed if not (one.struck.lines or one.struck.too_many)),
            limit=usual_limit(self.speech),
            built=self.report.facts.today.isoformat(),
            styles=(links.to(f"{ASSETS}/sheets.css"), links.to(A4)),
            problems=links.to(PROBLEMS),
            failed=self.report.failed,
            to_list=links.to(PRINT),
        )
