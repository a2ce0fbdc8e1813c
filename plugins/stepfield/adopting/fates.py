"""What becomes of each entry of tailoring.yaml when a newer baseline is taken in."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from ..changes.matching import Matching, match
from ..language.editing import in_flow
from ..language.model import Protocol, ProtocolSet, Step
from ..language.names import listed, quoted
from ..language.tailoring import fields_of
from ..language.tailoring_fields import field_of, with_fields
from ..language.written_fields import written_field
from .entries import Entry
from .fate import ALL, CHANGED, SAME, UNSAID, WORDS, Fate, Met, Row, nearest
from .fates_of_things import met_thing

SUCCEEDS = 0.3
"""Which share of a protocol's steps another must have, from 0 to 1, to be told as what became of it."""


@dataclass(frozen=True, slots=True)
class Texts:
    """The baseline before and now, both without local changes, and the set as it is here.

    ``tried`` is the newer baseline with the entries as they stand. ``same`` are the clinic's own protocols that the
    newer baseline has word for word.
    """

    before: ProtocolSet
    now: ProtocolSet
    ours: ProtocolSet
    tried: ProtocolSet
    same: frozenset[str] = frozenset()


def fates(entries: Iterable[Entry], texts: Texts) -> tuple[Met, ...]:
    """What becomes of each entry."""
    teller = _Teller(texts)
    return tuple(teller.met(entry) for entry in entries)


class _Teller:
    def __init__(self, texts: Texts) -> None:
        self.texts = texts
        self.before = {one.id: one for one in texts.before.protocols}
        self.now = {one.id: one for one in texts.now.protocols}
        self.ours = {one.id: one for one in texts.ours.protocols}
        self.matchings: dict[str, Matching] = {}

    def met(self, entry: Entry) -> Met:
        """What becomes of an entry."""
        was = any(entry.holds(problem) for problem in self.texts.ours.problems)
        lost = next((problem.message for problem in self.texts.tried.problems if entry.holds(problem)), None)
        if was:
            if lost is None:
                return Met(entry, Fate.FITS, "it had no effect before, and takes effect now")
            return Met(entry, Fate.LOST_BEFORE, lost)
        found = self._judged(entry)
        if found.fate is Fate.FITS and lost is not None and not found.needless:
            return Met(entry, Fate.LOST, lost)
        return found

    def _judged(self, entry: Entry) -> Met:
        if entry.kind == "role":
            return Met(entry, Fate.FITS, "a role of your own clinic.yaml")
        if entry.kind == "own":
            same = entry.target in self.texts.same
            why = "the baseline has this protocol now, word for word" if same else "your own protocol"
            return Met(entry, Fate.NEEDLESS if same else Fate.FITS, why)
        if entry.thing is not None:
            return met_thing(entry, self.before, self.now, self.ours, self.texts.ours.clinic)
        assert entry.protocol is not None
        if entry.protocol not in self.before and entry.protocol not in self.now:
            return Met(entry, Fate.FITS, "it is about a protocol of your own")
        if entry.protocol not in self.now:
            return self._without_protocol(entry)
        if entry.kind == "leave-out":
            return Met(entry, Fate.FITS, "the protocol is still left out here")
        if entry.protocol not in self.before:
            return Met(entry, Fate.FITS, "the protocol is new in the baseline")
        if entry.kind == "choice":
            return self._choice(entry)
        return {"set": self._set, "drop": self._drop, "add": self._add}[entry.kind](entry)

    def _without_protocol(self, entry: Entry) -> Met:
        protocol = entry.protocol or ""
        told = f"the newer baseline has no protocol {quoted(protocol)}"
        heirs = self._heirs(protocol)
        if heirs:
            told += f"; its steps are now in {listed(heirs, 'and')}"
            homes = [name for name in heirs if _step(self.now[name], entry.target) is not None]
            if homes and entry.kind in ("set", "drop", "add"):
                told += f", and {quoted(entry.target)} is in {listed(homes, 'and')}"
        elif entry.kind == "leave-out":
            return Met(entry, Fate.NEEDLESS, f"{told}: there is nothing to leave out")
        else:
            told += nearest(protocol, self.now)
        return Met(entry, Fate.LOST, told)

    def _heirs(self, protocol: str) -> list[str]:
        """New protocols that have a good share of the steps of one that is gone."""
        old = {step.id.value for step in self.before[protocol].steps} if protocol in self.before else set()
        shares = {
            name: len(old & {step.id.value for step in one.steps}) / len(old)
            for name, one in self.now.items()
            if name not in self.before and old
        }
        return sorted((name for name, share in shares.items() if share >= SUCCEEDS), key=lambda name: -shares[name])

    def _choice(self, entry: Entry) -> Met:
        options = []
        for side in (self.before, self.now):
            known = {choice.id.value: choice for choice in side[entry.protocol or ""].choices}
            found = known.get(entry.target)
            options.append([] if found is None else [name.value for name, _ in found.options])
            if found is None and side is self.now:
                told = f"{quoted(entry.protocol or '')} has no choice {quoted(entry.target)} any more"
                return Met(entry, Fate.LOST, told + nearest(entry.target, known))
        if entry.option not in options[1]:
            told = f"the choice {quoted(entry.target)} has no option {quoted(entry.option or '')} any more"
            return Met(entry, Fate.LOST, told + nearest(entry.option or "", options[1]))
        row = Row("options", in_flow([*options[0]]), in_flow([*options[1]]), entry.option or "")
        return Met(entry, Fate.FITS, "the choice is still there", beside=(row,) if options[0] != options[1] else ())

    def _set(self, entry: Entry) -> Met:
        old, new = self._both(entry)
        written = entry.written
        assert written is not None
        assert written.node is not None
        if old is None or new is None:
            return self._without_step(entry)
        fields = [name.value for name in written.fields]
        given = with_fields(new, fields_of(written.node, new.id, new.role, []), fields)
        needless = tuple(name for name in fields if field_of(given, name) == field_of(new, name))
        if len(needless) == len(fields):
            return Met(entry, Fate.NEEDLESS, SAME, needless=needless, now=new)
        held = dict.fromkeys([*fields, *(name.value for name in written.expects)])
        differing = {row.field: row for row in _rows(old, new, given, fields)}
        rows = tuple(differing.pop(name) for name in held if name in differing and name not in needless)
        beside = tuple(row for row in differing.values() if row.field not in needless)
        if rows:
            return Met(entry, Fate.MEETS, CHANGED, rows, beside, needless, new)
        return Met(entry, Fate.FITS, _beside(beside, needless), (), beside, needless, new)

    def _drop(self, entry: Entry) -> Met:
        old, new = self._both(entry)
        if new is None or old is None:
            if entry.target in self._matching(entry).names:
                return self._without_step(entry)
            return Met(entry, Fate.NEEDLESS, "the baseline does without this step now")
        rows = tuple(replace(row, ours="left out") for row in _rows(old, new, new, ()))
        if any(row.field not in WORDS for row in rows):
            return Met(entry, Fate.MEETS, "the baseline has changed the step that is left out here", rows, now=new)
        return Met(entry, Fate.FITS, _beside(rows, ()), beside=rows, now=new)

    def _add(self, entry: Entry) -> Met:
        written = entry.written
        assert written is not None
        assert written.step is not None
        assert written.anchor is not None
        protocol = self.now[entry.protocol or ""]
        new = _step(protocol, entry.target)
        if new is None:
            new = self._alike(entry)
        if new is not None:
            mine = written.step
            rows = tuple(replace(row, before="no such step") for row in _rows(mine, new, mine, ALL))
            if not rows and new.id.value == entry.target:
                return Met(entry, Fate.NEEDLESS, "the baseline has the same step now")
            told = f"the baseline has a step {quoted(new.id.value)} of its own now, which may be the one added here"
            return Met(entry, Fate.MEETS, told, rows, now=new)
        anchor = written.anchor.value
        name = self._matching(entry).names.get(anchor, anchor)
        if name != anchor and _step(protocol, anchor) is None:
            told = f"{quoted(anchor)}, beside which it stands, is called {quoted(name)} now"
            return Met(entry, Fate.LOST, f"{told}: write `place: {{…: {name}}}`")
        return Met(entry, Fate.FITS, "its place is still there")

    def _alike(self, entry: Entry) -> Step | None:
        """The step, new in the baseline, that looks like the one added here under another name."""
        name = entry.protocol or ""
        if name not in self.ours:
            return None
        there = match(self.ours[name], self.now[name]).names.get(entry.target)
        known = {step.id.value for step in self.before[name].steps}
        return None if there is None or there in known else _step(self.now[name], there)

    def _without_step(self, entry: Entry) -> Met:
        protocol = self.now[entry.protocol or ""]
        told = f"{quoted(protocol.id)} has no step {quoted(entry.target)} any more"
        name = self._matching(entry).names.get(entry.target)
        homes = [one.id for one in self.now.values() if one is not protocol and self._moved(entry, one)]
        if name is not None and name != entry.target:
            told += f"; it is called {quoted(name)} now"
        elif homes:
            told += f"; it is in {listed(homes, 'and')} now"
        else:
            told += nearest(entry.target, [step.id.value for step in protocol.steps])
        return Met(entry, Fate.LOST, told)

    def _moved(self, entry: Entry, other: Protocol) -> bool:
        """Whether a step came into another protocol with the newer baseline."""
        before = self.before.get(other.id)
        return _step(other, entry.target) is not None and (before is None or _step(before, entry.target) is None)

    def _both(self, entry: Entry) -> tuple[Step | None, Step | None]:
        name = entry.protocol or ""
        return _step(self.before[name], entry.target), _step(self.now[name], entry.target)

    def _matching(self, entry: Entry) -> Matching:
        name = entry.protocol or ""
        if name not in self.matchings:
            self.matchings[name] = match(self.before[name], self.now[name])
        return self.matchings[name]


def _rows(old: Step, new: Step, ours: Step, mine: Iterable[str]) -> Iterator[Row]:
    """The fields in which two texts of a step differ; ``mine`` are those that are set here."""
    own = set(mine)
    for field in ALL:
        if field_of(old, field) != field_of(new, field):
            shown = _written(ours, field) if field in own else "as the baseline"
            yield Row(field, _written(old, field), _written(new, field), shown)


def _written(step: Step, field: str) -> str:
    value = written_field(step, field)
    return UNSAID if value in (None, [], {}) else in_flow(value)


def _step(protocol: Protocol, name: str) -> Step | None:
    return next((step for step in protocol.steps if step.id.value == name), None)


def _beside(rows: tuple[Row, ...], needless: tuple[str, ...]) -> str:
    if needless:
        return f"the baseline says the same now in {listed(needless, 'and')}; the rest still differs"
    return "the baseline has changed other fields of the same step" if rows else "its step is as it was"
