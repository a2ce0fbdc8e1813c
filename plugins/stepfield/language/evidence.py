"""Reading evidence.yaml: requirements with their sources and limits, tables of limits, and sets to adopt."""

from __future__ import annotations

from collections.abc import Iterator
from collections.abc import Mapping as Map
from dataclasses import dataclass, replace

from .model import Requirement
from .names import Lookup, quoted
from .quantities import Limit, Quantity, quantity
from .source import Problem, Span, Text
from .values import entries, items, shape_problem, text, text_if, text_or, whole
from .yaml_nodes import Document, Entry, Mapping, Node

LONGEST_NAME = 40
"""A longer name could stand in no list of names."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """What evidence.yaml says; a table of limits is one requirement for each of its cases."""

    requirements: tuple[Requirement, ...]
    sets: Map[str, tuple[Text, ...]]
    set_names: Map[str, Text]
    aged_after: int | None

    @property
    def names(self) -> dict[str, Text]:
        """The name of every requirement."""
        return {one.id.value: one.id for one in self.requirements}


def read_evidence(document: Document, problems: list[Problem]) -> Evidence:
    """The requirements and sets of a file that fits its schema.

    Limits that can't be meant, members of sets that are declared nowhere and names taken twice are noted.
    """
    root = document.root
    assert isinstance(root, Mapping)
    lookup = Lookup(None)
    known: dict[str, Requirement] = {}
    for one in _requirements(root, problems):
        first = known.setdefault(one.id.value, one)
        if first is not one:
            lookup.taken(one.id, first.id)
    names = {name: one.id for name, one in known.items()}
    written = {entry.key.value: tuple(map(text, items(entry.value))) for entry in entries(root.get("sets"))}
    set_names = {entry.key.value: entry.key for entry in entries(root.get("sets"))}
    for member in (member for members in written.values() for member in members):
        lookup.find(member, {**set_names, **names}, "requirement")
    problems += lookup.problems
    return Evidence(
        tuple(known.values()), _opened(written, names, problems), set_names, whole(root, "aged_after", 0) or None
    )


def _opened(
    written: Map[str, tuple[Text, ...]], known: Map[str, Text], problems: list[Problem]
) -> dict[str, tuple[Text, ...]]:
    """The requirements of every set, those of the sets in it among them, each once; a set inside itself is noted."""
    found: dict[str, tuple[Text, ...]] = {}
    looped: set[str] = set()
    for name in written:
        on_the_way = [name]
        while on_the_way:
            at = on_the_way[-1]
            inner = [one for one in written[at] if one.value in written and one.value not in known]
            lacking = next((one for one in inner if one.value not in found and one.value not in looped), None)
            if lacking is None:
                each = [
                    one
                    for member in written[at]
                    for one in (found.get(member.value, ()) if member in inner else (member,))
                ]
                found[at] = tuple({one.value: one for one in each if one.value not in looped}.values())
                on_the_way.pop()
            elif lacking.value in on_the_way:
                round_it = [*on_the_way[on_the_way.index(lacking.value) :], lacking.value]
                message = f"sets of requirements hold one another: {' → '.join(quoted(one) for one in round_it)}"
                problems.append(shape_problem(lacking.span, message, lacking.value))
                looped.add(lacking.value)
            else:
                on_the_way.append(lacking.value)
    return found


def _requirements(root: Mapping, problems: list[Problem]) -> Iterator[Requirement]:
    """Every requirement in written order; of a table its cases."""
    for entry in entries(root.get("requirements")):
        node = entry.value
        assert isinstance(node, Mapping)
        base = _requirement(entry.key, node, problems)
        cases = node.entry("cases")
        if cases is None:
            yield base
            continue
        if base.limit is not None:
            message = (
                f"{quoted(base.id.value)} has a limit of its own beside a table of cases; which holds is not clear"
            )
            problems.append(shape_problem(cases.key.span, message, "cases"))
        for case in entries(cases.value):
            yield _case(base, case, problems)


def _requirement(name: Text, node: Mapping, problems: list[Problem]) -> Requirement:
    year = node.get("year")
    return Requirement(
        id=name,
        text=text_or(node, "text", ""),
        source=text_or(node, "source", ""),
        section=_or_none(node, "section"),
        year=whole(node, "year", 0) or None,
        limit=_limit(node.get("limit"), problems),
        applies_to=_or_none(node, "applies_to"),
        certainty=_or_none(node, "certainty"),
        link=_or_none(node, "link"),
        year_span=None if year is None else year.span,
    )


def _case(base: Requirement, entry: Entry, problems: list[Problem]) -> Requirement:
    node = entry.value
    assert isinstance(node, Mapping)
    name = Text(f"{base.id}-{entry.key}", entry.key.span)
    if len(name.value) > LONGEST_NAME:
        message = (
            f"the case is called {quoted(name.value)} by those who meet it, which has {len(name.value)} characters; "
            f"{LONGEST_NAME} are the most"
        )
        problems.append(shape_problem(name.span, message, entry.key.value))
    told = [part for part in (base.applies_to, _or_none(node, "applies_to")) if part]
    limit = _limit(node.get("limit"), problems)
    return replace(base, id=name, limit=limit, applies_to="; ".join(told), table=base.id.value)


def _or_none(node: Mapping, key: str) -> str | None:
    found = text_if(node, key)
    return None if found is None else found.value


def _limit(node: Node | None, problems: list[Problem]) -> Limit | None:
    """The limit; one whose two bounds can't both be meant is noted, and its first bound stands."""
    if not isinstance(node, Mapping):
        return None
    found = {entry.key.value: (quantity(text(entry.value).value), entry.value.span) for entry in entries(node)}
    least, most = found.get("at_least"), found.get("at_most")
    if least is not None and most is not None:
        message = _clash(least[0], most[0])
        if message:
            problems.append(shape_problem(_second(least[1], most[1]), message, "limit"))
            most = None
    return Limit(None if least is None else least[0], None if most is None else most[0])


def _clash(least: Quantity, most: Quantity) -> str | None:
    if least.dimension != most.dimension:
        return (
            f"a limit is on one thing, and these are two: at least {least} is a limit on {least.dimension}, "
            f"at most {most} one on {most.dimension}"
        )
    return f"at least {least} is more than at most {most}: nothing can keep both" if least.base > most.base else None


def _second(one: Span, other: Span) -> Span:
    return max(one, other, key=lambda span: (span.line, span.column))
