"""Times, held cell by cell to worked examples of the literature and to another library's longest paths."""

from __future__ import annotations

from itertools import pairwise
from math import erf, sqrt

import networkx
import pytest

from stepfield.asepsis import order_of
from stepfield.language import build_set
from stepfield.language.model import Protocol
from stepfield.planning.schedule import Schedule, expected, likely, open_times, schedule, spread

MIN = 60.0
Activities = dict[str, tuple[int, int, int, str]]

# A: seven arcs of a network with whole numbers. Data as printed at studyx.ai/homework/111773218; times worked out anew.
ARCS: Activities = {
    "a12": (1, 1, 7, ""),
    "a13": (1, 4, 7, ""),
    "a14": (2, 2, 8, ""),
    "a25": (1, 1, 1, "a12"),
    "a35": (2, 5, 14, "a13"),
    "a46": (2, 5, 8, "a14"),
    "a56": (3, 6, 15, "a25 a35"),
}
ARC_TIMES = {  # earliest start and finish, latest start, slack
    "a12": (0, 2, 7, 7),
    "a13": (0, 4, 0, 0),
    "a14": (0, 3, 9, 9),
    "a25": (2, 3, 9, 7),
    "a35": (4, 10, 4, 0),
    "a46": (3, 8, 12, 9),
    "a56": (10, 17, 10, 0),
}
# B: ten activities in weeks. Data, critical path and total as printed at ja.scribd.com/presentation/396883604.
TEN: Activities = {
    "a": (5, 6, 7, ""),
    "b": (1, 3, 5, ""),
    "c": (1, 4, 7, ""),
    "d": (1, 2, 3, "a"),
    "e": (1, 2, 9, "b"),
    "f": (1, 5, 9, "c"),
    "g": (2, 2, 8, "c"),
    "h": (4, 4, 10, "e f"),
    "i": (2, 5, 8, "d"),
    "j": (2, 2, 8, "h g"),
}
TEN_TIMES = {
    "a": (0, 6, 4, 4),
    "b": (0, 3, 3, 3),
    "c": (0, 4, 0, 0),
    "d": (6, 8, 10, 4),
    "e": (3, 6, 6, 3),
    "f": (4, 9, 4, 0),
    "g": (4, 7, 11, 7),
    "h": (9, 14, 9, 0),
    "i": (8, 13, 12, 4),
    "j": (14, 17, 14, 0),
}
# C: fourteen activities in days. Data, means and slack as printed at wizedu.com/questions/717873.
FOURTEEN: Activities = {
    "a": (5, 5, 7, ""), "b": (1, 2, 5, ""), "c": (5, 5, 5, "a"), "d": (4, 8, 13, "a"), "e": (1, 10, 17, "b c"),
    "f": (1, 5, 7, "d"), "g": (2, 6, 9, "d"), "h": (4, 4, 6, "e f"), "i": (2, 7, 10, "g h"), "j": (2, 4, 7, "i"),
    "k": (6, 10, 13, "i"), "l": (2, 6, 6, "j"), "m": (2, 2, 3, "k"), "n": (7, 7, 12, "l m"),
}  # fmt: skip


def protocol(activities: Activities, more: str = "") -> Protocol:
    """Each activity is a step of a role of its own."""
    names = [f"r{name}" for name in activities]
    clinic = f"clinic: Quillhaven\nroles: {{{', '.join(f'{name}: {{title: {name}}}' for name in names)}}}\n"
    steps = "".join(
        f"      - {{id: {name}, role: r{name}, do: Go., after: [{', '.join(before.split())}], "
        f"takes: {{least: {a} min, likely: {m} min, most: {b} min}}}}\n"
        for name, (a, m, b, before) in activities.items()
    )
    text = f"kind: protocol\ntitle: T\nteam: [{', '.join(names)}]\n{more}phases:\n  - phase: p\n    steps:\n{steps}"
    found = build_set({"p/clinic.yaml": clinic.encode(), "p/one.yaml": text.encode()})
    assert not [one for one in found.problems if one.rule != "unused-name"], found.problems
    return found.protocols[0]


def timed(made: Protocol, measure: object = expected) -> Schedule:
    return schedule(made, order_of(made), [True] * len(made.steps), measure)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("activities", "times", "total", "path", "deviation"),
    [(ARCS, ARC_TIMES, 17, "a13 a35 a56", 3.0), (TEN, TEN_TIMES, 17, "c f h j", 2.1858)],
)
def test_the_worked_examples_cell_by_cell(
    activities: Activities, times: dict[str, tuple[int, int, int, int]], total: float, path: str, deviation: float
) -> None:
    made = protocol(activities)
    found = timed(made)
    names = [step.id.value for step in made.steps]
    assert {
        names[one.step]: (one.starts / MIN, one.ends / MIN, one.latest_start / MIN, one.slack / MIN)
        for one in found.rows
    } == {name: pytest.approx(cells) for name, cells in times.items()}
    assert found.total == pytest.approx(total * MIN)
    assert [names[number] for number in found.critical] == path.split()
    by_formula, _ = spread(made, order_of(made), [True] * len(names), runs=1)
    assert by_formula.deviation / MIN == pytest.approx(deviation, abs=1e-4)


def test_fourteen_activities_end_and_spread_as_printed() -> None:
    made = protocol(FOURTEEN)
    found = timed(made)
    slack = {made.steps[one.step].id.value: round(one.slack / MIN, 4) for one in found.rows if one.slack > 1e-6}
    assert slack == {"b": 8, "d": 1.8333, "f": 1.8333, "g": 5, "j": 2.5, "l": 2.5}
    assert found.total / MIN == pytest.approx(50.8333, abs=1e-4)
    by_formula, drawn = spread(made, order_of(made), [True] * 14, runs=400)
    assert by_formula.deviation / MIN == pytest.approx(3.3458, abs=1e-4)
    within = 0.5 * (1 + erf((53 - by_formula.mean / MIN) / (by_formula.deviation / MIN) / sqrt(2)))
    assert within == pytest.approx(0.7414, abs=5e-4)
    # The formulas look at one path only; drawing sees the others, and the mean can only be later for it.
    assert drawn.mean > by_formula.mean - 3 * by_formula.deviation / sqrt(400)


def test_a_single_step_is_drawn_from_the_distribution_it_says() -> None:
    """The triangular distribution has the mean (a + m + b) / 3 and the variance (a2 + m2 + b2 - am - ab - mb) / 18."""
    made = protocol({"one": (2, 3, 10, "")})
    _, drawn = spread(made, order_of(made), [True], runs=20_000)
    assert drawn.mean / MIN == pytest.approx(5.0, abs=0.05)
    exact = sqrt((4 + 9 + 100 - 6 - 20 - 30) / 18)
    assert drawn.deviation / MIN == pytest.approx(exact, rel=0.03)
    assert spread(made, order_of(made), [True], runs=50) == spread(made, order_of(made), [True], runs=50)


def test_the_total_is_the_longest_path() -> None:
    made = protocol(FOURTEEN)
    graph = networkx.DiGraph()
    for name, (_, usual, _, before) in FOURTEEN.items():
        graph.add_edge((name, "starts"), (name, "ends"), weight=usual)
        graph.add_edges_from(((earlier, "ends"), (name, "starts"), {"weight": 0}) for earlier in before.split())
    longest = networkx.dag_longest_path(graph)
    total = sum(graph[one][other]["weight"] for one, other in pairwise(longest))
    assert timed(made, likely).total == total * MIN


def test_waits_lanes_and_what_is_not_done_count() -> None:
    text = (
        "kind: protocol\ntitle: T\nteam: [a, b]\npacks: {pack: {title: P, holds: {swab: {}}}}\nsurfaces: {table: {}}\n"
        "phases:\n  - phase: p\n    steps:\n"
        "      - {id: open, role: a, do: Go., takes: 1 min, opens: [pack]}\n"
        "      - {id: paint, role: a, do: Go., takes: 2 min}\n"
        "      - {id: skipped, role: a, do: Go., takes: 50 min}\n"
        "      - {id: wait, role: b, do: Go., after: [paint], waits: [{for: paint, at_least: 3 min}], takes: 1 min,\n"
        "         touches: [swab]}\n"
        "      - {id: short, role: b, do: Go.}\n"
    )
    clinic = b"clinic: Q\nroles: {a: {title: A}, b: {title: B}}\n"
    made = build_set({"p/clinic.yaml": clinic, "p/one.yaml": text.encode()}).protocols[0]
    found = schedule(made, order_of(made), [True, True, False, True, True])
    starts = {made.steps[one.step].id.value: one.starts / MIN for one in found.rows}
    assert starts == {"open": 0, "paint": 1, "wait": 6, "short": 7}
    assert found.total == 7 * MIN
    assert found.busy == {"a": 3 * MIN, "b": MIN}
    assert found.unknown == (4,)
    assert open_times(made, found) == {"pack": 5 * MIN}
