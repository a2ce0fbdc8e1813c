"""The home page and the pages of the roles: choose who you are, then what is done today."""

from __future__ import annotations

from collections.abc import Sequence, Set
from dataclasses import dataclass

from .addresses import PRINT, PROBLEMS, SCREENS, Links, part_page, role_page, team_page
from .frame import standing_of
from .reading import Reading
from .speech import Speech
from .views import Link, Standing


@dataclass(frozen=True, slots=True)
class RoleCard:
    """A role to choose, and in how many protocols it takes part."""

    id: str
    link: Link
    count: int


@dataclass(frozen=True, slots=True)
class ProtocolCard:
    """A protocol to choose: its page, its standing, and the pages of its roles."""

    id: str
    link: Link
    purpose: str
    standing: Standing
    parts: tuple[Link, ...]
    steps: int
    own: int | None
    """How many of the steps the role takes part in, on the page of a role."""


@dataclass(frozen=True, slots=True)
class Missing:
    """A protocol that has no page because its file can't be read."""

    id: str
    href: str


def role_cards(readings: Sequence[Reading], page: str) -> tuple[RoleCard, ...]:
    """Every role that takes part in a protocol, in the clinic's order."""
    links = Links(page)
    titles: dict[str, str] = {}
    for reading in readings:
        titles.update(reading.naming.roles)
    used = [role for reading in readings for role in reading.roles]
    roles = [role for role in titles if role in used] + [role for role in dict.fromkeys(used) if role not in titles]
    return tuple(
        RoleCard(role, Link(titles.get(role, role), links.to(role_page(role))), used.count(role)) for role in roles
    )


def protocol_cards(readings: Sequence[Reading], page: str, role: str | None = None) -> tuple[ProtocolCard, ...]:
    """The protocols, by title; for one role only those it takes part in, each leading to its part."""
    links = Links(page)
    cards = [_card(reading, links, role) for reading in readings if role is None or role in reading.roles]
    return tuple(sorted(cards, key=lambda card: (card.link.text.casefold(), card.id)))


def _card(reading: Reading, links: Links, role: str | None) -> ProtocolCard:
    protocol = reading.protocol
    target = team_page(protocol.id) if role is None else part_page(protocol.id, role)
    return ProtocolCard(
        id=protocol.id,
        link=Link(protocol.title.value, links.to(target)),
        purpose=protocol.purpose,
        standing=standing_of(protocol, reading.facts.today, reading.speech),
        parts=tuple(Link(reading.role(one), links.to(part_page(protocol.id, one))) for one in reading.roles),
        steps=len(reading.steps),
        own=sum(role in reading.people(step) for step in reading.steps) if role is not None else None,
    )


def missing(unreadable: Sequence[str], page: str) -> tuple[Missing, ...]:
    """The protocols that can't be shown."""
    return tuple(Missing(name, Links(page).to(PROBLEMS)) for name in unreadable)


def ways(documents: Set[str], page: str, speech: Speech) -> tuple[Link, ...]:
    """The lists of what stands beside the pages, on the wall or on paper; those that the site has."""
    known = ((SCREENS, speech.say("Wall screens")), (PRINT, speech.say("Cards and sheets to print")))
    return tuple(Link(text, Links(page).to(address)) for address, text in known if address in documents)
