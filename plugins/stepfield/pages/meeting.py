"""Where two people must meet: waits across lanes, hand-overs, steps done together, and the ends of phases, in order."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from .addresses import Links
from .reading import Reading
from .views import HandOver, Link, WaitView


@dataclass(frozen=True, slots=True)
class Meeting:
    """One moment at which people depend on each other.

    ``kind`` is "wait" (``people`` wait for ``others``), "hand" (``people`` gives to ``others``), "together" or "end"
    (all of ``people``, at the end of a phase; there are no ``others``). ``number`` is the step's, ``link`` leads to it;
    both are None for "end".
    """

    kind: str
    people: tuple[str, ...]
    others: tuple[str, ...]
    number: int | None
    link: Link | None
    wait: WaitView | None = None
    over: HandOver | None = None
    next_phase: str | None = None


@dataclass(frozen=True, slots=True)
class PhaseMeetings:
    """The meetings of one phase."""

    number: int
    title: str
    meetings: tuple[Meeting, ...]


def meetings(reading: Reading, links: Links) -> tuple[PhaseMeetings, ...]:
    """Every meeting, in the written order of the steps, phase by phase."""
    found, first = [], 0
    phases = reading.protocol.phases
    for number, phase in enumerate(phases):
        steps = range(first, first + len(phase.steps))
        following = phases[number + 1].title if number + 1 < len(phases) else None
        moments = [moment for step in steps for moment in _of_step(reading, step, links)]
        found.append(PhaseMeetings(number + 1, phase.title, (*moments, *_end(reading, steps, following))))
        first += len(phase.steps)
    return tuple(found)


def _of_step(reading: Reading, number: int, links: Links) -> Iterator[Meeting]:
    step = reading.steps[number]
    link = reading.step_link(number, links, None)
    people = reading.people(step)
    yield from _waits(reading, number, link, links)
    overs = reading.hand_overs(step, None)
    helpers = _titles(reading, people[1:])
    if not set(helpers) <= {over.taker for over in overs}:
        yield Meeting("together", _titles(reading, people[:1]), helpers, number + 1, link)
    for over in overs:
        yield Meeting("hand", (over.giver,), (over.taker,), number + 1, link, over=over)


def _waits(reading: Reading, number: int, link: Link, links: Links) -> Iterator[Meeting]:
    """One meeting for each step waited for, with all who wait; who has done that step waits for nobody."""
    waiting: dict[int, list[str]] = {}
    for wait in reading.waits_at.get(number, ()):
        if wait.role not in reading.people(reading.steps[wait.until]):
            waiting.setdefault(wait.until, []).append(wait.role)
    for until, roles in waiting.items():
        others = reading.people(reading.steps[until])
        view = reading.wait_view(number, roles[0], until, links)
        yield Meeting("wait", _titles(reading, roles), _titles(reading, others), number + 1, link, wait=view)


def _end(reading: Reading, steps: range, following: str | None) -> Iterator[Meeting]:
    busy = {role for step in steps for role in reading.people(reading.steps[step])}
    people = tuple(reading.role(role) for role in reading.roles if role in busy)
    if following is not None and len(people) > 1:
        yield Meeting("end", people, (), None, None, next_phase=following)


def _titles(reading: Reading, roles: Iterable[str]) -> tuple[str, ...]:
    return tuple(reading.role(role) for role in roles)
