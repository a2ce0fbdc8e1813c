"""The entries of a tailoring.yaml, each with a name that a command line can call it by."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from ..language.model import Kind
from ..language.source import Problem, Span
from ..language.tailoring import Thing, Wishes, Written
from ..language.yaml_nodes import Document, Route

_GROUPS = {Kind.SURFACE: "surfaces", Kind.ITEM: "items", Kind.PACK: "packs"}


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry: what it is about, and where it stands.

    ``kind`` is set, drop or add for a step, else role, thing, choice, leave-out or own. ``target`` is the name
    of the step, thing, choice, role or protocol; ``option`` the one that a choice is settled for.
    """

    name: str
    kind: str
    route: Route
    span: Span
    target: str
    protocol: str | None = None
    written: Written | None = None
    thing: Thing | None = None
    option: str | None = None

    def holds(self, problem: Problem) -> bool:
        """Whether a problem stands in this entry."""
        at, span = problem.span, self.span
        start, end = (span.line, span.column), (span.end_line, span.end_column)
        return at.path == span.path and start <= (at.line, at.column) < end


def entries_of(document: Document, wishes: Wishes) -> tuple[Entry, ...]:
    """Every entry of a document from which ``wishes`` were read without a problem, in written order."""
    found = sorted(_entries(document, wishes), key=lambda one: one.span)
    counted: Counter[str] = Counter()
    named = []
    for one in found:
        counted[one.name] += 1
        number = counted[one.name]
        named.append(one if number == 1 else replace(one, name=f"{one.name}:{number}"))
    return tuple(named)


def _entries(document: Document, wishes: Wishes) -> Iterator[Entry]:
    for number, one in enumerate(wishes.changes):
        protocol, step = one.protocol.value, one.name.value
        route: Route = ("changes", number)
        yield Entry(f"{protocol}/{step}", one.what, route, document.span_of(route), step, protocol, written=one)
    for thing in wishes.things:
        group, name = _GROUPS[thing.kind], thing.name.value
        route = (group, name)
        yield Entry(f"{group}/{name}", "thing", route, _whole(document, route), name, thing=thing)
    for role, _ in wishes.roles:
        route = ("roles", role.value)
        yield Entry(f"roles/{role}", "role", route, _whole(document, route), role.value)
    for protocol_, choices in wishes.choose:
        for choice, option in choices:
            route = ("choose", protocol_.value, choice.value)
            yield Entry(
                f"choose/{protocol_}/{choice}",
                "choice",
                route,
                _whole(document, route),
                choice.value,
                protocol_.value,
                option=option.value,
            )
    yield from _listed(document, "leave_out", "leave-out", (one.value for one in wishes.leave_out))
    yield from _listed(document, "own", "own", (one.value for one in wishes.own))


def _listed(document: Document, key: str, kind: str, names: Iterable[str]) -> Iterator[Entry]:
    for number, name in enumerate(names):
        route: Route = (key, number)
        yield Entry(f"{key}/{name}", kind, route, document.span_of(route), name, name)


def _whole(document: Document, route: Route) -> Span:
    """The place of a key with its value."""
    key, value = document.span_of(route, "key"), document.span_of(route)
    return replace(key, end_line=value.end_line, end_column=value.end_column)
