"""Many clinics side by side for a terminal: who is who, the table who deviates where, and what is common."""

from __future__ import annotations

from collections.abc import Iterator

from ...checks.words import folded, listed, quoted
from ...reports.terminal import harmless, width
from .as_text import LIMITS, counted, missed
from .fleet import Cell, Common, Family, Fleet, Member, Row

SIGNS = {"looser": "L", "stricter": "S", "neutral": "N", "settled": "C", "left out": "X"}
"""What stands for a grade in the table."""
LEGEND = (
    "L looser, S stricter, N neutral, C choice settled, X protocol left out, ! expired, . as shared, - does not have it"
)
_MOST_REASONS = 4


def text_fleet(fleet: Fleet) -> str:
    """All clinics of a fleet as text."""
    lines: list[str] = []
    for family in fleet.families:
        lines += [*_family(family, fleet.percent), ""]
    if fleet.others:
        lines += ["Not compared", *(f"  {one.folder}: {one.why}" for one in fleet.others), ""]
    if not fleet.families:
        lines += ["No clinic that can be compared.", ""]
    return "\n".join([*map(harmless, lines), LIMITS]) + "\n"


def _family(family: Family, percent: int) -> Iterator[str]:
    count = len(family.members)
    yield f"{family.baseline}: {count} {'clinic' if count == 1 else 'clinics'}"
    for number, member in enumerate(family.members, start=1):
        yield from _member(number, member)
    yield ""
    if family.rows:
        wide = max(width(harmless(row.named)) for row in family.rows)
        yield f"{'Where':{wide}}  {'  '.join(f'{number:>2}' for number in range(1, count + 1))}"
        yield from (_row(row, family, wide) for row in family.rows)
        yield f"({LEGEND})"
    else:
        yield "No clinic deviates in anything that is listed."
    yield ""
    if family.common:
        yield f"So common that the shared text should look at it ({percent}% of the clinics that have it, 2 at least):"
        for one in family.common:
            yield from _common(one)
    else:
        yield f"Nothing is done alike by {percent}% of the clinics that have it, and by 2 at least."


def _member(number: int, member: Member) -> Iterator[str]:
    drift = member.drift
    assert drift is not None
    yield f"  {number:>2}  {member.folder}: {drift.clinic}, on version {drift.version}. {counted(drift)}"
    for one in drift.missed:
        yield f"      not taken into account: {missed(one)}"
    for protocol in drift.in_state("unreadable"):
        yield f"      cannot be read, so that nothing is known of it: {protocol.id}"


def _row(row: Row, family: Family, wide: int) -> str:
    signs = (_sign(row.cells.get(one.folder), away=one.folder in row.away) for one in family.members)
    name = harmless(row.named)
    return f"{name}{' ' * (wide - width(name))}  {'  '.join(signs)}".rstrip()


def _sign(cell: Cell | None, *, away: bool) -> str:
    if cell is None:
        return " -" if away else " ."
    return f"{SIGNS[cell.grade]}!" if cell.expired else f" {SIGNS[cell.grade]}"


def told(one: Common) -> str:
    """What is done alike, in a few words."""
    name = quoted(one.name)
    kinds = {
        "set": f"step {name} is changed",
        "drop": f"step {name} is left out",
        "add": f"a step such as {name} is added",
        "thing": f"thing {name} is other",
        "new-thing": f"thing {name} is new",
        "settled": f"the choice {name} is settled",
        "left-out": "the protocol is left out",
    }
    return f"{one.protocol}: {kinds[one.kind]}" if one.protocol else kinds[one.kind]


def _common(one: Common) -> Iterator[str]:
    yield f"  [{one.grade}] {told(one)}: {len(one.folders)} of {one.of} ({listed(one.folders, most=6)})"
    for field, before, after in one.fields:
        if field:
            yield f"      {field} was: {before or '-'}"
            yield f"      {field} is:  {after or '-'}"
        elif one.kind in ("settled", "add", "new-thing"):
            yield f"      {after}"
    yield from (f"      because: {folded(reason, 200)}" for reason in one.reasons[:_MOST_REASONS])
    if len(one.reasons) > _MOST_REASONS:
        yield f"      and {len(one.reasons) - _MOST_REASONS} more reasons"
    if one.grade == "looser":
        yield "      It is looser: that many do it does not make it right."
