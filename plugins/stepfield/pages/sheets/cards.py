"""A role's card: its steps in large type, each with how one stands before it and what to mind first."""

from __future__ import annotations

from dataclasses import dataclass

from ..addresses import Links
from ..moment import states_at
from ..reading import Reading
from ..states import State
from ..steps import phase_views


@dataclass(frozen=True, slots=True)
class Stand:
    """How the reader stands before a step, and after it where that changes; ``new`` tells that it was not so before."""

    before: tuple[State, ...]
    after: tuple[State, ...]
    new: bool


def card_values(reading: Reading, address: str, role: str, *, certain: bool) -> dict[str, object]:
    """What the template of a card asks for; without ``certain`` it tells nobody how they stand."""
    return {
        "role": reading.role(role),
        "choices": reading.protocol.choices,
        "phases": phase_views(reading, Links(address), role),
        "stands": _stands(reading, role) if certain else {},
        "unknown": certain and reading.hands is None,
    }


def _stands(reading: Reading, role: str) -> dict[int, Stand]:
    """How the role stands at each of its steps, by the number of the step as it is written (from 1)."""
    found: dict[int, Stand] = {}
    last: tuple[State, ...] = ()
    for number, step in enumerate(reading.steps):
        if role not in reading.people(step):
            continue
        before = states_at(reading, number, role, reading.moments, after=False)
        after = states_at(reading, number, role, reading.moments, after=True)
        found[number + 1] = Stand(before, () if after == before else after, new=before != last)
        last = after
    return found
