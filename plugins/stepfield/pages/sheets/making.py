"""Makes the cards and sheets of a protocol set: finished pages of their own, made for paper."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ...checks import Report
from ..addresses import ASSETS, PRINT, PROBLEMS, Links, part_page
from ..frame import Framing
from ..reading import Reading
from ..templating import render
from ..views import Link
from .cards import card_values
from .furniture import furniture, paper_styles
from .places import A5, card_page


@dataclass(frozen=True, slots=True)
class Listed:
    """What there is of one protocol to print."""

    title: str
    marks: tuple[str, ...]
    cards: tuple[Link, ...]
    sheets: tuple[Link, ...]


def sheets(report: Report, readings: Sequence[Reading], site_url: str) -> Iterator[tuple[str, bytes]]:
    """Every file to print, as address and content; ``site_url`` is where the site is published, empty if not known."""
    made = _Maker(report, site_url)
    listed = []
    for reading in readings:
        files = dict(made.cards(reading))
        yield from ((address, text.encode()) for address, (_, text) in files.items())
        listed.append(made.listed(reading, [Link(name, Links(PRINT).to(to)) for to, (name, _) in files.items()], []))
    yield from paper_styles(made.speech).items()
    yield PRINT, made.list(listed).encode()


class _Maker:
    def __init__(self, report: Report, site_url: str) -> None:
        self.report, self.site_url = report, site_url
        self.framing = Framing(report)
        self.speech = self.framing.speech

    def cards(self, reading: Reading) -> Iterator[tuple[str, tuple[str, str]]]:
        """The card of every role, by address: whose it is, and the page."""
        for role in reading.roles:
            address, who = card_page(reading.protocol.id, role), reading.role(role)
            on_screen = Link(self.speech.say("Page on screen"), Links(address).to(part_page(reading.protocol.id, role)))
            round_it = furniture(
                self.framing, reading, address, self.speech.say("Card"), who,
                paper=A5, on_screen=on_screen, site_url=self.site_url,
            )  # fmt: skip
            certain = all(banner.kind != "error" for banner in round_it.frame.banners)
            values = card_values(reading, address, role, certain=certain)
            yield address, (who, render("sheets/card.html", self.speech, sheet=round_it, speech=self.speech, **values))

    def listed(self, reading: Reading, cards: list[Link], others: list[Link]) -> Listed:
        """A protocol's line in the list."""
        standing = self.framing.of_protocol(PRINT, reading.protocol, ()).standing
        marks = tuple(mark.word for mark in standing.marks) if standing is not None else ()
        return Listed(reading.protocol.title.value, marks, tuple(cards), tuple(others))

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
            styles=(links.to(f"{ASSETS}/sheets.css"),),
            problems=links.to(PROBLEMS),
            failed=self.report.failed,
        )
