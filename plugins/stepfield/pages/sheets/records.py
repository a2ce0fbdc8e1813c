"""The record sheet: a line for everything that is written down, asked, counted or timed during a case."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ...language.model import Step
from ..reading import Reading
from ..words import in_words, length

MOST_COUNTS = 4
"""So many counts stand side by side in one table."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line to fill in. ``key`` names what the model asks for: a record, or "?" for the question of the step.

    ``answers`` are the answers to tick, ``back`` the number of the step that ``again`` (one of them) leads back to.
    """

    step: int
    who: tuple[str, ...]
    text: str
    key: str
    only_if: tuple[str, ...]
    answers: tuple[str, ...] = ()
    again: str = ""
    back: int | None = None


@dataclass(frozen=True, slots=True)
class Timed:
    """A time that must not be fallen short of, or not be exceeded: the steps whose ends or starts are written down."""

    earlier: int
    later: int
    words: str
    earlier_words: str
    later_words: str


@dataclass(frozen=True, slots=True)
class Lines:
    """What is written down in one phase."""

    number: int
    title: str
    lines: tuple[Line, ...]
    times: tuple[Timed, ...]


@dataclass(frozen=True, slots=True)
class Count:
    """One surgical count: ``kind`` is first, closing or between."""

    step: int
    kind: str
    who: tuple[str, ...]
    only_if: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Counted:
    """What is counted: for each count of its table, whether the thing is counted then, and the record it answers."""

    name: str
    title: str
    count: int
    cells: tuple[tuple[bool, str], ...]


@dataclass(frozen=True, slots=True)
class Counts:
    """One table of counts."""

    counts: tuple[Count, ...]
    things: tuple[Counted, ...]


def record_values(reading: Reading) -> dict[str, object]:
    """What the template of the record sheet asks for."""
    answered = _answered_by_counts(reading)
    return {
        "choices": reading.protocol.choices,
        "team": tuple(reading.role(role) for role in reading.roles),
        "counts": tuple(_counts(reading, answered)),
        "phases": tuple(_phases(reading, answered)),
    }


def _answered_by_counts(reading: Reading) -> dict[tuple[int, str], int]:
    """The records that a cell of the counts answers: (step, record) to the count, all numbers from 0.

    That is the nearest count of the thing that is done by then.
    """
    found: dict[tuple[int, str], int] = {}
    last: dict[str, int] = {}
    for number, step in enumerate(reading.steps):
        last |= dict.fromkeys(_counted(step), number)
        for record in step.records:
            thing, _, what = record.value.rpartition(".")
            if what == "count" and thing in last and (last[thing], thing) not in _cells(found):
                found[number, record.value] = last[thing]
    return found


def _cells(found: dict[tuple[int, str], int]) -> set[tuple[int, str]]:
    return {(count, record.rpartition(".")[0]) for (_, record), count in found.items()}


def _counted(step: Step) -> tuple[str, ...]:
    return tuple(dict.fromkeys(effect.thing.value for effect in step.effects if effect.field == "counts"))


def _counts(reading: Reading, answered: dict[tuple[int, str], int]) -> Iterator[Counts]:
    numbers = [number for number, step in enumerate(reading.steps) if _counted(step)]
    counted = {name for number in numbers for name in _counted(reading.steps[number])}
    things = [one for one in reading.protocol.subjects.values() if str(one.name) in counted or one.counted]
    if not things:
        return
    records = {(count, record.rpartition(".")[0]): record for (_, record), count in answered.items()}
    for first in range(0, max(1, len(numbers)), MOST_COUNTS):
        part = numbers[first : first + MOST_COUNTS]
        yield Counts(
            tuple(_count(reading, number, numbers) for number in part),
            tuple(
                Counted(
                    str(one.name),
                    one.title,
                    one.count,
                    tuple(
                        (str(one.name) in _counted(reading.steps[number]), records.get((number, str(one.name)), ""))
                        for number in part
                    ),
                )
                for one in things
            ),
        )


def _count(reading: Reading, number: int, numbers: list[int]) -> Count:
    step = reading.steps[number]
    kind = "first" if number == numbers[0] else "closing" if number == numbers[-1] else "between"
    return Count(number + 1, kind, tuple(reading.role(one) for one in reading.people(step)), reading.conditions(step))


def _phases(reading: Reading, answered: dict[tuple[int, str], int]) -> Iterator[Lines]:
    first = 0
    for number, phase in enumerate(reading.protocol.phases, start=1):
        steps = range(first, first + len(phase.steps))
        first += len(phase.steps)
        lines = tuple(line for step in steps for line in _lines(reading, step, answered))
        times = tuple(time for step in steps for time in _times(reading, step))
        if lines or times:
            yield Lines(number, phase.title, lines, times)


def _lines(reading: Reading, number: int, answered: dict[tuple[int, str], int]) -> Iterator[Line]:
    step = reading.steps[number]
    who, only_if = tuple(reading.role(one) for one in reading.people(step)), reading.conditions(step)
    if step.asks is not None:
        back = reading.index.get(step.repeat.start.value) if step.repeat is not None else None
        yield Line(
            number + 1, who, step.asks.question.value, "?", only_if,
            answers=tuple(in_words(answer.value) for answer in step.asks.answers),
            again=in_words(step.repeat.answer.value) if step.repeat is not None else "",
            back=back + 1 if back is not None else None,
        )  # fmt: skip
    for record in dict.fromkeys(one.value for one in step.records):
        if (number, record) not in answered:
            yield Line(number + 1, who, reading.record(record), record, only_if)


def _times(reading: Reading, number: int) -> Iterator[Timed]:
    """The least and the most times that end with a step, against the end of an earlier one."""
    step, say = reading.steps[number], reading.speech.say
    for bounds, words, later_words in (
        (step.waits, "waits", say("Step %(number)s begins", number=number + 1)),
        (step.within, "within", say("Step %(number)s is done", number=number + 1)),
    ):
        for bound in bounds:
            earlier = reading.index.get(bound.step.value)
            if earlier is None:
                continue
            time = length(bound.seconds, reading.speech)
            yield Timed(
                earlier + 1,
                number + 1,
                say("At least %(time)s between them", time=time)
                if words == "waits"
                else say("At most %(time)s between them", time=time),
                say("Step %(number)s is done", number=earlier + 1),
                later_words,
            )
