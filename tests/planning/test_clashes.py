"""Clashes of waits and limits, held to adding up by hand and to another program's longest paths."""

from __future__ import annotations

from itertools import pairwise

import networkx
from hypothesis import given, settings
from hypothesis import strategies as st

from stepfield.asepsis import order_of
from stepfield.language import build_set
from stepfield.language.model import Protocol
from stepfield.planning import Clash, clashes

CLINIC = b"clinic: Quillhaven\nroles: {a: {title: A}, b: {title: B}}\n"


def protocol(steps: str, head: str = "") -> Protocol:
    text = f"kind: protocol\ntitle: T\nteam: [a, b]\n{head}phases:\n  - phase: p\n    steps:\n{steps}"
    found = build_set({"p/clinic.yaml": CLINIC, "p/one.yaml": text.encode()})
    assert not found.problems, found.problems
    return found.protocols[0]


def found(steps: str, head: str = "") -> list[Clash]:
    made = protocol(steps, head)
    return list(clashes(made, order_of(made)))


ROWS = st.lists(
    st.tuples(st.integers(1, 9), st.integers(0, 9), st.booleans(), st.integers(0, 5)), min_size=2, max_size=7
)


@settings(deadline=None)
@given(ROWS, st.integers(1, 40))
def test_a_limit_holds_just_where_the_longest_path_is_short_enough(
    rows: list[tuple[int, int, bool, int]], limit: int
) -> None:
    """Two lanes with waits across; networkx works out the longest path from the first step's end to the last's."""
    lines, graph, quick = [], networkx.DiGraph(), networkx.DiGraph()
    last: dict[str, int] = {}
    for number, (least, more, mine, wait) in enumerate(rows):
        role = "a" if mine or number in (0, len(rows) - 1) else "b"
        waits = f", waits: [{{for: s{number - 1}, at_least: {wait} min}}]" if number and wait else ""
        limits = f", within: [{{of: s0, at_most: {limit} min}}]" if number == len(rows) - 1 else ""
        takes = f"takes: {{least: {least} min, likely: {least} min, most: {least + more} min}}"
        after = f", after: [s{number - 1}]" if waits else ""
        lines.append(f"      - {{id: s{number}, role: {role}, do: Go., {takes}{after}{waits}{limits}}}\n")
        for one, seconds in ((quick, least), (graph, least + more)):
            if role in last:
                one.add_edge(last[role], number, weight=seconds)
            if waits:
                one.add_edge(
                    number - 1,
                    number,
                    weight=max(seconds + wait, one.get_edge_data(number - 1, number, {"weight": 0})["weight"]),
                )
        last[role] = number
    told = found("".join(lines))
    longest = [
        max((sum(one[i][j]["weight"] for i, j in pairwise(path))
             for path in networkx.all_simple_paths(one, 0, len(rows) - 1)), default=0)
        for one in (quick, graph)
    ]  # fmt: skip
    expected = [] if longest[1] <= limit else ["slow"] if longest[0] <= limit else ["quick"]
    assert ["slow" if one.slow else "quick" for one in told] == expected
    for one in told:
        assert one.needed == 60 * longest[1 if one.slow else 0]


def test_a_limit_that_is_impossible_is_not_told_once_more_for_slow_days() -> None:
    steps = (
        "      - {id: one, role: a, do: Go.}\n"
        "      - {id: two, role: a, do: Go., takes: {least: 5 min, likely: 6 min, most: 9 min}}\n"
        "      - {id: three, role: a, do: Go., within: [{of: one, at_most: 4 min}]}\n"
    )
    assert [(one.slow, one.needed) for one in found(steps)] == [(False, 300)]


def test_each_limit_is_told_once() -> None:
    steps = (
        "      - {id: one, role: a, do: Go.}\n"
        "      - {id: two, role: a, do: Go., takes: 5 min, within: [{of: one, at_most: 4 min}]}\n"
        "      - {id: three, role: a, do: Go., takes: 5 min, "
        "within: [{of: one, at_most: 6 min}, {of: two, at_most: 1 min}]}\n"
    )
    told = [(one.limit.step, one.limit.of) for one in found(steps) if one.limit is not None]
    assert sorted(told) == [(1, 0), (2, 0), (2, 1)]


def test_other_phases_lie_between_too() -> None:
    made = protocol(
        "      - {id: one, role: a, do: Go.}\n"
        "  - phase: q\n    steps:\n      - {id: two, role: b, do: Go., takes: 10 min}\n"
        "  - phase: r\n    steps:\n      - {id: three, role: a, do: Go., within: [{of: one, at_most: 4 min}]}\n"
    )
    (clash,) = clashes(made, order_of(made))
    assert [(one.kind, one.step) for one in clash.chain] == [("takes", 1)]


def test_what_is_done_beside_it_does_not_count() -> None:
    steps = (
        "      - {id: one, role: a, do: Go.}\n"
        "      - {id: beside, role: b, do: Go., takes: 60 min}\n"
        "      - {id: three, role: a, do: Go., within: [{of: one, at_most: 4 min}]}\n"
    )
    assert found(steps) == []


def test_a_step_can_not_wait_for_itself_and_is_told_so() -> None:
    made = protocol("      - {id: one, role: a, do: Go., waits: [{for: one, at_least: 1 min}]}\n")
    (clash,) = clashes(made, order_of(made))
    assert clash.wait is not None
    assert clash.wait.step == clash.wait.of == 0
