"""What cases ask of packs: which sterile things are needed together, opened by which step, how often. Pure.

Readings, where the text of a protocol leaves room:

- Planned is what lies in packs today and starts sterile. What lies in none, or is no more than clean, stays where it
  is: no step opens a wrapper for it.
- What different steps open stays apart, for each is opened at its own moment, by its own hands, onto its own table. So
  what an opening (a step of a case) needs comes out of packs that are opened there.
- A pack in a pack (double wrapping) is one thing, never unpacked by the plan.
- Spares lie unopened beside the packs, so they are in none.
- What may be needed, whatever is answered or left open, counts as needed.
- Things are one across protocols if their titles and all that matters about them are the same. Of things with one title
  in one protocol the first stands for the first elsewhere, the second for the second.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from ..language.model import Kind, Level, Subject
from .things import held_in
from .uses import Picked, Uses


class CannotPlanError(Exception):
    """The text must be mended before packs can be planned; says why, for people."""


@dataclass(frozen=True, slots=True)
class Kindred:
    """A kind of case: a protocol, what is chosen, and how often it is done, in hundredths of a case a week."""

    uses: Uses
    picked: Picked
    rate: int


@dataclass(frozen=True, slots=True)
class Good:
    """A thing that packs may hold. ``size`` is how many things one of it is: more than one for a pack in a pack."""

    title: str
    size: int
    sharp: bool
    reusable: bool


@dataclass(frozen=True, slots=True)
class Opening:
    """A step of a kind of case that opens packs: how many of each good (by number) are needed out of them.

    ``today`` are the packs (by number) that it opens today.
    """

    case: int
    step: str
    rate: int
    needs: Mapping[int, int]
    today: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Pack:
    """How many of each good (by number) a pack holds; ``title`` is empty for one that is only proposed."""

    title: str
    holds: Mapping[int, int]


@dataclass(frozen=True, slots=True)
class Demand:
    """All that is asked of packs, and the packs of today; ``aside`` are things in them that are left alone, and why."""

    cases: tuple[Kindred, ...]
    goods: tuple[Good, ...]
    openings: tuple[Opening, ...]
    today: tuple[Pack, ...]
    aside: tuple[tuple[str, str], ...]


def demand_of(cases: Sequence[Kindred]) -> Demand:
    """What some kinds of cases ask for. Raises CannotPlanError where something is used whose pack no step opens."""
    gathering = _Gathering()
    openings = tuple(one for number, case in enumerate(cases) for one in gathering.openings(number, case))
    return Demand(
        tuple(cases), tuple(gathering.goods.values()), openings, tuple(gathering.packs.values()),
        tuple(dict.fromkeys(gathering.aside)),
    )  # fmt: skip


class _Gathering:
    def __init__(self) -> None:
        self.goods: dict[tuple[object, ...], Good] = {}
        self.number: dict[tuple[object, ...], int] = {}
        self.packs: dict[tuple[object, ...], Pack] = {}
        self.aside: list[tuple[str, str]] = []

    def openings(self, number: int, case: Kindred) -> Iterator[Opening]:
        """The openings of one kind of case, in the order of its steps."""
        held, may_be = held_in(case.uses.protocol), case.uses.possible(dict(case.picked))
        keys = dict(_keys(held))
        by_step: dict[int, list[Subject]] = {}
        for pack in held.get(None, ()):
            if pack.kind is not Kind.PACK:
                continue
            steps = [step for step in case.uses.opened.get(pack.name.value, ()) if step in may_be]
            needed = [thing for thing in _within(held, pack) if _is_needed(case.uses, may_be, thing)]
            if steps:
                by_step.setdefault(steps[0], []).append(pack)
            elif needed:
                raise CannotPlanError(
                    f"{needed[0].title} is used in {case.uses.protocol.id}, but no step opens {pack.title} with these "
                    "choices: add the step that opens it, or move the thing"
                )
        for step, packs in sorted(by_step.items()):
            needs: dict[int, int] = {}
            for pack in packs:
                for thing in held.get(pack.name.value, ()):
                    good = self._good(thing, held, keys)
                    if good is not None and self._asked(case.uses, may_be, thing, held):
                        needs[good] = needs.get(good, 0) + thing.count
            today = tuple(self._pack(pack, held, keys) for pack in packs)
            yield Opening(number, case.uses.steps[step].id.value, case.rate, needs, today)

    def _asked(
        self, uses: Uses, may_be: frozenset[int], thing: Subject, held: Mapping[str | None, list[Subject]]
    ) -> bool:
        """Whether a thing, or anything that a pack in a pack holds, may be needed."""
        return any(_is_needed(uses, may_be, one) for one in (thing, *_within(held, thing)))

    def _good(
        self, thing: Subject, held: Mapping[str | None, list[Subject]], keys: Mapping[str, tuple[object, ...]]
    ) -> int | None:
        """The number of the good that a thing in a pack is; None for what is not planned."""
        if thing.starts is not Level.STERILE:
            self.aside.append((thing.title, "is not sterile and does not go into a sterile pack"))
            return None
        key, inside = keys[thing.name.value], list(_within(held, thing))
        if key not in self.goods:
            size = sum(one.count for one in inside if one.kind is Kind.ITEM) or 1
            sharp = any(one.sharp for one in (thing, *inside))
            self.goods[key] = Good(thing.title, size, sharp, any(one.reusable for one in (thing, *inside)))
            self.number[key] = len(self.number)
        return self.number[key]

    def _pack(
        self, pack: Subject, held: Mapping[str | None, list[Subject]], keys: Mapping[str, tuple[object, ...]]
    ) -> int:
        """The number of a pack of today: one across protocols if title and content are the same."""
        holds: dict[int, int] = {}
        for thing in held.get(pack.name.value, ()):
            good = self._good(thing, held, keys)
            if good is not None:
                holds[good] = holds.get(good, 0) + thing.count
        key = (" ".join(pack.title.casefold().split()), tuple(sorted(holds.items())))
        self.packs.setdefault(key, Pack(pack.title, holds))
        return list(self.packs).index(key)


def _keys(held: Mapping[str | None, list[Subject]]) -> Iterator[tuple[str, tuple[object, ...]]]:
    """What makes each thing directly in a pack the same as one of another protocol, by its name."""
    seen: dict[tuple[object, ...], int] = {}
    for pack in held.get(None, ()):
        for thing in held.get(pack.name.value, ()):
            inside = tuple((one.title.casefold(), one.count) for one in _within(held, thing))
            key: tuple[object, ...] = (
                *(" ".join(thing.title.casefold().split()), thing.kind, thing.sharp, thing.sharps, thing.reusable),
                *(thing.worn_on, thing.fluid_proof, thing.hazard, thing.counted, inside),
            )
            seen[key] = seen.get(key, 0) + 1
            yield thing.name.value, (*key, seen[key])


def _within(held: Mapping[str | None, list[Subject]], pack: Subject) -> Iterator[Subject]:
    """Everything in a pack, at any depth."""
    for thing in held.get(pack.name.value, ()):
        yield thing
        yield from _within(held, thing)


def _is_needed(uses: Uses, may_be: frozenset[int], thing: Subject) -> bool:
    return any(step in may_be for step in uses.needed.get(thing.name.value, ()))
