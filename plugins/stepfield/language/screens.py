"""The file screens.yaml: how the wall screens are read, and the lists of the days."""

from __future__ import annotations

import math
from collections.abc import Iterable
from collections.abc import Mapping as Map

from .files import is_reserved, unstorable
from .model import Case, Choice, Day, Protocol, Screens, Viewing
from .names import Lookup
from .source import Problem, Text
from .values import entries, mappings, seconds, shape_problem, text, text_if, text_or, whole
from .yaml_nodes import Document, Entry, Mapping

MOST_TIMES = 8.0
"""How many times its shorter side a screen may be away: beyond, letters that can be read leave no room for a step."""
_METRES = {"m": 1.0, "cm": 0.01}


def read_screens(
    document: Document, protocols: Iterable[Protocol], unreadable: Iterable[str], problems: list[Problem]
) -> Screens:
    """The screens, from a file that fits its schema; names that are declared nowhere are noted.

    A case keeps the name as it is written: a screen that guessed would show the steps of another operation.
    """
    root = document.root
    assert isinstance(root, Mapping)
    usual = Screens()
    stale, viewing = text_if(root, "stale_after"), root.get("viewing")
    days = tuple(_day(entry) for entry in entries(root.get("days")))
    problems += _unstorable(days)
    cases = [case for day in days for case in day.cases]
    problems += unknown_names(cases, {protocol.id: protocol for protocol in protocols}, unreadable)
    return Screens(
        viewing=_viewing(viewing, problems) if isinstance(viewing, Mapping) else usual.viewing,
        stale_after=seconds(stale) if stale is not None else usual.stale_after,
        words_a_minute=whole(root, "words_a_minute", usual.words_a_minute),
        days=days,
    )


def _viewing(node: Mapping, problems: list[Problem]) -> Viewing:
    usual = Viewing()
    distance, diagonal = text_if(node, "distance"), text_if(node, "diagonal")
    found = Viewing(
        distance=_metres(distance) if distance is not None else usual.distance,
        width=whole(node, "width", usual.width),
        height=whole(node, "height", usual.height),
        diagonal=_metres(diagonal) if diagonal is not None else usual.diagonal,
    )
    shorter = found.diagonal * min(found.width, found.height) / math.hypot(found.width, found.height)
    if not _is_a_screen(found):
        message = f"no screen is {found.width} by {found.height} pixels: one side is more than three times the other"
        problems.append(shape_problem(node.span, message, "viewing"))
    elif found.distance > MOST_TIMES * shorter:
        message = (
            f"from {found.distance:g} m, letters that can be read leave no room for a step on a screen whose shorter "
            f"side is {shorter:.2f} m; at most {MOST_TIMES:g} times that side is possible, {MOST_TIMES * shorter:.1f} m"
        )
        problems.append(shape_problem((distance or diagonal or Text("", node.span)).span, message, "distance"))
    else:
        return found
    return usual


def _is_a_screen(viewing: Viewing) -> bool:
    return max(viewing.width, viewing.height) <= 3 * min(viewing.width, viewing.height)


def _metres(written: Text) -> float:
    number, unit = written.value.split(" ")
    return float(number) * _METRES[unit]


def _day(entry: Entry) -> Day:
    assert isinstance(entry.value, Mapping)
    return Day(
        id=entry.key,
        title=text_or(entry.value, "title", ""),
        cases=tuple(_case(case) for case in mappings(entry.value.get("cases"))),
    )


def _case(node: Mapping) -> Case:
    protocol = text_if(node, "protocol")
    assert protocol is not None
    return Case(protocol, tuple((entry.key, text(entry.value)) for entry in entries(node.get("choices"))))


def _unstorable(days: Iterable[Day]) -> Iterable[Problem]:
    for day in days:
        if is_reserved(day.id.value):
            yield shape_problem(day.id.span, unstorable(day.id.value), day.id.value)


def unknown_names(
    cases: Iterable[Case], protocols: Map[str, Protocol], unreadable: Iterable[str]
) -> tuple[Problem, ...]:
    """What cases name and nothing declares: protocols, choices, options."""
    lookup = Lookup(None)
    lost = set(unreadable)
    known = {name: protocol.title for name, protocol in protocols.items()}
    for case in cases:
        if case.protocol.value in lost:
            continue
        if lookup.find(case.protocol, known, "protocol") is case.protocol:
            _unknown_choices(lookup, case, protocols[case.protocol.value].choices)
    return lookup.problems


def _unknown_choices(lookup: Lookup, case: Case, choices: Iterable[Choice]) -> None:
    declared = {choice.id.value: choice for choice in choices}
    names = {name: choice.id for name, choice in declared.items()}
    what = f"choice of {case.protocol.value}"
    for name, option in case.choices:
        if lookup.find(name, names, what) is name:
            options = {known.value: known for known, _ in declared[name.value].options}
            lookup.find(option, options, f"option of {name.value}")
