"""What becomes of an entry about a thing when a newer baseline is taken in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ..language.model import Clinic, Kind, Level, Protocol, Subject
from ..language.names import listed, quoted
from ..language.tailoring_fields import bare
from ..language.things import attribute_of, with_attributes
from .entries import Entry
from .fate import CHANGED, REASONS, SAME, UNSAID, Fate, Met, Row, nearest

Protocols = Mapping[str, Protocol]


def met_thing(entry: Entry, before: Protocols, now: Protocols, ours: Protocols, clinic: Clinic | None) -> Met:
    """What becomes of an entry about a thing, from the protocols of the baseline before and now and those here."""
    thing = entry.thing
    assert thing is not None
    if thing.new_in:
        return _new_thing(entry, [one.value for one in thing.new_in], (before, now, ours))
    if thing.surface and clinic is not None and entry.target in {one.name.value for one in clinic.surfaces}:
        return Met(entry, Fate.FITS, "a surface of your own clinic.yaml")
    old, new = _things(before, entry), _things(now, entry)
    if not new:
        if not old:
            return Met(entry, Fate.FITS, "it is about a thing of your own")
        told = f"no {'surface' if thing.surface else 'item or pack'} is called {quoted(entry.target)} any more"
        return Met(
            entry, Fate.LOST, told + nearest(entry.target, (name for one in now.values() for name in one.subjects))
        )
    given = with_attributes(next(iter(new.values())), thing.node)
    fields = [one.key.value for one in thing.node.entries if one.key.value not in REASONS]
    rows, needless = [], []
    for field in fields:
        was = {name: _shown(attribute_of(one, field)) for name, one in old.items()}
        there = {name: _shown(attribute_of(one, field)) for name, one in new.items()}
        mine = _shown(attribute_of(given, field))
        if {*there.values()} == {mine}:
            needless.append(field)
        elif any(value != was.get(name, value) for name, value in there.items()) or not {*there.values()} <= {
            *was.values()
        }:
            rows.append(Row(field, _joined(was) or "no such thing", _joined(there), mine))
    if len(needless) == len(fields):
        return Met(entry, Fate.NEEDLESS, SAME, needless=tuple(needless))
    if rows:
        return Met(entry, Fate.MEETS, CHANGED, tuple(rows), (), tuple(needless))
    return Met(entry, Fate.FITS, "the thing is still there", needless=tuple(needless))


def _new_thing(entry: Entry, homes: Sequence[str], sides: tuple[Protocols, Protocols, Protocols]) -> Met:
    """What becomes of a thing that the adopted text of some protocols did not have."""
    before, now, ours = sides
    gone = [name for name in homes if name in before and name not in now]
    if gone:
        return Met(entry, Fate.LOST, f"the newer baseline has no protocol {quoted(gone[0])}" + nearest(gone[0], now))
    there = {
        name: now[name].subjects[entry.target] for name in homes if name in now and entry.target in now[name].subjects
    }
    if not there:
        return Met(entry, Fate.FITS, "the baseline still has no such thing")
    told = f"the baseline has a thing called {quoted(entry.target)} of its own now, in {listed(there, 'and')}"
    mine = [ours[name].subjects.get(entry.target) for name in there if name in ours]
    same = bool(mine) and all(bare(one) == bare(mine[0]) for one in (*mine, *there.values()))
    return Met(entry, Fate.NEEDLESS if same and len(there) == len(homes) else Fate.MEETS, told)


def _joined(values: Mapping[str, str]) -> str:
    return " or ".join(sorted({*values.values()}))


def _shown(value: object) -> str:
    if isinstance(value, Level):
        return value.word
    if isinstance(value, bool):
        return "yes" if value else "no"
    return UNSAID if value in (None, "") else str(value)


def _things(side: Protocols, entry: Entry) -> dict[str, Subject]:
    """By protocol, the things an entry is about."""
    surface = entry.thing is not None and entry.thing.surface
    kinds = (Kind.SURFACE,) if surface else (Kind.ITEM, Kind.PACK)
    found = {name: one.subjects[entry.target] for name, one in side.items() if entry.target in one.subjects}
    return {name: thing for name, thing in found.items() if thing.kind in kinds}
