"""Reading tailoring.yaml and upstream.yaml: what is to be changed, before it is known what it meets."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterator
from collections.abc import Mapping as Map
from dataclasses import dataclass, replace

from .model import Approval, Kind, Step
from .names import listed
from .schemas import fits
from .source import Problem, Span, Text
from .steps import read_lines
from .tailored import Reason, Upstream
from .values import day, entries, mappings, text, text_if, text_or, texts
from .yaml_nodes import Document, Entry, Mapping, Node, Scalar, Sequence
from .yaml_reader import read_yaml

_VERBS = {"set": "set", "clear": "set", "drop": "drop", "add": "add"}
"""By the key of an entry, what it does."""
_KINDS = {"surfaces": Kind.SURFACE, "packs": Kind.PACK, "items": Kind.ITEM}
"""Packs come before items, which may lie in them."""


@dataclass(frozen=True, slots=True)
class Written:
    """One entry under ``changes``.

    ``what`` is set, drop or add; ``name`` the step it is about. ``step`` holds the step that is added, or for a set
    nothing but the fields that are set. ``expects`` are the old fields in the same way. ``fields`` are those that are
    set and those that are taken out.
    """

    what: str
    protocol: Text
    name: Text
    span: Span
    reason: Reason
    fields: tuple[Text, ...] = ()
    node: Mapping | None = None
    expects: tuple[Text, ...] = ()
    expected: Mapping | None = None
    step: Step | None = None
    anchor: Text | None = None
    before: bool = False
    """Whether the added step comes before its anchor, and not after it."""


@dataclass(frozen=True, slots=True)
class Thing:
    """What is different in a thing, or a thing that the adopted text does not have.

    ``kind`` is SURFACE, ITEM (for items and packs that differ too) or PACK (for a new one).
    """

    name: Text
    node: Mapping
    reason: Reason
    kind: Kind
    new_in: tuple[Text, ...] = ()
    """The protocols it is new in; none for one that differs."""

    @property
    def surface(self) -> bool:
        """Whether it is a surface."""
        return self.kind is Kind.SURFACE


@dataclass(frozen=True, slots=True)
class Wishes:
    """Everything tailoring.yaml asks for, in written order."""

    path: str
    baseline: Text
    version: Text
    roles: tuple[tuple[Text, Text], ...]
    things: tuple[Thing, ...]
    choose: tuple[tuple[Text, tuple[tuple[Text, Text], ...]], ...]
    changes: tuple[Written, ...]
    leave_out: tuple[Text, ...]
    own: tuple[Text, ...]


def read_tailoring(document: Document, problems: list[Problem]) -> Wishes:
    """What a document that fits its schema asks for; entries that cannot be meant as they stand are noted."""
    root = document.root
    assert isinstance(root, Mapping)
    baseline = root.get("baseline")
    assert isinstance(baseline, Mapping)
    titles = ((entry.key, _title(entry)) for entry in entries(root.get("roles")))
    return Wishes(
        path=document.path,
        baseline=_must(baseline, "name"),
        version=_must(baseline, "version"),
        roles=tuple((role, title) for role, title in titles if title is not None),
        things=tuple(thing for key, kind in _KINDS.items() for thing in _things(root, key, kind, problems)),
        choose=tuple(
            (entry.key, tuple((choice.key, text(choice.value)) for choice in entries(entry.value)))
            for entry in entries(root.get("choose"))
        ),
        changes=tuple(_changes(root.get("changes"), problems)),
        leave_out=texts(root, "leave_out"),
        own=texts(root, "own"),
    )


def read_upstream(document: Document, files: Map[str, bytes], folder: str) -> Upstream:
    """Where the set came from, beside the digests of the files as they are now."""
    root = document.root
    assert isinstance(root, Mapping)
    prefix = f"{folder}/" if folder else ""
    digests = {entry.key.value: (entry.key, text(entry.value).value) for entry in entries(root.get("digests"))}
    inside = {path.removeprefix(prefix): data for path, data in sorted(files.items())}
    known = {digest for _, digest in digests.values()}
    return Upstream(
        path=document.path,
        name=_must(root, "name"),
        version=_must(root, "version"),
        digests=digests,
        found={path: _digest(data, known) for path, data in inside.items()},
    )


def adopted_in(files: Map[str, bytes], folder: str) -> frozenset[str]:
    """The files of a set that were adopted, as upstream.yaml says, by their path in the set's folder.

    None if there is no upstream.yaml, or none that can be read.
    """
    path = f"{folder}/upstream.yaml" if folder else "upstream.yaml"
    document = read_yaml(files[path], path).document if path in files else None
    if document is None or not fits("upstream", document.plain()):
        return frozenset()
    return frozenset(read_upstream(document, {}, folder).digests)


def digest_of(data: bytes) -> str:
    """The digest of a file's content as upstream.yaml writes it."""
    return f"sha256:{hashlib.sha256(data).hexdigest()}"


def _digest(data: bytes, known: Collection[str]) -> str:
    """The digest of a file; if one is known of it with the line ends of another system, that one."""
    plain = data.replace(b"\r\n", b"\n")
    same = (digest_of(other) for other in (plain, plain.replace(b"\n", b"\r\n")))
    found = digest_of(data)
    return found if found in known else next((digest for digest in same if digest in known), found)


def fields_of(node: Mapping, name: Text, role: Text | None, problems: list[Problem]) -> Step:
    """A step that has the fields of a mapping and, beside its name and role, nothing else."""
    given = {entry.key.value for entry in node.entries}
    own: list[tuple[Text, Text | None]] = [
        (Text("id", name.span), name),
        (Text("do", name.span), Text("-", name.span)),
        (Text("role", name.span), role),
    ]
    added = [Entry(key, Scalar(value.value, value.span)) for key, value in own if value and key.value not in given]
    (step,) = read_lines(Sequence((Mapping((*added, *node.entries), node.span),), node.span), problems)
    assert isinstance(step, Step)
    return step


def _changes(node: Node | None, problems: list[Problem]) -> Iterator[Written]:
    for change in mappings(node):
        protocol = _must(change, "protocol")
        verbs = {verb for key, verb in _VERBS.items() if change.entry(key)}
        if len(verbs) != 1:
            message = (
                "a change sets fields of a step, drops a step or adds one: one of these, and this one does "
                f"{'none' if not verbs else 'more'}"
            )
            hint = f"write one of {listed(dict.fromkeys(_VERBS.values()))} in each entry"
            problems.append(Problem("bad-shape", change.span, message, subject="changes", hint=hint))
            continue
        (verb,) = verbs
        reason, expected = _reason(change, problems), change.get("expects")
        if expected is not None and verb != "set":
            message = "only a change that sets fields can say what it expects in them"
            problems.append(Problem("bad-shape", expected.span, message, subject="expects", hint="take it out"))
        elif verb == "set":
            yield _set(change, protocol, reason)
        elif verb == "drop":
            name = _must(change, "drop")
            yield Written("drop", protocol, name, name.span, reason)
        elif (written := _add(change, protocol, reason, problems)) is not None:
            yield written


def _set(change: Mapping, protocol: Text, reason: Reason) -> Written:
    given, expected = change.get("set"), change.get("expects")
    node = given if isinstance(given, Mapping) else Mapping((), change.span)
    expects = tuple(entry.key for entry in entries(expected))
    fields = (*(entry.key for entry in node.entries), *texts(change, "clear"))
    return Written(
        what="set",
        protocol=protocol,
        name=_must(change, "step"),
        span=fields[0].span,
        reason=reason,
        fields=fields,
        node=node,
        expects=expects,
        expected=expected if isinstance(expected, Mapping) else None,
    )


def _add(change: Mapping, protocol: Text, reason: Reason, problems: list[Problem]) -> Written | None:
    node, place = change.get("add"), change.get("place")
    assert isinstance(node, Mapping)
    assert isinstance(place, Mapping)
    found: list[Problem] = []
    step = fields_of(node, _must(node, "id"), None, found)
    problems += [replace(problem, protocol=None) for problem in found]
    if found:
        return None
    where = place.entries[0]
    return Written(
        what="add",
        protocol=protocol,
        name=step.id,
        span=step.id.span,
        reason=reason,
        step=step,
        anchor=text(where.value),
        before=where.key.value == "before",
    )


def _things(root: Mapping, key: str, kind: Kind, problems: list[Problem]) -> Iterator[Thing]:
    for entry in entries(root.get(key)):
        assert isinstance(entry.value, Mapping)
        yield Thing(entry.key, entry.value, _reason(entry.value, problems), kind, texts(entry.value, "in"))


def _reason(node: Mapping, problems: list[Problem]) -> Reason:
    agreed, until = node.get("agreed"), node.get("until")
    approval = None
    if isinstance(agreed, Mapping):
        date = day(_must(agreed, "date"), problems, "date")
        approval = Approval(text_or(agreed, "by", ""), date, agreed.span)
    end = None if until is None else (day(text(until), problems, "until"), until.span)
    return Reason(text_if(node, "because"), approval, end)


def _title(entry: Entry) -> Text | None:
    return text_if(entry.value, "title") if isinstance(entry.value, Mapping) else None


def _must(mapping: Mapping, key: str) -> Text:
    node = mapping.get(key)
    assert node is not None, key
    return text(node)
