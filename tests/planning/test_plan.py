"""Times with waits and limits, held to a graph library's shortest distances, to a solver and to trying everything out.

The network is built here a second time, straight from the meaning of the fields: waits run from an end to a start,
limits from an end to an end.
"""

from __future__ import annotations

from itertools import pairwise, product

import networkx
import pytest
import z3
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from stepfield.asepsis import order_of
from stepfield.language import build_set
from stepfield.language.model import Person, Protocol
from stepfield.language.source import Text
from stepfield.planning import clashes
from stepfield.planning.plan import both_at_once, plan_of, with_people
from stepfield.planning.schedule import lasting, least, likely, schedule, timed
from stepfield.planning.standing import standings

ROLES = ("a", "b", "c")
CLINIC = b"clinic: Q\nroles: {a: {title: A}, b: {title: B}, c: {title: C}}\n"
Row = tuple[str, int, int, int, int, int]
"""The role, least and further seconds, how many steps back a wait and a limit reach (0: none), and their seconds."""
ROWS = st.lists(
    st.tuples(
        st.sampled_from(ROLES),
        st.integers(0, 9),
        st.integers(0, 6),
        st.integers(0, 2),
        st.integers(0, 3),
        st.integers(0, 12),
    ),
    min_size=2,
    max_size=6,
)


def written(steps: str, head: str = "") -> Protocol:
    text = f"kind: protocol\ntitle: T\nteam: [a, b, c]\n{head}phases:\n  - phase: p\n    steps:\n{steps}"
    found = build_set({"p/clinic.yaml": CLINIC, "p/one.yaml": text.encode()})
    assert not [one for one in found.problems if one.rule != "unused-name"], found.problems
    return found.protocols[0]


def protocol(rows: list[Row]) -> Protocol:
    lines = []
    for number, (role, short, more, wait, limit, seconds) in enumerate(rows):
        takes = f"{{least: {short} s, likely: {short} s, most: {short + more} s}}"
        line = f"id: s{number}, role: {role}, do: Go., takes: {takes}"
        if 0 < wait <= number:
            line += f", waits: [{{for: s{number - wait}, at_least: {seconds} s}}]"
        if 0 < limit <= number:
            line += f", within: [{{of: s{number - limit}, at_most: {seconds + 3} s}}]"
        lines.append(f"      - {{{line}}}\n")
    return written("".join(lines))


def bounds(rows: list[Row], lasts: list[int]) -> list[tuple[str, str, int]]:
    """(early, late, most): the later moment comes at most so long after the earlier one; "-" is the beginning."""
    found = []
    last: dict[str, int] = {}
    for number, (role, _, _, wait, limit, seconds) in enumerate(rows):
        start, end = f"start{number}", f"end{number}"
        found += [(start, end, lasts[number]), (end, start, -lasts[number]), (start, "-", 0)]
        if role in last:
            found.append((start, f"end{last[role]}", 0))
        if 0 < wait <= number:
            found.append((start, f"end{number - wait}", -seconds))
        if 0 < limit <= number:
            found.append((f"end{number - limit}", end, seconds + 3))
        last[role] = number
    return found


def graph_of(rows: list[Row], lasts: list[int]) -> networkx.MultiDiGraph:
    graph = networkx.MultiDiGraph()
    for early, late, seconds in bounds(rows, lasts):
        graph.add_edge(early, late, weight=seconds)
    return graph


@settings(deadline=None)
@given(ROWS)
def test_earliest_and_latest_times_are_the_networks_shortest_distances(rows: list[Row]) -> None:
    made, lasts = protocol(rows), [row[1] for row in rows]
    graph = graph_of(rows, lasts)
    found = schedule(made, order_of(made), [True] * len(rows), least)
    if networkx.negative_edge_cycle(graph):
        assert found.missed
        return
    assert not found.missed
    back = networkx.single_source_bellman_ford_path_length(graph.reverse(), "-")
    at = {one.step: one for one in found.rows}
    assert [at[number].starts for number in range(len(rows))] == [
        -back[f"start{number}"] for number in range(len(rows))
    ]
    total = max(-back[f"end{number}"] for number in range(len(rows)))
    assert found.total == total
    for number in range(len(rows)):  # nothing ends after the total: a bound from the beginning to each end
        graph.add_edge("-", f"end{number}", weight=total)
    away = networkx.single_source_bellman_ford_path_length(graph, "-")
    assert [at[number].latest_start for number in range(len(rows))] == [away[f"start{n}"] for n in range(len(rows))]


@settings(deadline=None, max_examples=60)
@given(ROWS)
def test_nothing_clashes_just_where_every_mixture_of_durations_has_times(rows: list[Row]) -> None:
    """Every corner of the ranges, not only all short and all long, has times that keep everything; and none lacks them.

    Between the corners the solver looks: it is asked for durations in their ranges without any times.
    """
    made = protocol(rows)
    clash = bool(clashes(made, order_of(made)))
    corners = product(*((row[1], row[1] + row[2]) for row in rows))
    assert clash == any(networkx.negative_edge_cycle(graph_of(rows, list(lasts))) for lasts in corners)
    if not clash:
        assert no_durations_without_times(rows)


def no_durations_without_times(rows: list[Row]) -> bool:
    """Whether a solver finds no durations under which times lack.

    By Farkas' lemma times lack just where the bounds, each taken some number of times, add up to "0 is at most less
    than 0". With one bound a time at most that is a closed chain, so the solver picks the bounds of a chain.
    """
    solver = z3.Solver()
    lasts = [z3.Int(f"lasts{number}") for number in range(len(rows))]
    for seconds, row in zip(lasts, rows, strict=True):
        solver.add(seconds >= row[1], seconds <= row[1] + row[2])
    found = bounds(rows, list(lasts))
    taken = [z3.Bool(f"taken{number}") for number in range(len(found))]
    for moment in {moment for early, late, _ in found for moment in (early, late)}:
        going = z3.Sum([z3.If(one, 1, 0) for one, (early, _, _) in zip(taken, found, strict=True) if early == moment])
        coming = z3.Sum([z3.If(one, 1, 0) for one, (_, late, _) in zip(taken, found, strict=True) if late == moment])
        solver.add(going == coming)
    solver.add(z3.Sum([z3.If(one, seconds, 0) for one, (_, _, seconds) in zip(taken, found, strict=True)]) < 0)
    return bool(solver.check() == z3.unsat)


@settings(deadline=None, max_examples=40)
@given(st.lists(st.tuples(st.sampled_from(ROLES), st.integers(0, 3), st.just(0), st.integers(0, 2), st.integers(0, 2),
                          st.integers(0, 4)), min_size=2, max_size=4))  # fmt: skip
def test_tiny_networks_tried_out(rows: list[Row]) -> None:
    """Every assignment of whole starts up to a bound; whole bounds have whole solutions if they have any."""
    made, lasts = protocol(rows), [row[1] for row in rows]
    found = schedule(made, order_of(made), [True] * len(rows), least)
    span = sum(lasts) + sum(row[5] for row in rows)
    assume(span <= 12)  # more is too much to try out
    best = None
    for starts in product(range(span + 1), repeat=len(rows)):
        at = {"-": 0, **{f"start{n}": one for n, one in enumerate(starts)}}
        at |= {f"end{n}": one + lasts[n] for n, one in enumerate(starts)}
        if all(at[late] - at[early] <= seconds for early, late, seconds in bounds(rows, lasts)):
            total = max(start + lasted for start, lasted in zip(starts, lasts, strict=True))
            best = total if best is None else min(best, total)
    assert (best is None) == bool(found.missed)
    if best is not None:
        assert found.total == best


def test_a_wait_counts_without_an_after() -> None:
    made = written(
        "      - {id: one, role: a, do: Go., takes: 60 s}\n"
        "      - {id: two, role: b, do: Go., waits: [{for: one, at_least: 30 s}], takes: 10 s}\n"
    )
    assert schedule(made, order_of(made), [True, True]).total == 100


def test_a_wait_for_what_comes_later_is_left_out_and_named() -> None:
    made = written(
        "      - {id: one, role: a, do: Go., waits: [{for: two, at_least: 30 s}], takes: 10 s}\n"
        "      - {id: two, role: a, do: Go., takes: 10 s}\n"
    )
    plan = plan_of(made, order_of(made), [True, True])
    assert [(one.step, one.of) for one in plan.left_out] == [(0, 1)]
    assert timed(made, plan).total == 20


def test_two_waits_across_lanes_that_wait_for_each_other_leave_one_out() -> None:
    made = written(
        "      - {id: one, role: a, do: Go., waits: [{for: two, at_least: 30 s}]}\n"
        "      - {id: two, role: b, do: Go., waits: [{for: one, at_least: 30 s}]}\n"
    )
    plan = plan_of(made, order_of(made), [True, True])
    assert len(plan.left_out) == 1
    assert set(plan.sequence) == {0, 1}


def test_only_the_limit_that_can_not_be_kept_is_dropped() -> None:
    made = written(
        "      - {id: one, role: a, do: Go., takes: 10 s}\n"
        "      - {id: two, role: a, do: Go., takes: 60 s, within: [{of: one, at_most: 30 s}]}\n"
        "      - {id: three, role: b, do: Go., takes: 5 s}\n"
        "      - {id: four, role: a, do: Go., after: [three], takes: 5 s, within: [{of: three, at_most: 20 s}]}\n"
    )
    found = schedule(made, order_of(made), [True] * 4)
    assert [(one.step, one.of) for one in found.missed] == [(1, 0)]
    starts = {one.step: one.starts for one in found.rows}
    assert starts[2] == 70 + 5 - 20 - 5  # held back, so that it ends 20 seconds before step four does


def person(*roles: str, name: str = "nurse") -> Person:
    span = written("      - {id: one, role: a, do: Go.}\n").span
    return Person(Text(name, span), tuple(Text(role, span) for role in roles))


@settings(deadline=None)
@given(ROWS)
def test_one_person_does_one_thing_at_a_time(rows: list[Row]) -> None:
    made = protocol(rows)
    order, done = order_of(made), [True] * len(rows)
    plan = plan_of(made, order, done)
    merged = with_people(plan, [person("a", "b")], lasting(made, done))
    apart, together = timed(made, plan, likely), timed(made, merged, likely)
    assert together.total >= apart.total or apart.missed
    mine = sorted((one.starts, one.ends) for one in together.rows if rows[one.step][0] in ("a", "b"))
    assert all(end <= start for (_, end), (start, _) in pairwise(mine))
    assert together.busy["nurse"] == apart.busy.get("a", 0) + apart.busy.get("b", 0)
    everything = with_people(plan, [person("a", "b", "c")], lasting(made, done))
    alone = timed(made, everything, likely)
    assert alone.total >= sum(row[1] for row in rows)


def test_whoever_is_free_does_what_can_start_first() -> None:
    """Common practice, no source: nobody stands idle while paint dries if something else can be done."""
    made = written(
        "      - {id: paint, role: a, do: Go., takes: 10 s}\n"
        "      - {id: dry, role: a, do: Go., waits: [{for: paint, at_least: 60 s}], takes: 5 s}\n"
        "      - {id: fetch, role: b, do: Go., takes: 30 s}\n"
        "      - {id: help, role: a, with: [b], do: Go., takes: 5 s}\n"
    )
    plan = plan_of(made, order_of(made), [True] * 4)
    merged = with_people(plan, [person("a", "b")], lasting(made, [True] * 4))
    starts = {one.step: one.starts for one in timed(made, merged).rows}
    assert starts == {0: 0, 2: 10, 1: 70, 3: 75}
    assert [(number, one.id.value) for number, one in both_at_once(made, [person("a", "b")])] == [(3, "nurse")]


@pytest.mark.parametrize("presented", [True, False])
def test_how_long_a_field_stands(presented: bool) -> None:
    """Opened by hand: covered at 60 s, used at 200 s or 260 s, given up at 320 s."""
    head = "surfaces: {table: {}}\nsites: {skin: {}}\npacks: {pack: {holds: {cover: {}, probe: {}}}}\n"
    steps = (
        "      - {id: open, role: b, do: Go., takes: 30 s, opens: [pack]}\n"
        "      - {id: lay, role: a, do: Go., after: [open], takes: 30 s, covers: {table: cover}}\n"
        + ("      - {id: put, role: b, do: Go., takes: 10 s, presents: {probe: table}}\n" if presented else "")
        + "      - {id: rest, role: c, do: Go., takes: 200 s}\n"
        "      - {id: use, role: a, do: Go., after: [rest], takes: 60 s, uses: {probe: skin}}\n"
        "      - {id: again, role: a, do: Go., takes: 60 s, uses: {probe: skin}}\n"
        "      - {id: end, role: a, do: Go., uncovers: [table]}\n"
    )
    made = written(steps, head)
    order, done = order_of(made), [True] * len(made.steps)
    timed_ = schedule(made, order, done)
    starts, ends = {one.step: one.starts for one in timed_.rows}, {one.step: one.ends for one in timed_.rows}
    found = {(one.kind, one.subject): one for one in standings(made, order, done)}
    assert found["field", "table"].before_use(starts, ends) == 140
    assert found["field", "table"].in_all(starts, ends) == 260
    assert found["pack", "pack"].before_use(starts, ends) == 0
    assert found["pack", "pack"].in_all(starts, ends) is None
