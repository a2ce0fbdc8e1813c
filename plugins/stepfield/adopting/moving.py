"""Moving what was edited in adopted files into tailoring.yaml. Pure: files go in and come out as bytes.

File by file: what its edits say as entries is added to tailoring.yaml and the file put back as it was adopted. Only if
the set then says what it said before is that kept; else the file is left alone, with the reason.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

from ..checks.deviations import Effect, grade_of, grades_of
from ..language.build import build_set
from ..language.editing import CannotEditError
from ..language.files import place_of
from ..language.layout import comments_of
from ..language.model import ProtocolSet
from ..language.names import quoted
from ..language.source import Problem, Span
from ..language.tailored import Deviation
from ..language.yaml_nodes import Mapping as Node
from ..language.yaml_nodes import Plain, plain
from ..language.yaml_reader import read_yaml
from .additions import Addition, with_additions
from .edits import Unsaid, edits_between, flat_names
from .same import Unlike, differences

Files = Mapping[str, bytes]
MOST_TOLD = 5
_PLAIN = b"baseline: {name: x, version: 0.0.0}\n"
_MARK = b"\xef\xbb\xbf"
_UNREAD = ("bad-yaml", "bad-shape", "unknown-name", "taken-name", "order-loop")
"""What makes it unsure what a set says, so that two of them cannot be compared."""
_SAID = "no entry had to be written: tailoring.yaml says it already"
_MOVABLE = {
    "protocol": frozenset({"surfaces", "items", "packs", "phases"}),
    "part": frozenset({"steps"}),
}
"""By the kind of file, the fields in which edits can be said in tailoring.yaml."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One new entry of tailoring.yaml: the line it stands in, its grade, and what is looser about it."""

    line: int
    says: str
    grade: Effect
    reason: str


@dataclass(frozen=True, slots=True)
class Moved:
    """A file that is as it was adopted again, with the entries that say what was edited in it, and what to know."""

    path: str
    additions: tuple[Addition, ...]
    entries: tuple[Entry, ...] = ()
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Left:
    """A file that was left as it is, and what in it cannot be said in tailoring.yaml."""

    path: str
    reasons: tuple[Unsaid, ...]


@dataclass(slots=True)
class Outcome:
    """What became of every edited file, and all files as they are then."""

    files: dict[str, bytes]
    moved: list[Moved] = field(default_factory=list)
    left: list[Left] = field(default_factory=list)


def move_edits(files: Files, originals: Files, folder: str) -> Outcome:
    """Moves the edits of every file that ``originals`` has as it was adopted.

    Paths are those that findings show, ``folder`` is the set's. There must be a tailoring.yaml.
    """
    outcome = Outcome(dict(files))
    for path, original in sorted(originals.items()):
        result = _moved(outcome.files, path, original, folder)
        if isinstance(result, Left):
            outcome.left.append(result)
        else:
            outcome.files, moved = result
            outcome.moved.append(moved)
    # Only now it is sure which line each entry stands in.
    made = build_set(outcome.files, folder)
    outcome.moved = [
        replace(one, entries=tuple(_entry(graded) for _, graded in _graded(one.additions, made) if graded is not None))
        for one in outcome.moved
    ]
    return outcome


def _moved(files: dict[str, bytes], path: str, original: bytes, folder: str) -> tuple[dict[str, bytes], Moved] | Left:
    start = Span(path, 1, 1, 1, 1)
    tailoring = f"{folder}/tailoring.yaml" if folder else "tailoring.yaml"
    back = {**files, path: original}
    now, was = (build_set({**each, tailoring: _PLAIN}, folder) for each in (files, back))
    meant = build_set(files, folder)
    unread = [problem for each in (meant, now, was) for problem in each.problems if problem.rule in _UNREAD]
    if unread:
        return Left(path, tuple(map(_unread, unread[:MOST_TOLD])))
    names, comments = flat_names(was, now), _comments(place_of(path, folder).id, files[path], original)
    told = [*_of_head(path, files[path], original, folder), *_without_use(path, now, meant, folder)]
    found = () if told else tuple(edits_between(was, now, meant))
    told += [one for one in found if isinstance(one, Unsaid)]
    if told:
        return Left(path, tuple(told))
    wanted = [one for one in found if isinstance(one, Addition)]
    additions = list(_not_said(wanted, files[tailoring], tailoring))
    try:
        made = build_set(_written(back, tailoring, additions, comments), folder)
        additions = [replace(one, remarks=_remarks(graded)) for one, graded in _graded(additions, made)]
        result = _written(back, tailoring, additions, comments)
    except CannotEditError as error:
        return Left(path, (Unsaid(str(error), start),))
    unlike = tuple(_unlike(meant, build_set(result, folder), names))
    if any(not one.kept for one in unlike):
        return Left(path, tuple(Unsaid(one.message, start) for one in unlike if not one.kept)[:MOST_TOLD])
    said = (_SAID,) if wanted and not additions else ()
    return result, Moved(path, tuple(additions), remarks=(*said, *(one.message for one in unlike)))


def _not_said(additions: Iterable[Addition], data: bytes, path: str) -> Iterator[Addition]:
    """The entries that tailoring.yaml does not have yet: an earlier try may have been interrupted."""
    document = read_yaml(data, path).document
    whole = None if document is None else document.plain()
    for one in additions:
        under = whole.get(one.key) if isinstance(whole, dict) else None
        if isinstance(under, dict):
            known = [under[one.name]] if one.name in under else []
        else:
            known = under if isinstance(under, list) else []
        if not any(isinstance(each, dict) and one.value.items() <= each.items() for each in known):
            yield one


def _unlike(meant: ProtocolSet, made: ProtocolSet, names: Mapping[str, Mapping[str, str]]) -> Iterator[Unlike]:
    yield from _new_problems(meant, made)
    yield from differences(meant, made, names)


def _unread(problem: Problem) -> Unsaid:
    return Unsaid(f"{problem.message}; mend that first, so that it is sure what the file says", problem.span)


def _of_head(path: str, edited: bytes, original: bytes, folder: str) -> Iterator[Unsaid]:
    """What differs outside of the steps and things."""
    start, kind = Span(path, 1, 1, 1, 1), place_of(path, folder).kind
    if kind not in _MOVABLE:
        message = (
            "what stands in this file cannot be said in tailoring.yaml; offer it to those who keep the shared text"
        )
        yield Unsaid(message, start)
        return
    roots = [document.root for data in (edited, original) if (document := read_yaml(data, path).document) is not None]
    now, was = (root if isinstance(root, Node) else Node((), start) for root in roots)
    for key in dict.fromkeys(entry.key.value for entry in (*now.entries, *was.entries)):
        values = [None if (value := root.get(key)) is None else _even(plain(value)) for root in (now, was)]
        if key not in _MOVABLE[kind] and values[0] != values[1]:
            entry = now.entry(key)
            yield Unsaid(f"`{key}` is not what it was, and no entry can say that", entry.key.span if entry else start)


def _even(value: Plain) -> Plain:
    """A value with its texts on one line."""
    if isinstance(value, str):
        return " ".join(value.split())
    if isinstance(value, list):
        return [_even(one) for one in value]
    return {key: _even(one) for key, one in value.items()} if isinstance(value, dict) else value


def _without_use(path: str, now: ProtocolSet, meant: ProtocolSet, folder: str) -> Iterator[Unsaid]:
    """Whether nothing that is done here depends on the file, so that no entry could keep what was edited in it."""
    place, used = place_of(path, folder), {one.id for one in meant.protocols}
    concerned = {one.id for one in now.protocols if place.id in ({one.id} if place.kind == "protocol" else one.parts)}
    if place.kind in _MOVABLE and not concerned & used:
        message = "nothing that is done here uses this file, so that no entry can keep what was edited in it"
        yield Unsaid(message, Span(path, 1, 1, 1, 1))


def _comments(name: str, edited: bytes, original: bytes) -> tuple[str, ...]:
    """The comments that were added to a file, to be kept in tailoring.yaml."""
    texts = (data.removeprefix(_MARK).decode().replace("\r\n", "\n") for data in (edited, original))
    now, was = map(comments_of, texts)
    added = tuple((now - was).elements())
    return (f"# Comments that stood in {name}.yaml:", *added) if added else ()


def _written(files: Files, path: str, additions: list[Addition], comments: tuple[str, ...]) -> dict[str, bytes]:
    """The files with entries added to tailoring.yaml."""
    data = files[path]
    mark = _MARK if data.startswith(_MARK) else b""
    text = with_additions(data.removeprefix(_MARK).decode(), path, additions, comments)
    return {**files, path: mark + text.encode()}


def _graded(additions: Iterable[Addition], made: ProtocolSet) -> list[tuple[Addition, Deviation | None]]:
    """The entries, each with what it came to; of several on one thing, a new one is the last."""
    deviations = () if made.tailoring is None else made.tailoring.deviations
    known = {(one.what, one.protocol, one.name.value): one for one in deviations}
    return [(one, known.get(_key(one))) for one in additions]


def _key(one: Addition) -> tuple[str, str | None, str]:
    if one.name is not None:
        return ("thing", None, one.name)
    what = next(verb for verb in ("drop", "add", "set") if verb in one.value or verb == "set")
    step = one.value[{"drop": "drop", "add": "add", "set": "step"}[what]]
    name = step["id"] if isinstance(step, dict) else step
    return (what, str(one.value["protocol"]), str(name))


def _remarks(graded: Deviation | None) -> tuple[str, ...]:
    looser = graded is not None and grade_of(graded) is Effect.LOOSER
    return ("because: …", "agreed: {by: …, date: …}", "until: …") if looser else ("because: …",)


def _entry(graded: Deviation) -> Entry:
    first = grades_of(graded)[0]
    at = "" if graded.protocol is None else f" of {quoted(graded.protocol)}"
    fields = f" ({', '.join(map(str, graded.fields))})" if graded.fields else ""
    done = "is new here" if graded.what == "thing" and graded.before is None else _DONE[graded.what]
    says = f"{quoted(str(graded.name))}{at} {done}{fields}"
    return Entry(graded.span.line, says, first.effect, first.reason)


def _new_problems(meant: ProtocolSet, made: ProtocolSet) -> Iterator[Unlike]:
    """What is wrong with the result and was not with what it is made of."""

    def key(problem: Problem) -> tuple[str, str | None, str]:
        return problem.rule, problem.protocol, re.sub(r"[0-9]+", "0", problem.message)

    known = Counter(map(key, meant.problems))
    for problem in made.problems:
        known[key(problem)] -= 1
        if known[key(problem)] < 0 and problem.rule in (*_UNREAD, "tailoring-lost"):
            yield Unlike(f"an entry would not say the same: {problem.message}", kept=False)


_DONE = {"set": "is changed", "drop": "is left out", "add": "is added", "thing": "differs here"}
