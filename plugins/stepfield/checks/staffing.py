"""The teams of one protocol of a set, or why they cannot be judged yet."""

from __future__ import annotations

from ..asepsis import order_of
from ..language.model import Protocol, ProtocolSet
from ..planning.shortest import Scheduler
from ..planning.teams import Teams, TooManyRolesError, teams_of
from .facts import why_not_explored


def staffing(protocol: Protocol, protocol_set: ProtocolSet, solve: Scheduler | None) -> Teams | str:
    """Every team judged, or in words why none is."""
    order = order_of(protocol)
    reason = why_not_explored(protocol, protocol_set, order)
    if reason is not None:
        return reason
    ancestors = order.ancestors()
    index = {step.id.value: number for number, step in enumerate(protocol.steps)}
    for number, step in enumerate(protocol.steps):
        for condition in step.when:
            asked = index.get(condition.name.value)
            if asked is not None and not ancestors[number] >> asked & 1:
                return "some steps look at an answer that may be given later; mend that first"
    try:
        return teams_of(protocol, protocol_set.requirements, solve)
    except TooManyRolesError as error:
        return str(error)
