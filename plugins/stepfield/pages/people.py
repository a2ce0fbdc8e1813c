"""The page on how few people can do each protocol: the teams in words, with links to the steps they are about."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ..planning.teams import Teams, team_now
from .addresses import Links, team_page
from .fewest import Fewest, Names, fewest_of
from .reading import Reading
from .views import Link


@dataclass(frozen=True, slots=True)
class ProtocolPeople:
    """One protocol: its teams, None where they cannot be judged yet; ``steps`` are the links to its steps by id."""

    id: str
    link: Link
    fewest: Fewest | None
    steps: Mapping[str, Link]


def people_of(readings: Sequence[Reading], teams: Mapping[str, Teams | str], page: str) -> tuple[ProtocolPeople, ...]:
    """Every protocol of which the teams were looked at, by title."""
    links = Links(page)
    found = [_protocol(one, teams[one.protocol.id], links) for one in readings if one.protocol.id in teams]
    return tuple(sorted(found, key=lambda one: (one.link.text.casefold(), one.id)))


def _protocol(reading: Reading, teams: Teams | str, links: Links) -> ProtocolPeople:
    protocol = reading.protocol
    names = Names(reading.speech, reading.role, reading.thing, lambda name: str(reading.index[name] + 1))
    return ProtocolPeople(
        id=protocol.id,
        link=Link(protocol.title.value, links.to(team_page(protocol.id))),
        fewest=None if isinstance(teams, str) else fewest_of(teams, names, team_now(protocol)),
        steps={name: reading.step_link(number, links, None) for name, number in reading.index.items()},
    )
