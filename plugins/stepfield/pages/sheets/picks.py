"""The pick list: every thing with how many are needed, how many to have ready, where it is and where it is used."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from ...planning.things import Line, listing
from ...planning.uses import Uses, Way
from ..reading import Reading

MOST_SHEETS = 12
"""More combinations of choices than these get no sheet of their own: nobody would find theirs."""


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
    is_pack: bool
    steps: str
    only: tuple[str, ...]
    idle: bool


def settled_ways(uses: Uses) -> tuple[Way, ...]:
    """The ways to choose that have a sheet of their own."""
    found = uses.ways()
    return found if len(found) <= MOST_SHEETS else ()


def pick_values(reading: Reading, uses: Uses, way: Way | None, *, apart: bool) -> dict[str, object]:
    """What the template of a pick list asks for; without a way, whatever is chosen.

    ``apart`` tells that there is a list for each way as well.
    """
    picked = dict(way.picked) if way is not None else {}
    found = tuple(_pick(reading, line, picked) for line in listing(uses, picked))
    return {
        "packs": tuple(pick for pick in found if pick.depth or pick.is_pack),
        "loose": tuple(pick for pick in found if not pick.depth and not pick.is_pack),
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


def _pick(reading: Reading, line: Line, picked: Mapping[str, str]) -> Pick:
    thing = line.thing
    conditions = [] if line.certain else [_conditions(reading, number, picked) for number in line.needed]
    return Pick(
        name=thing.name.value,
        title=thing.title,
        count=thing.count,
        spare=thing.spare,
        pack=reading.thing(thing.held_in) if thing.held_in is not None else "",
        depth=line.depth,
        is_pack=line.is_pack,
        steps=runs([number + 1 for number in line.used]) if line.needed else "",
        only=tuple(dict.fromkeys("; ".join(parts) for parts in conditions)),
        idle=not line.needed,
    )


def _conditions(reading: Reading, number: int, picked: Mapping[str, str]) -> tuple[str, ...]:
    """The conditions of a step that what is chosen does not settle, in words."""
    return tuple(reading.condition(one) for one in reading.steps[number].when if one.name.value not in picked)


def runs(numbers: Sequence[int]) -> str:
    """Rising numbers as a reader wants them: 3, 5, 7–9."""
    told: list[list[int]] = []
    for number in numbers:
        if told and number == told[-1][-1] + 1:
            told[-1].append(number)
        else:
            told.append([number])
    return ", ".join(f"{run[0]}–{run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in told)
