"""The sheet about the things of the whole set: what to fetch for each day, and what is worth a look."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from ...language.model import Case, Day, Kind, ProtocolSet
from ...planning.remarks import OPEN_FOR, Remark, limits_of, remarks
from ...planning.things import Fetched, of_day, settled
from ...planning.uses import Picked, Uses
from ..reading import Reading
from ..speech import Speech
from ..words import length, one_of

MOST_TOLD = 60
"""More remarks than these on one protocol are counted, not told: the page would bury what matters."""


@dataclass(frozen=True, slots=True)
class Struck:
    """What is worth a look in one protocol, as sentences.

    ``more`` remarks are not told; ``too_many`` tells that not every combination of choices was tried.
    """

    lines: tuple[str, ...]
    more: int
    too_many: bool


@dataclass(frozen=True, slots=True)
class Row:
    """A line of a day's list."""

    title: str
    count: int
    spare: int
    cases: str
    perhaps: str


@dataclass(frozen=True, slots=True)
class DayList:
    """What to fetch for a day; ``lost`` are the numbers of the cases whose protocol cannot be read."""

    title: str
    cases: tuple[str, ...]
    lost: str
    packs: tuple[Row, ...]
    loose: tuple[Row, ...]


def struck(reading: Reading, uses: Uses) -> Struck:
    """What is worth a look in a protocol; the clock is left out where steps wait for each other in a loop."""
    limits = limits_of(reading.facts.protocol_set.requirements)
    told = [remark_words(reading, one) for one in remarks(uses, reading.examined.order, limits)]
    return Struck(tuple(told[:MOST_TOLD]), max(0, len(told) - MOST_TOLD), uses.too_many)


def remark_words(reading: Reading, remark: Remark) -> str:
    """A remark as a sentence in the clinic's language."""
    say, thing = reading.speech.say, remark.thing.title
    pack = reading.thing(remark.thing.held_in) if remark.thing.held_in is not None else ""
    ways = one_of([_way(reading, way) for way in remark.ways], reading.speech) if remark.ways else ""
    if remark.kind == "idle" and remark.counted:
        return say("%(thing)s (in: %(pack)s): counted and cleared away, but never used.", thing=thing, pack=pack)
    if remark.kind == "idle":
        return say("%(thing)s (in: %(pack)s): used in no step, whatever is chosen.", thing=thing, pack=pack)
    if remark.kind == "idle-here":
        return say("%(thing)s (in: %(pack)s): opened for nothing with %(ways)s.", thing=thing, pack=pack, ways=ways)
    if remark.kind == "pack-idle" and ways:
        return say("%(pack)s: opened with %(ways)s, though nothing of it is needed then.", pack=thing, ways=ways)
    if remark.kind == "pack-idle":
        return say("%(pack)s: opened, though nothing of it is needed.", pack=thing)
    if remark.kind == "not-opened" and ways:
        return say("%(thing)s: used with %(ways)s, but no step opens %(pack)s then.", thing=thing, pack=pack, ways=ways)
    if remark.kind == "not-opened":
        return say("%(thing)s: used, but no step opens %(pack)s.", thing=thing, pack=pack)
    if remark.kind == "no-wrapper":
        return say("%(thing)s: sterile from the start, but in no pack: what has kept it sterile?", thing=thing)
    if remark.kind == "twice" and remark.other is not None:
        other = reading.thing(remark.other.held_in or "")
        return say("%(thing)s: in %(pack)s and in %(other)s under one title.", thing=thing, pack=pack, other=other)
    time, limit = (length(round(one), reading.speech) for one in (remark.seconds, remark.limit))
    if remark.at_least:
        return say(
            "%(pack)s: open for at least %(time)s before anything of it is used; at most %(limit)s is meant.",
            pack=thing, time=time, limit=limit,
        )  # fmt: skip
    return say(
        "%(pack)s: open for %(time)s before anything of it is used; at most %(limit)s is meant.",
        pack=thing, time=time, limit=limit,
    )  # fmt: skip


def _way(reading: Reading, way: Picked) -> str:
    choices = {choice.id.value: choice for choice in reading.protocol.choices}
    titles = {name: {one.value: title for one, title in choices[name].options} for name, _ in way}
    return ", ".join(f"{choices[name].title}: {titles[name][option]}" for name, option in way)


def usual_limit(speech: Speech) -> str:
    """How long a pack may lie open where no requirement says so, in words."""
    return length(OPEN_FOR, speech)


def day_lists(protocols: ProtocolSet) -> tuple[DayList, ...]:
    """What to fetch for each day of the set."""
    wanted = {case.protocol.value for day in protocols.screens.days for case in day.cases}
    uses = {one.id: Uses(one) for one in protocols.protocols if one.id in wanted}
    return tuple(_day(day, uses) for day in protocols.screens.days)


def _day(day: Day, uses: Mapping[str, Uses]) -> DayList:
    cases = [(case, uses.get(case.protocol.value)) for case in day.cases]
    fetched = of_day(cases)
    return DayList(
        title=day.title,
        cases=tuple(_case(case, known) for case, known in cases),
        lost=_numbers([number for number, (_, known) in enumerate(cases, start=1) if known is None]),
        packs=tuple(_rows(one for one in fetched if one.thing.kind is Kind.PACK)),
        loose=tuple(_rows(one for one in fetched if one.thing.kind is not Kind.PACK)),
    )


def _case(case: Case, uses: Uses | None) -> str:
    """A case by its protocol's title and what is chosen."""
    if uses is None:
        return case.protocol.value
    picked = settled(case)
    titles = [
        title
        for choice in uses.protocol.choices
        for option, title in choice.options
        if picked.get(choice.id.value) == option.value
    ]
    return "; ".join([uses.protocol.title.value, *titles])


def _rows(fetched: Iterable[Fetched]) -> Iterator[Row]:
    for one in fetched:
        yield Row(one.thing.title, one.count, one.spare, _numbers(one.cases), _numbers(one.perhaps))


def _numbers(numbers: Sequence[int]) -> str:
    return ", ".join(map(str, numbers))
