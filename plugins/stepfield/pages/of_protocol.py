"""The pages of one protocol: the whole team's, and those of its roles."""

from __future__ import annotations

from collections.abc import Iterator

from .addresses import HOME, PEOPLE, Links, part_page, picture_page, role_page, team_page
from .frame import Framing
from .page import HEAVY, Page, finished
from .parts import part_values
from .reading import Reading
from .views import Link
from .whole import picture_values, team_values, without_picture


class ProtocolPages:
    """Draws the pages of one protocol; ``judged_teams`` tells whether a page on how few people can do it is there."""

    def __init__(self, framing: Framing, *, judged_teams: bool) -> None:
        self.framing, self.judged_teams = framing, judged_teams

    def to_home(self, links: Links) -> Link:
        """The way home."""
        return Link(self.framing.speech.say("Home"), links.to(HOME))

    def team(self, reading: Reading) -> Iterator[Page]:
        """The page of the whole team; its picture has a page of its own where both together would be too heavy."""
        protocol = reading.protocol
        address, title = team_page(protocol.id), protocol.title.value
        links = Links(address)
        frame = self.framing.of_protocol(address, protocol, (self.to_home(links),))
        values = {**team_values(reading, links), "to_people": self.to_people(links, protocol.id)}
        headings = tuple((phase.title, f"{phase.id}_phase") for phase in protocol.phases)
        page = finished("team", address, title, frame, values, headings, written_in=protocol.path)
        if len(page.html.encode()) <= HEAVY:
            yield page
            return
        apart = picture_page(protocol.id)
        values = without_picture(values, links.to(apart))
        yield finished("team", address, title, frame, values, headings, written_in=protocol.path)
        way = (self.to_home(Links(apart)), Link(title, Links(apart).to(address)))
        frame = self.framing.of_protocol(apart, protocol, way)
        yield finished(
            "picture", apart, title, frame, picture_values(reading, Links(apart)), headings, in_menu=False, weight=0.0,
            written_in=protocol.path,
        )  # fmt: skip

    def part(self, reading: Reading, role: str) -> Page:
        """The page of one role's part; without the things that are not at hand where it would be too heavy."""
        protocol = reading.protocol
        address = part_page(protocol.id, role)
        links, title = Links(address), reading.role(role)
        path = (self.to_home(links), Link(title, links.to(role_page(role))))
        frame = self.framing.of_protocol(address, protocol, path)
        certain = not any(banner.kind == "error" for banner in frame.banners)
        values = part_values(reading, links, role, certain=certain)
        headings = tuple((phase.title, phase.anchor) for phase in values["phases"] if phase.entries)
        full = f"{title}: {protocol.title}"
        page = finished(
            "part", address, full, frame, values, headings, in_menu=False, weight=0.0, title_shown=title,
            written_in=protocol.path,
        )  # fmt: skip
        if len(page.html.encode()) <= HEAVY:
            return page
        fewer = part_values(reading, links, role, certain=certain, rest=False)
        return finished(
            "part", address, full, frame, fewer, headings, in_menu=False, weight=0.0, title_shown=title,
            written_in=protocol.path,
        )  # fmt: skip

    def to_people(self, links: Links, protocol: str) -> str | None:
        """The way to how few people can do a protocol, if that was judged."""
        return links.to(PEOPLE, f"people_{protocol}") if self.judged_teams else None
