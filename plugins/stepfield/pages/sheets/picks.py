"""The pick list: every thing with how many are needed, how many to have ready, where it is and where it is used."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from ...language.model import Kind, Subject
from ..reading import Reading
from .uses import Way, in_any_case, needed_in, possible, used_in


@dataclass(frozen=True, slots=True)
class Pick:
    """One thing to have.

    ``depth`` is how many packs it lies in, ``pack`` the title of the nearest; what lies in none has to be fetched.
    ``steps`` are numbers from 1, in words; ``only`` are conditions of which one must hold, none where it is used in any
    case. ``idle`` tells that no step uses it, or none with what is chosen.
    """

    name: str
    title: str
    count: int
    spare: int
    pack: str
    depth: int
    steps: str
    only: tuple[str, ...]
    idle: bool


def pick_values(reading: Reading, way: Way | None, *, apart: bool) -> dict[str, object]:
    """What the template of a pick list asks for; without a way, whatever is chosen.

    ``apart`` tells that there is a list for each way as well.
    """
    picked = dict(way.picked) if way is not None else {}
    found = tuple(picks(reading, picked))
    return {
        "packs": tuple(pick for pick in found if pick.depth or reading.protocol.subjects[pick.name].kind is Kind.PACK),
        "loose": tuple(
            pick for pick in found if not pick.depth and reading.protocol.subjects[pick.name].kind is not Kind.PACK
        ),
        "picked": tuple(chosen(reading, way)) if way is not None else (),
        "choices": reading.protocol.choices if way is None else (),
        "more": way is None and apart,
    }


def chosen(reading: Reading, way: Way) -> Iterator[tuple[str, str]]:
    """What is chosen in a way, in words: the choice and the option."""
    titles = {choice.id.value: choice for choice in reading.protocol.choices}
    for name, option in way.picked:
        choice = titles[name]
        yield choice.title, {one.value: title for one, title in choice.options}[option]


def picks(reading: Reading, picked: Mapping[str, str]) -> Iterator[Pick]:
    """Every pack with what it holds behind it, then what lies in no pack, each in written order.

    Where something is chosen, packs of which nothing is used and loose things that are not used are left out.
    """
    listing = _Listing(reading, picked)
    for thing in sorted(listing.held.get(None, ()), key=lambda one: one.kind is not Kind.PACK):
        if not picked or listing.is_needed(thing):
            yield from listing.told(thing, 0)


class _Listing:
    """The things of a protocol, and what each is needed for with some choices settled."""

    def __init__(self, reading: Reading, picked: Mapping[str, str]) -> None:
        self.reading, self.picked = reading, picked
        self.may_be = possible(reading, picked)
        self.used, self.needed = used_in(reading), needed_in(reading)
        self.held: dict[str | None, list[Subject]] = {}
        for thing in reading.protocol.subjects.values():
            if thing.kind in (Kind.PACK, Kind.ITEM):
                self.held.setdefault(thing.held_in, []).append(thing)

    def is_needed(self, thing: Subject) -> bool:
        """Whether a thing, or anything that lies in it, may be put to use."""
        inside = self.held.get(thing.name.value, ())
        return bool(self._steps(self.needed, thing)) or any(self.is_needed(inner) for inner in inside)

    def told(self, thing: Subject, depth: int) -> Iterator[Pick]:
        """The line of a thing, and those of all that lies in it."""
        needed = self._steps(self.needed, thing)
        conditions = [] if in_any_case(self.reading, needed, self.picked) else [self._conditions(one) for one in needed]
        yield Pick(
            name=thing.name.value,
            title=thing.title,
            count=thing.count,
            spare=thing.spare,
            pack=self.reading.thing(thing.held_in) if thing.held_in is not None else "",
            depth=depth,
            steps=runs([number + 1 for number in self._steps(self.used, thing)]) if needed else "",
            only=tuple(dict.fromkeys("; ".join(parts) for parts in conditions)),
            idle=not needed,
        )
        for inner in self.held.get(thing.name.value, ()):
            yield from self.told(inner, depth + 1)

    def _steps(self, steps: Mapping[str, tuple[int, ...]], thing: Subject) -> list[int]:
        return [number for number in steps.get(thing.name.value, ()) if number in self.may_be]

    def _conditions(self, number: int) -> tuple[str, ...]:
        """The conditions of a step that what is chosen does not settle, in words."""
        when = self.reading.steps[number].when
        return tuple(self.reading.condition(one) for one in when if one.name.value not in self.picked)


def runs(numbers: list[int]) -> str:
    """Rising numbers as a reader wants them: 3, 5, 7–9."""
    told: list[list[int]] = []
    for number in numbers:
        if told and number == told[-1][-1] + 1:
            told[-1].append(number)
        else:
            told.append([number])
    return ", ".join(f"{run[0]}–{run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in told)
