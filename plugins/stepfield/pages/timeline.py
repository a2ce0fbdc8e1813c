"""How long a protocol takes, on the page of the whole team: sentences, the timeline, and when each step starts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from ..planning.plan import Plan
from ..planning.scenarios import done_in, usual_scenario
from ..planning.schedule import Schedule, most, timed, total_of
from ..planning.standing import standings
from ..planning.timing import planned
from .reading import Reading
from .timeline_tiles import Lane, Tile, tiles
from .views import Link
from .words import in_words, length, one_of, opening


@dataclass(frozen=True, slots=True)
class Start:
    """When a step starts: hours and minutes after the beginning; ``slack`` is None where it can't be put off."""

    step: Link
    who: str
    earliest: str
    latest: str
    slack: str | None


@dataclass(frozen=True, slots=True)
class Strip:
    """A tile of the timeline: whose phase, and what it says to those who do not see it."""

    title: str
    label: str
    tile: Tile


@dataclass(frozen=True, slots=True)
class Timeline:
    """What the page shows of the clock. ``unknown`` is the one sentence where no step says how long it takes."""

    unknown: str | None
    sentences: tuple[str, ...] = ()
    people: tuple[str, ...] = ()
    standing: tuple[str, ...] = ()
    strips: tuple[Strip, ...] = ()
    starts: tuple[Start, ...] = ()


def timeline_of(reading: Reading) -> Timeline | None:
    """The clock of the usual scenario; None where the steps wait for each other in a circle, or there are none."""
    protocol, order = reading.protocol, reading.examined.order
    if order.loops or not protocol.steps:
        return None
    scenario = usual_scenario(protocol)
    done = done_in(protocol, scenario)
    plan = planned(protocol, order, done, protocol.people)
    found = timed(protocol, plan)
    if len(found.unknown) == len(found.rows):
        return Timeline(
            reading.speech.count(
                "How long it takes is not known: its one step says no duration.",
                "How long it takes is not known: none of the %(number)s steps says a duration.",
                len(found.rows),
            )
        )
    told = _Telling(reading, plan, found)
    return Timeline(
        unknown=None,
        sentences=tuple(told.sentences(scenario)),
        people=tuple(told.people()),
        standing=tuple(told.standing()),
        strips=tuple(told.strips()),
        starts=tuple(told.starts()),
    )


class _Telling:
    def __init__(self, reading: Reading, plan: Plan, found: Schedule) -> None:
        self.reading, self.plan, self.found = reading, plan, found
        self.say, self.steps = reading.speech.say, reading.steps
        self.at = {row.step: row for row in found.rows}
        self.order = sorted(found.rows, key=lambda row: (row.starts, row.step))
        self.words = {row.step: opening(self.steps[row.step].do.value, 60) for row in found.rows}
        self.who = {row.step: reading.people(self.steps[row.step]) for row in found.rows}

    def time(self, seconds: float) -> str:
        """A time to the minute, or to the second below ten minutes."""
        return length(round(seconds / 60) * 60 if seconds >= 600 else round(seconds), self.reading.speech)

    def sentences(self, scenario: Mapping[str, str]) -> Iterator[str]:
        """The total, for which scenario it is, and what the times leave out."""
        slow = total_of(self.reading.protocol, self.plan, most)
        yield self.say(
            "Usually %(usual)s, if everybody starts as soon as possible; if everything takes its longest, %(slow)s.",
            usual=self.time(self.found.total), slow=self.time(slow),
        )  # fmt: skip
        settled = "; ".join(self._settled(scenario))
        if settled:
            yield self.say("This is the case with: %(settled)s.", settled=settled)
        if any(step.repeat is not None for step in self.steps):
            yield self.say("No step is done a second time.")
        for person in self.reading.protocol.people:
            roles = ", ".join(self.reading.role(role.value) for role in person.roles)
            yield self.say("One person has these roles and does one step after the other: %(roles)s.", roles=roles)
        if self.found.unknown:
            yield self.reading.speech.count(
                "%(number)s step says no duration and counts as taking no time.",
                "%(number)s steps say no duration and count as taking no time.",
                len(self.found.unknown),
            )
        if self.found.missed or self.plan.left_out:
            yield self.say("Some waits or limits can't be kept, and the times do without them.")

    def _settled(self, scenario: Mapping[str, str]) -> Iterator[str]:
        """Choices and answers in words; not the answers that only say that nothing has to be repeated."""
        titles = {choice.id.value: choice for choice in self.reading.protocol.choices}
        for name, option in scenario.items():
            if name in titles:
                text = next((title for one, title in titles[name].options if one.value == option), option)
                yield f"{titles[name].title}: {text}"
            elif self.steps[self.reading.index[name]].repeat is None:
                answers = one_of([in_words(option)], self.reading.speech)
                yield self.say(
                    "step %(number)s is answered: %(answers)s", number=self.reading.index[name] + 1, answers=answers
                )

    def people(self) -> Iterator[str]:
        """How long everybody is busy and idle."""
        people = {person.id.value: person for person in self.reading.protocol.people}
        for who, busy in self.found.busy.items():
            roles = [role.value for role in people[who].roles] if who in people else [who]
            yield self.say(
                "%(who)s: busy %(busy)s, waiting %(idle)s",
                who=" + ".join(self.reading.role(role) for role in roles),
                busy=self.time(busy), idle=self.time(self.found.idle[who]),
            )  # fmt: skip

    def standing(self) -> Iterator[str]:
        """How long packs and fields stand open before they are used, from a minute on."""
        starts = {row.step: row.starts for row in self.found.rows}
        ends = {row.step: row.ends for row in self.found.rows}
        for one in standings(self.reading.protocol, self.reading.examined.order, self.plan.done):
            seconds = one.before_use(starts, ends)
            if seconds >= 60:
                use = min(one.uses, key=lambda number: (starts[number], number))
                yield self.say(
                    "%(thing)s: %(time)s, from step %(since)s to step %(use)s",
                    thing=self.reading.thing(one.subject), time=self.time(seconds), since=one.since + 1, use=use + 1,
                )  # fmt: skip

    def strips(self) -> Iterator[Strip]:
        """The picture."""
        lanes = [self._lane(role) for role in self.reading.roles]
        phases = self.reading.protocol.phases
        for tile in tiles(self.found, self.reading.examined.order.phase_of, lanes):
            part = f" ({tile.part}/{tile.parts})" if tile.parts > 1 else ""
            title = f"{tile.phase + 1}{part} {phases[tile.phase].title}"
            yield Strip(
                title,
                self.say(
                    "Timeline of %(phase)s, minute %(first)s to %(last)s; the table below says the same in words.",
                    phase=title, first=f"{tile.starts / 60:.0f}", last=f"{tile.ends / 60:.0f}",
                ),
                tile,
            )  # fmt: skip

    def _lane(self, role: str) -> Lane:
        waits = []
        for wait in self.plan.waits:
            owner = self.steps[wait.step].role
            if owner is not None and owner.value == role:
                begins = self.at[wait.of].ends
                waits.append((begins, begins + wait.seconds, length(wait.seconds, self.reading.speech)))
        rows = tuple((row, self.words[row.step]) for row in self.order if role in self.who[row.step])
        return Lane(self.reading.role(role), rows, tuple(waits))

    def starts(self) -> Iterator[Start]:
        """When each step starts, in the order of the clock."""
        for row in self.order:
            link = Link(f"{row.step + 1} {self.words[row.step]}", f"#{self.steps[row.step].id.value}")
            who = " + ".join(self.reading.role(person) for person in self.who[row.step])
            yield Start(
                link, who, clock(row.starts), clock(row.latest_start), None if row.critical else clock(row.slack)
            )


def clock(seconds: float) -> str:
    """Hours, minutes and seconds as a clock shows them: 0:05:30."""
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes // 60}:{minutes % 60:02d}:{rest:02d}"
