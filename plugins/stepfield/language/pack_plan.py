"""The file packs.yaml: which cases packs are planned for, how often each is done, and what weighs how much."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from .model import Case, Protocol, ProtocolSet
from .screens import unknown_names
from .source import Problem, Text
from .values import entries, mappings, text, text_if, text_or, whole
from .yaml_nodes import Document, Mapping, Scalar

HUNDREDTHS = 100
"""Rates and costs are kept as whole hundredths, so that sums of them are exact."""


@dataclass(frozen=True, slots=True)
class PlannedCase:
    """A kind of case and how often it is done, in hundredths of a case a week."""

    case: Case
    rate: int


@dataclass(frozen=True, slots=True)
class PackPlan:
    """What packs are planned for; costs in hundredths.

    ``most_packs`` and ``reusables_apart`` are None where they are to be as today. ``sharps_only_where_used``: no pack
    with something sharp is opened where the sharp thing is not used.
    """

    cases: tuple[PlannedCase, ...]
    opening: int
    thrown_away: int
    reprocessed: int
    most_packs: int | None
    sharps_only_where_used: bool
    reusables_apart: bool | None


def read_pack_plan(
    document: Document, protocols: Iterable[Protocol], unreadable: Iterable[str], problems: list[Problem]
) -> PackPlan:
    """The plan, from a file that fits its schema; protocols, choices and options that do not exist are noted."""
    root = document.root
    assert isinstance(root, Mapping)
    costs, most = root.get("costs"), whole(root, "most_packs", 0)
    assert isinstance(costs, Mapping)
    cases = tuple(PlannedCase(_case(node), _hundredths(node, "per_week")) for node in mappings(root.get("cases")))
    known = {protocol.id: protocol for protocol in protocols}
    problems += unknown_names([one.case for one in cases], known, unreadable)
    thrown = _hundredths(costs, "thrown_away")
    return PackPlan(
        cases=cases,
        opening=_hundredths(costs, "opening"),
        thrown_away=thrown,
        reprocessed=_hundredths(costs, "reprocessed") if costs.get("reprocessed") is not None else thrown,
        most_packs=most or None,
        sharps_only_where_used=text_or(root, "sharps", "only-where-used") == "only-where-used",
        reusables_apart={"apart": True, "together": False}.get(text_or(root, "reusables", "")),
    )


def plan_from(data: bytes, path: str, found: ProtocolSet) -> tuple[PackPlan | None, tuple[Problem, ...]]:
    """The plan in a file that may lie anywhere, and what is wrong with it; there is no plan where something is."""
    from .schemas import fits
    from .shapes import shape_problems
    from .yaml_reader import read_yaml

    reading = read_yaml(data, path)
    if reading.problems or reading.document is None:
        return None, reading.problems
    if not fits("packs", reading.document.plain()):
        return None, tuple(shape_problems("packs", reading.document, None))
    problems: list[Problem] = []
    plan = read_pack_plan(reading.document, found.protocols, found.unreadable, problems)
    return (None if problems else plan), tuple(problems)


def _case(node: Mapping) -> Case:
    protocol = text_if(node, "protocol")
    assert protocol is not None
    choices: tuple[tuple[Text, Text], ...] = tuple(
        (entry.key, text(entry.value)) for entry in entries(node.get("choose"))
    )
    return Case(protocol, choices)


def _hundredths(node: Mapping, key: str) -> int:
    value = node.get(key)
    assert isinstance(value, Scalar)
    assert isinstance(value.value, int | float)
    return round(value.value * HUNDREDTHS)
