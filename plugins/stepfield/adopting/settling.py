"""What is to become of entries that do not simply go on: decided by whoever catches up, and written into the text."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from ..language.names import listed, near, quoted
from ..language.written_fields import written_field
from ..language.yaml_nodes import Mapping, Route
from .entries import Entry
from .entry_text import TakenOut, Write
from .fate import REASONS, Fate, Met

EVERY = "all"
"""What stands for every entry that nothing else was said about and that somebody has to decide on."""


class UnknownEntryError(Exception):
    """An entry is named that is not there, or that is both to be kept and not; says which, for people."""


@dataclass(frozen=True, slots=True)
class Settled:
    """Names of the entries that go on as they are (``keep``), and of those the baseline replaces (``take``)."""

    keep: frozenset[str] = frozenset()
    take: frozenset[str] = frozenset()

    def of(self, met: Met) -> str | None:
        """Whether an entry is to be kept or the baseline taken: keep, take, or None as long as nobody has decided."""
        name = met.entry.name
        if name in self.keep or name in self.take:
            return "keep" if name in self.keep else "take"
        if met.asks:
            return "keep" if EVERY in self.keep else "take" if EVERY in self.take else None
        return "take" if met.fate is Fate.NEEDLESS else "keep"

    def check(self, met: Iterable[Met]) -> None:
        """Raises UnknownEntryError if what is named here is no entry, or is named for both."""
        known = [one.entry.name for one in met]
        for name in sorted({*self.keep, *self.take} - {*known, EVERY}):
            close = near(name, known)
            hint = f"the nearest is {listed(close)}" if close else f"there are: {', '.join(known) or 'none'}"
            raise UnknownEntryError(f"tailoring.yaml has no entry {quoted(name)}; {hint}")
        for name in sorted(self.keep & self.take):
            raise UnknownEntryError(f"{quoted(name)} is both to be kept and not; say one of them")


def edits_of(met: Met, decision: str | None, version: str) -> Iterator[TakenOut | Write]:
    """The changes in the text of tailoring.yaml that carry a decision out; none where the entry stays as it is."""
    if decision == "take" and met.fate is not Fate.FITS and met.entry.kind in ("set", "thing"):
        yield from _without_fields(met, version)
    elif decision == "take":
        yield TakenOut(met.entry.route, _note(met, version))
    elif met.entry.kind == "set" and met.fate in (Fate.FITS, Fate.MEETS):
        yield from _expecting(met, version)


def _without_fields(met: Met, version: str) -> Iterator[TakenOut | Write]:
    """The entry without the fields in which the baseline has its way; without any other, the whole entry."""
    written, thing, route = met.entry.written, met.entry.thing, met.entry.route
    gone = {*met.needless, *(row.field for row in met.rows)}
    fields = set(_routes(met.entry))
    if met.fate is Fate.LOST or fields <= gone or not gone <= fields or (thing is not None and thing.new_in):
        yield TakenOut(route, _note(met, version))
        return
    yield from (TakenOut(_routes(met.entry)[name], _note(met, version)) for name in sorted(gone))
    if written is not None:
        yield from _out_of_expects(met, {name.value for name in written.expects} & gone, version)


def _expecting(met: Met, version: str) -> Iterator[TakenOut | Write]:
    """The entry as it is, now expecting what the newer baseline says; without what is needless."""
    written = met.entry.written
    assert written is not None
    expected = {name.value for name in written.expects}
    said = {row.field: written_field(met.now, row.field) for row in met.rows if met.now is not None}
    unsaid = {name for name in expected if name in said and said[name] is None}
    yield from (TakenOut(_routes(met.entry)[name], _note(met, version)) for name in met.needless)
    for name in sorted(expected & said.keys() - unsaid):
        yield Write((*met.entry.route, "expects", name), said[name])
    yield from _out_of_expects(met, expected & ({*met.needless} | unsaid), version)


def _routes(entry: Entry) -> dict[str, Route]:
    """Where each field that an entry sets or takes out stands."""
    if entry.thing is not None:
        keys = (one.key.value for one in entry.thing.node.entries)
        return {key: (*entry.route, key) for key in keys if key not in REASONS}
    written = entry.written
    assert written is not None
    assert written.node is not None
    given = [one.key.value for one in written.node.entries]
    cleared = [name.value for name in written.fields if name.value not in given]
    return {name: (*entry.route, "set", name) for name in given} | {
        name: (*entry.route, "clear", number) for number, name in enumerate(cleared)
    }


def _out_of_expects(met: Met, fields: set[str], version: str) -> Iterator[TakenOut]:
    written, route = met.entry.written, (*met.entry.route, "expects")
    if not fields:
        return
    assert written is not None
    assert isinstance(written.expected, Mapping)
    if fields == {name.value for name in written.expects}:
        yield TakenOut(route, f"No longer expected on catching up with {version}:")
    else:
        yield from (TakenOut((*route, name), f"No longer expected on catching up with {version}:") for name in fields)


def _note(met: Met, version: str) -> str:
    said = met.fate in (Fate.NEEDLESS, Fate.FITS)
    reason = "the baseline says the same" if said else "the baseline was taken"
    return f"Taken out on catching up with {version}, since {reason}:"
