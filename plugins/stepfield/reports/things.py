"""What a case or a day needs to have, in words, as JSON and as tables."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ..checks.clocks import time_of
from ..checks.words import Naming, folded, listed, quoted, sentence
from ..language.model import Day, Kind, Protocol
from ..planning.remarks import Remark
from ..planning.things import Fetched, Line, listing
from ..planning.uses import MOST_WAYS, Picked, Uses
from .tables import Cell, Table
from .terminal import harmless

CAUTION = (
    "What is listed is what the text names: nobody looked into a cupboard, and nothing else is known to be needed."
)


@dataclass(frozen=True, slots=True)
class Having:
    """One protocol with its lists, a list for each of ``ways``, and what strikes about its things."""

    uses: Uses
    naming: Naming
    ways: tuple[Picked, ...]
    remarks: tuple[Remark, ...]
    open_for: float

    @property
    def protocol(self) -> Protocol:
        """The protocol."""
        return self.uses.protocol


def having_text(having: Having) -> str:
    """The lists of a protocol, and what strikes about its things."""
    return "".join(f"{harmless(line)}\n" for line in _protocol_lines(having))


def _protocol_lines(having: Having) -> Iterator[str]:
    protocol = having.protocol
    yield f"{protocol.id}  {folded(protocol.title.value)}"
    for way in having.ways:
        yield ""
        yield f"With {_chosen(way)}:" if way else "Whatever is chosen:"
        yield from _list(having.uses, way)
    if having.uses.too_many:
        yield ""
        yield (
            f"There are more than {MOST_WAYS} combinations of the choices: what each needs, and what strikes with some "
            "of them only, was not worked out. Settle some with --choose."
        )
    yield ""
    if having.remarks:
        yield "Worth a look:"
        yield from (f"  - {remark_text(one, having.naming)}" for one in having.remarks)
    else:
        yield (
            "Nothing strikes: all that packs hold is used, all that is used can be had, no thing lies in two packs, "
            f"and by the times written no pack lies open for more than {time_of(having.open_for)} before its first use."
        )
    yield ""
    yield CAUTION


def _list(uses: Uses, way: Picked) -> Iterator[str]:
    lines = listing(uses, dict(way))
    if not lines:
        yield "  Nothing: no pack and no item is needed."
        return
    wide = max(2 * line.depth + len(_called(line)) for line in lines)
    for line in lines:
        title = " " * 2 * line.depth + _called(line)
        spare = f", {line.thing.spare} spare" if line.thing.spare else ""
        often = "" if line.certain else f"  ({_seldom(line, way)})"
        yield f"  {title:{wide}}  {line.thing.count}{spare}{often}"


def _called(line: Line) -> str:
    return folded(line.thing.title)


def _seldom(line: Line, way: Picked) -> str:
    if line.needed:
        return "only in some cases"
    return "not used with these choices" if way else "in no step"


def _chosen(way: Picked) -> str:
    return ", ".join(f"{choice}: {option}" for choice, option in way)


def remark_text(remark: Remark, naming: Naming) -> str:
    """A remark as a sentence, with what to do."""
    thing = naming.thing(remark.thing.name.value)
    pack = naming.thing(remark.thing.held_in) if remark.thing.held_in is not None else None
    ways = listed([_chosen(way) for way in remark.ways], "or", most=len(remark.ways))
    where = f" with {ways}" if ways else ""
    if remark.kind == "idle":
        how = "is counted and cleared away, but never used" if remark.counted else "is used by no step"
        told = f"{thing}, in {pack}, {how}: take it out of the pack, or add the step that uses it"
    elif remark.kind == "idle-here":
        told = f"{thing}, in {pack}, {thing.be} opened and not used{where}: a pack opened only where needed saves it"
    elif remark.kind == "pack-idle":
        told = f"{thing} {thing.be} opened{where or ' in every case'}, but nothing of it is needed then"
    elif remark.kind == "not-opened":
        told = f"{thing} {thing.be} used{where}, but no step opens {pack} then"
    elif remark.kind == "no-wrapper":
        told = (
            f"{thing} {thing.be} sterile from the start and in no pack: nothing says what has kept it so; put it into "
            "a pack and add the step that opens it"
        )
    elif remark.kind == "twice":
        assert remark.other is not None
        other = naming.thing(remark.other.held_in or "")
        told = (
            f"{thing}, in {pack}, {thing.be} called the same as {quoted(remark.other.name)} in {other}: if both are "
            "meant, give them titles that tell them apart"
        )
    else:
        least = "at least " if remark.at_least else ""
        by = f" that {quoted(remark.limit_of)} allows" if remark.limit_of is not None else ""
        open_for = f"{least}{time_of(round(remark.seconds))}"
        told = (
            f"{thing} {thing.be} open for {open_for} before anything of it is used{where}, "
            f"longer than the {time_of(remark.limit)}{by}: open it later"
        )
    return sentence(told)


@dataclass(frozen=True, slots=True)
class DayHaving:
    """A day with all that its cases need; ``titles`` are what its cases are, ``lost`` numbers those not readable."""

    day: Day
    titles: tuple[str, ...]
    lost: tuple[int, ...]
    fetched: tuple[Fetched, ...]


def day_text(having: DayHaving) -> str:
    """What to fetch for a day."""
    return "".join(f"{harmless(line)}\n" for line in _day_lines(having))


def _day_lines(having: DayHaving) -> Iterator[str]:
    yield f"{having.day.id}  {folded(having.day.title)}"
    for number, title in enumerate(having.titles, start=1):
        yield f"  Case {number}: {title}{' (cannot be read: not in the list)' if number in having.lost else ''}"
    packs = [one for one in having.fetched if one.thing.kind is Kind.PACK]
    for name, some in (("Packs", packs), ("In no pack", [one for one in having.fetched if one not in packs])):
        if not some:
            continue
        yield ""
        yield f"{name}:"
        wide = max(len(folded(one.thing.title)) for one in some)
        for one in some:
            spare = f", {one.spare} spare" if one.spare else ""
            perhaps = f"; only perhaps in {_cases(one.perhaps)}" if one.perhaps else ""
            yield f"  {folded(one.thing.title):{wide}}  {one.count}{spare}  ({_cases(one.cases)}{perhaps})"
    yield ""
    yield "Spares of what a pack holds stand beside the pack, counted for every case: one used up is not there twice."
    yield "What is reusable counts for each case: it is not back from reprocessing on the same day."
    yield CAUTION


def _cases(numbers: Sequence[int]) -> str:
    return f"{'case' if len(numbers) == 1 else 'cases'} {listed([str(one) for one in numbers], most=len(numbers))}"


def having_json(having: Having) -> str:
    """The same as JSON."""
    found = {
        "protocol": having.protocol.id,
        "lists": [
            {"choices": dict(way), "things": [_entry(line) for line in listing(having.uses, dict(way))]}
            for way in having.ways
        ],
        "complete": not having.uses.too_many,
        "remarks": [_remark_entry(one, having.naming) for one in having.remarks],
    }
    return json.dumps(found, indent=2) + "\n"


def _entry(line: Line) -> dict[str, Any]:
    return {
        "name": line.thing.name.value,
        "title": line.thing.title,
        "pack": line.thing.held_in,
        "is_pack": line.is_pack,
        "count": line.thing.count,
        "spare": line.thing.spare,
        "steps": [number + 1 for number in line.used],
        "needed": bool(line.needed),
        "in_any_case": line.certain,
    }


def _remark_entry(remark: Remark, naming: Naming) -> dict[str, Any]:
    found: dict[str, Any] = {
        "kind": remark.kind,
        "thing": remark.thing.name.value,
        "pack": remark.thing.held_in,
        "line": remark.thing.name.span.line,
        "path": remark.thing.name.span.path,
        "with": [dict(way) for way in remark.ways],
        "message": remark_text(remark, naming),
    }
    if remark.kind == "early":
        found |= {"seconds": remark.seconds, "limit": remark.limit, "requirement": remark.limit_of}
    return found


def day_json(having: DayHaving) -> str:
    """A day as JSON."""
    found = {
        "day": having.day.id.value,
        "cases": list(having.titles),
        "not_readable": list(having.lost),
        "things": [
            {
                "name": one.thing.name.value,
                "title": one.thing.title,
                "is_pack": one.thing.kind is Kind.PACK,
                "count": one.count,
                "spare": one.spare,
                "cases": list(one.cases),
                "perhaps": list(one.perhaps),
                "holds": [{"title": title, "count": count} for title, count in one.holds],
            }
            for one in having.fetched
        ],
    }
    return json.dumps(found, indent=2) + "\n"


def having_tables(having: Having) -> tuple[Table, ...]:
    """The lists of a protocol and its remarks as tables."""
    headings = ("With", "Thing", "Name", "In pack", "How many", "Spare", "In steps", "Used")
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (
            _chosen(way),
            line.thing.title,
            line.thing.name.value,
            line.thing.held_in or "",
            line.thing.count,
            line.thing.spare,
            ", ".join(str(number + 1) for number in line.used),
            "always" if line.certain else _seldom(line, way),
        )
        for way in having.ways
        for line in listing(having.uses, dict(way))
    )
    told = tuple((one.kind, one.thing.name.value, remark_text(one, having.naming)) for one in having.remarks)
    return (
        Table("Things", headings, rows),
        *([Table("Worth a look", ("Kind", "Name", "What"), told)] if told else []),
    )


def day_tables(having: DayHaving) -> tuple[Table, ...]:
    """A day as a table."""
    headings = ("Thing", "Name", "Kind", "How many", "Spare", "Cases", "Only perhaps in", "Holds")
    rows = tuple(
        (
            one.thing.title,
            one.thing.name.value,
            one.thing.kind.value,
            one.count,
            one.spare,
            ", ".join(map(str, one.cases)),
            ", ".join(map(str, one.perhaps)),
            "; ".join(f"{count} {title}" for title, count in one.holds),
        )
        for one in having.fetched
    )
    return (Table(having.day.title or having.day.id.value, headings, rows),)


def case_title(title: str, choices: Mapping[str, str]) -> str:
    """What a case is, in words."""
    chosen = ", ".join(f"{choice}: {option}" for choice, option in choices.items())
    return f"{folded(title)}{f' ({chosen})' if chosen else ''}"
