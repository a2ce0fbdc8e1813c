"""Entries of tailoring.yaml as changes of the adopted text itself, to be offered to those who keep it.

Pure: files go in and come out as bytes by the path that findings show. Every change is tried: with it in the adopted
text, and the entry left out, the set asks the same of everybody.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from ..checks.deviations import Graded, grades_of
from ..language.build import build_set
from ..language.editing import CannotEditError
from ..language.leaving_out import without_steps
from ..language.model import Phase, ProtocolSet, Step
from ..language.names import listed, near, quoted
from ..language.schemas import schema
from ..language.tailored import Upstream
from ..language.tailoring import fields_of, read_tailoring
from ..language.tailoring_fields import bare
from ..language.written_fields import written_field
from ..language.yaml_nodes import Document, Plain, plain
from ..language.yaml_reader import read_yaml
from .entries import Entry, entries_of
from .offering_things import with_thing
from .originals import edited_files
from .rewriting import changed, with_field, with_line, without_field, without_line
from .same import differences
from .unbinding import Line, as_written, line_at

Files = Mapping[str, bytes]
PLAIN = b"baseline: {name: x, version: 0.0.0}\n"
"""A tailoring.yaml that changes nothing."""
_ORDER = ("after", "waits", "within", "repeat")
_UNREAD = ("bad-yaml", "bad-shape", "unknown-name", "taken-name", "order-loop")
_OWN = {
    "role": "what a role is called is each clinic's own, and stands in its clinic.yaml",
    "choice": "that a choice is settled concerns this clinic alone",
    "leave-out": "that a protocol is not used concerns this clinic alone",
    "own": "a protocol of your own is a file that you can send as it is",
}


class CannotOfferError(Exception):
    """Nothing can be offered; says why and what to do, for people."""


@dataclass(frozen=True, slots=True)
class Offered:
    """An entry that the patch holds, and the other protocols that it changes as well."""

    entry: Entry
    also: tuple[str, ...]
    grade: Graded | None
    """What it does to those it protects; None for an entry that changes nothing here."""


@dataclass(slots=True)
class Offer:
    """What can be offered, what not and why, and the adopted files before and with it by their path in the set."""

    before: dict[str, bytes]
    after: dict[str, bytes]
    offered: list[Offered] = field(default_factory=list)
    refused: list[tuple[str, str]] = field(default_factory=list)


def offered_of(files: Files, folder: str, names: Collection[str] = ()) -> Offer:
    """The entries named, or all that concern the adopted text, as changes of that text.

    ``files`` are those of the set, ``folder`` is the set's folder in their paths. Raises CannotOfferError if the set
    was not adopted, was edited or cannot be read as meant, or if a name is that of no entry.
    """
    tailoring = f"{folder}/tailoring.yaml" if folder else "tailoring.yaml"
    whole = build_set(files, folder)
    upstream, document = _readable(files, tailoring, whole)
    chosen = _chosen(entries_of(document, read_tailoring(document, [])), names)
    shared = {name: f"{folder}/{name}" if folder else name for name in upstream.digests}
    offering = _Offering(dict(files), folder, tailoring, document, whole, frozenset(shared.values()))
    result = Offer({name: files[path] for name, path in shared.items()}, {})
    for entry in chosen:
        try:
            result.offered.append(Offered(entry, offering.take(entry), _grade(entry, whole)))
        except CannotEditError as error:
            result.refused.append((entry.name, str(error)))
    result.after = {name: offering.files[path] for name, path in shared.items()}
    return result


def _grade(entry: Entry, whole: ProtocolSet) -> Graded | None:
    assert whole.tailoring is not None
    for one in whole.tailoring.deviations:
        if (one.what, one.protocol, one.name.value) == (entry.kind, entry.protocol, entry.target):
            return grades_of(one)[0]
    return None


def _readable(files: Files, tailoring: str, whole: ProtocolSet) -> tuple[Upstream, Document]:
    """Where the set came from, and its tailoring.yaml, if both can be read and no adopted file was edited."""
    if whole.upstream is None or tailoring not in files:
        raise CannotOfferError("this set was not adopted from another: it has no upstream.yaml and tailoring.yaml")
    for problem in whole.problems:
        if problem.rule in _UNREAD:
            raise CannotOfferError(f"{problem.span.path} line {problem.span.line}: {problem.message}; mend that first")
    edited = edited_files(whole.upstream)
    if edited:
        raise CannotOfferError(f"{listed(edited, 'and')} was edited here; run stepfield tailor first")
    gone = [name for name in whole.upstream.digests if name not in whole.upstream.found]
    if gone:
        raise CannotOfferError(f"{listed(gone, 'and')} of the adopted set is not there; put it back first")
    document = read_yaml(files[tailoring], tailoring).document
    assert document is not None
    return whole.upstream, document


def _chosen(entries: Sequence[Entry], names: Collection[str]) -> list[Entry]:
    known = {one.name: one for one in entries}
    # A dot between protocol and step is as good.
    names = [name if name in known else name.replace(".", "/", 1) for name in names]
    for name in names:
        if name not in known:
            close = near(name, known)
            told = f"the nearest: {', '.join(close)}" if close else f"its entries: {', '.join(known) or 'none'}"
            raise CannotOfferError(f"tailoring.yaml has no entry {quoted(name)}; {told}")
    return [known[name] for name in dict.fromkeys(names)] or [one for one in entries if one.kind not in _OWN]


@dataclass(frozen=True, slots=True)
class Tried:
    """The set with one more change in the adopted text, and the other adopted protocols that it changes."""

    made: ProtocolSet
    also: tuple[str, ...]


@dataclass(slots=True)
class _Offering:
    """The files with what is offered so far, and ``whole``, what comes of them; ``shared`` are the adopted files."""

    files: dict[str, bytes]
    folder: str
    tailoring: str
    document: Document
    whole: ProtocolSet
    shared: frozenset[str]
    taken: list[Entry] = field(default_factory=list)

    def take(self, entry: Entry) -> tuple[str, ...]:
        """Brings one entry into the adopted text; the other protocols that are changed by it.

        Raises CannotEditError, and leaves everything as it was, if that cannot be done.
        """
        if entry.kind in _OWN:
            raise CannotEditError(_OWN[entry.kind])
        reason = ""
        for change in self._ways(entry):
            files = change()
            told = self._tried(entry, files)
            if isinstance(told, Tried):
                self.files, self.whole = files, told.made
                self.taken.append(entry)
                return told.also
            reason = reason or told
        raise CannotEditError(reason)

    def _ways(self, entry: Entry) -> Iterator[Callable[[], dict[str, bytes]]]:
        """The ways of writing an entry into the text, the plainest first."""
        if entry.thing is not None:
            thing = entry.thing
            yield lambda: with_thing(self.files, self._plain(), thing, self.shared)
        elif entry.kind == "set":
            yield lambda: self._set(entry)
        elif entry.kind == "add":
            yield lambda: self._added(entry)
        else:
            yield lambda: self._without(entry, whole=False)
            yield lambda: self._without(entry, whole=True)

    def _tried(self, entry: Entry, files: dict[str, bytes]) -> Tried | str:
        """What the set is with the change in the adopted text; or why it would not ask the same without the entry."""
        made = build_set({**files, self.tailoring: self._left([*self.taken, entry])}, self.folder)
        adopted = build_set({**files, self.tailoring: PLAIN}, self.folder)
        for problem in (*made.problems, *adopted.problems):
            if problem.rule in _UNREAD:
                return f"the adopted text would not be right with it: {problem.message}"
        for one in differences(self.whole, made, {}):
            if not one.kept and (entry.protocol is None or one.protocol in (None, entry.protocol)):
                return f"in the adopted text it would not say the same: {one.message}"
        others = (one.protocol for one in differences(self._plain(), adopted, {}) if not one.kept)
        also = dict.fromkeys(name for name in others if entry.protocol is not None and name != entry.protocol)
        return Tried(made, tuple(map(str, also)))

    def _left(self, gone: list[Entry]) -> bytes:
        """A tailoring.yaml without some entries."""
        whole = self.document.plain()
        assert isinstance(whole, dict)
        numbers = {one.route[1] for one in gone if one.written is not None}
        changes = whole.get("changes") or []
        assert isinstance(changes, list)
        whole["changes"] = [one for number, one in enumerate(changes) if number not in numbers]
        for entry in gone:
            if entry.thing is not None:
                things = whole[str(entry.route[0])]
                assert isinstance(things, dict)
                del things[str(entry.route[1])]
        return json.dumps(whole, ensure_ascii=False).encode()

    def _plain(self) -> ProtocolSet:
        return build_set({**self.files, self.tailoring: PLAIN}, self.folder)

    def _phases(self, entry: Entry) -> tuple[Phase, ...]:
        """The adopted steps of the entry's protocol, with parts unfolded."""
        found = self._plain().tailoring
        phases = None if found is None else found.adopted.get(entry.protocol or "")
        if phases is None:
            raise CannotEditError(f"there is no protocol {quoted(str(entry.protocol))}")
        return phases

    def _step(self, entry: Entry, name: str) -> Step:
        found = next((one for phase in self._phases(entry) for one in phase.steps if one.id.value == name), None)
        if found is None:
            raise CannotEditError(f"{quoted(str(entry.protocol))} has no step {quoted(name)}, or has it no more")
        return found

    def _line(self, step: Step) -> Line:
        line = line_at(self.files, step.span)
        if line.path not in self.shared:
            raise CannotEditError(f"{line.path} is a file of your own, which you can send as it is")
        return line

    def _set(self, entry: Entry) -> dict[str, bytes]:
        assert entry.written is not None
        assert entry.written.node is not None
        step = self._step(entry, entry.target)
        line = self._line(step)
        given = fields_of(entry.written.node, step.id, step.role, [])
        written = as_written(self.files, step, given)
        values: dict[str, Plain] = {name.value: None for name in entry.written.fields}
        for one in entry.written.node.entries:
            values[one.key.value] = plain(one.value) if step.part is None else written_field(written, one.key.value)
        return _with_values(self.files, line, values)

    def _added(self, entry: Entry) -> dict[str, bytes]:
        written = entry.written
        assert written is not None
        assert written.anchor is not None
        value = self.document.at((*entry.route, "add"))
        assert value is not None
        step, anchor = plain(value), written.anchor.value
        assert isinstance(step, dict)
        steps = [one for phase in self._phases(entry) for one in phase.steps]
        inside = [one for one in steps if one.id.value == anchor or one.id.value.startswith(f"{anchor}.")]
        if not inside:
            raise CannotEditError(f"{quoted(anchor)}, which it is placed beside, is not in the adopted text")
        beside = inside[0 if written.before else -1]
        if beside.part is None:
            line = self._line(beside)
        else:
            use = beside.id.value.partition(".")[0]
            those = [one for one in steps if one.id.value.startswith(f"{use}.")]
            if beside is not those[0 if written.before else -1]:
                part = f"inside the part {quoted(str(beside.part))}"
                raise CannotEditError(f"{quoted(anchor)} stands {part}, and it would come wherever that part is used")
            line = line_at(self.files, beside.used_at[0])
        return changed(
            self.files, line.path, lambda text: with_line(text, line.path, line.route, step, behind=not written.before)
        )

    def _without(self, entry: Entry, *, whole: bool) -> dict[str, bytes]:
        """The text without a step; with ``whole``, others say by name what they came after through it."""
        phases, step = self._phases(entry), self._step(entry, entry.target)
        line = self._line(step)
        left = {one.id.value: one for phase in without_steps(phases, {entry.target: step.span}) for one in phase.steps}
        files = changed(self.files, line.path, lambda text: without_line(text, line.path, line.route))
        for old in (one for phase in phases for one in phase.steps):
            new = left.get(old.id.value)
            if new is None or bare(new) == bare(old):
                continue
            before, after = (as_written(self.files, old, one) for one in (old, new))
            values = {name: written_field(after, name) for name in _ORDER}
            if not whole:
                known = {name.value for name in before.after}
                values["after"] = [name.value for name in after.after if name.value in known]
            values = {name: value for name, value in values.items() if value != written_field(before, name)}
            # It stands elsewhere now that the step is gone.
            now = replace(self, files=files)
            files = _with_values(files, now._line(now._step(entry, old.id.value)), values)
        return files


def _with_values(files: Files, line: Line, values: Mapping[str, Plain]) -> dict[str, bytes]:
    """The files with fields of a step set; what is empty is left out."""
    order = [*schema("definitions")["$defs"]["step"]["properties"]]

    def change(text: str) -> str:
        for name, value in values.items():
            if value not in (None, [], {}, False):
                text = with_field(text, line.path, line.route, name, value, order)
            elif line.node.entry(name) is not None:
                text = without_field(text, line.path, line.route, name)
        return text

    return changed(files, line.path, change)
