"""What a case needs to have: packs, what they hold, what lies in none, how many, and how many to spare. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from ..language.model import Case, Kind, Protocol, Subject
from .uses import Uses


@dataclass(frozen=True, slots=True)
class Line:
    """One thing to have; ``depth`` is how many packs it lies in.

    ``used`` are the steps (numbers from 0) that name it and may be done, ``needed`` those of them that put it to use;
    ``certain`` tells that one of these is done however the rest is settled and whatever is answered.
    """

    thing: Subject
    depth: int
    used: tuple[int, ...]
    needed: tuple[int, ...]
    certain: bool

    @property
    def is_pack(self) -> bool:
        """Whether it is a pack."""
        return self.thing.kind is Kind.PACK


def listing(uses: Uses, picked: Mapping[str, str]) -> tuple[Line, ...]:
    """Every pack with what it holds behind it, then what lies in no pack, each in written order.

    Where something is chosen, packs of which nothing is used and loose things that are not used are left out.
    """
    return tuple(_Listing(uses, picked).lines())


class _Listing:
    """The things of a protocol, and what each is needed for with some choices settled."""

    def __init__(self, uses: Uses, picked: Mapping[str, str]) -> None:
        self.uses, self.picked = uses, picked
        self.may_be = uses.possible(picked)
        self.held = held_in(uses.protocol)

    def lines(self) -> Iterator[Line]:
        """The whole list."""
        for thing in sorted(self.held.get(None, ()), key=lambda one: one.kind is not Kind.PACK):
            if not self.picked or self._is_needed(thing):
                yield from self._told(thing, 0)

    def _is_needed(self, thing: Subject) -> bool:
        """Whether a thing, or anything that lies in it, may be put to use."""
        inside = self.held.get(thing.name.value, ())
        return bool(self._steps(self.uses.needed, thing)) or any(self._is_needed(inner) for inner in inside)

    def _told(self, thing: Subject, depth: int) -> Iterator[Line]:
        """The line of a thing, and those of all that lies in it."""
        needed = self._steps(self.uses.needed, thing)
        certain = bool(needed) and self.uses.in_any_case(needed, self.picked)
        yield Line(thing, depth, self._steps(self.uses.used, thing), needed, certain)
        for inner in self.held.get(thing.name.value, ()):
            yield from self._told(inner, depth + 1)

    def _steps(self, steps: Mapping[str, tuple[int, ...]], thing: Subject) -> tuple[int, ...]:
        return tuple(number for number in steps.get(thing.name.value, ()) if number in self.may_be)


def held_in(protocol: Protocol) -> dict[str | None, list[Subject]]:
    """Packs and items by the pack that holds them, None for those that lie in none; each in written order."""
    held: dict[str | None, list[Subject]] = {}
    for thing in protocol.subjects.values():
        if thing.kind in (Kind.PACK, Kind.ITEM):
            held.setdefault(thing.held_in, []).append(thing)
    return held


@dataclass(frozen=True, slots=True)
class Fetched:
    """One pack or loose thing for all cases of a day.

    ``count`` and ``spare`` are sums over ``cases`` (numbers from 1): a spare of one case may be used up in it, and what
    is reusable is not back from reprocessing on the same day. ``perhaps`` are those of the cases that may do without
    it, as something is left open. ``holds`` are the things inside with how many of each, for a pack.
    """

    thing: Subject
    count: int
    spare: int
    cases: tuple[int, ...]
    perhaps: tuple[int, ...]
    holds: tuple[tuple[str, int], ...]


def of_day(cases: Sequence[tuple[Case, Uses | None]]) -> tuple[Fetched, ...]:
    """What to fetch for the cases of a day, packs first; a case whose protocol is None is passed over.

    Things are one where name, title and, for packs, all that they hold are the same.
    """
    found: dict[tuple[object, ...], Fetched] = {}
    for number, (case, uses) in enumerate(cases, start=1):
        if uses is None:
            continue
        lines = listing(uses, settled(case))
        for at, line in enumerate(lines):
            if line.depth or not _is_fetched(lines, at):
                continue
            inside = tuple((one.thing.title, one.thing.count) for one in _inside(lines, at))
            key = (line.thing.name.value, line.thing.title, line.is_pack, inside)
            before = found.get(key, Fetched(line.thing, 0, 0, (), (), inside))
            spare = sum(one.thing.spare for one in (line, *_inside(lines, at)))
            # That a wrapper is looked at is no reason to open it: a pack is needed for what it holds.
            certain = any(one.certain for one in _inside(lines, at)) if line.is_pack else line.certain
            found[key] = Fetched(
                line.thing,
                before.count + line.thing.count,
                before.spare + spare,
                (*before.cases, number),
                before.perhaps if certain else (*before.perhaps, number),
                inside,
            )
    return tuple(sorted(found.values(), key=lambda one: one.thing.kind is not Kind.PACK))


def settled(case: Case) -> dict[str, str]:
    """The choices of a case of a day."""
    return {choice.value: option.value for choice, option in case.choices}


def _is_fetched(lines: Sequence[Line], at: int) -> bool:
    """Whether a thing, or anything in it, may be put to use in a case."""
    return any(one.needed for one in (lines[at], *_inside(lines, at)))


def _inside(lines: Sequence[Line], at: int) -> Iterator[Line]:
    """What lies in the pack at a place of a list: the lines behind it that are deeper."""
    for line in lines[at + 1 :]:
        if line.depth <= lines[at].depth:
            return
        yield line
