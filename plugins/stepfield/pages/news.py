"""What is new since the last approved version: for each protocol and each role, with lines to sign that it was read."""

from __future__ import annotations

from dataclasses import dataclass

from ..changes import Duty, Reviewed
from ..changes.approved import Since
from ..changes.telling import duty, version
from .addresses import Links, part_page, team_page
from .views import Link

LINES = 4
"""Empty lines to sign on, for each role that must read a protocol again."""


@dataclass(frozen=True, slots=True)
class RoleNews:
    """What changes for one role in one protocol; ``told`` are sentences of the checker, in English."""

    link: Link
    must_read: bool
    told: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ProtocolNews:
    """What changed in one protocol.

    ``state`` is added, removed, changed or unreadable; ``since`` tells who approved the earlier text.
    """

    id: str
    link: Link
    state: str
    grade: str | None
    version: str
    since: str | None
    roles: tuple[RoleNews, ...]


def news_of(since: Since, page: str, names: dict[str, str]) -> tuple[ProtocolNews, ...]:
    """The news of every protocol that changed, those that people must read again first; ``names`` are roles' titles."""
    links = Links(page)
    found = [_protocol(one, since, links, names) for one in since.review.protocols]
    return tuple(sorted(found, key=lambda one: not any(role.must_read for role in one.roles)))


def _protocol(one: Reviewed, since: Since, links: Links, names: dict[str, str]) -> ProtocolNews:
    there = one.state in ("added", "changed")
    return ProtocolNews(
        id=one.protocol,
        link=Link(one.title, links.to(team_page(one.protocol)) if there else ""),
        state=one.state,
        grade=one.grade.word if one.grade is not None else None,
        version=version(one.version),
        since=since.approved.get(one.protocol),
        roles=tuple(_role(each, one, links, names) for each in one.duties) if there else (),
    )


def _role(each: Duty, one: Reviewed, links: Links, names: dict[str, str]) -> RoleNews:
    title = names.get(each.role, each.title)
    must = each.must_read or one.state == "added"
    return RoleNews(Link(title, links.to(part_page(one.protocol, each.role))), must, tuple(duty(each, one)))
