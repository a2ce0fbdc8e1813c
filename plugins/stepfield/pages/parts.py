"""What the page of one role's part in a protocol shows, all of it worked out."""

from __future__ import annotations

from typing import Any

from .addresses import DIFFERS, Links, part_page, team_page
from .moment import moments, pickers, sources, when_of
from .reading import Reading
from .steps import phase_views
from .views import Link


def part_values(reading: Reading, links: Links, role: str, *, certain: bool, rest: bool = True) -> dict[str, Any]:
    """The values of a role's page.

    Without ``certain`` errors were found, and nothing computed is shown; ``rest`` tells whether the things that are not
    at hand are listed as well.
    """
    protocol = reading.protocol
    others = [other for other in reading.roles if other != role]
    return {
        "role": reading.role(role),
        "protocol": protocol,
        "whole": Link(protocol.title.value, links.to(team_page(protocol.id))),
        "phases": phase_views(reading, links, role),
        "moments": moments(reading, links, role, certain=certain, rest=rest),
        "whens": {number: when_of(reading, step.when) for number, step in enumerate(reading.steps, start=1)},
        "pickers": pickers(reading),
        "sources": sources(reading, links, role),
        "proved": reading.hands is not None,
        "certain": certain,
        "local": reading.local.of_role(role),
        "to_differs": links.to(DIFFERS),
        "all_known": not certain or reading.moments is not None,
        "rest": rest,
        "others": tuple(Link(reading.role(other), links.to(part_page(protocol.id, other))) for other in others),
    }
