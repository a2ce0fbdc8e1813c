"""Temporal networks, held to a general-purpose graph library and to a solver: both were written by others."""

from __future__ import annotations

import networkx
import pytest
import z3
from hypothesis import given
from hypothesis import strategies as st

from stepfield.planning import Bound, Network

MOMENTS = 6
BOUNDS = st.lists(
    st.builds(
        Bound,
        st.integers(0, MOMENTS - 1),
        st.integers(0, MOMENTS - 1),
        st.integers(-8, 12).map(float),
        st.just("why"),
    ).filter(lambda one: one.early != one.late),
    max_size=14,
)


def as_graph(bounds: list[Bound[str]]) -> networkx.MultiDiGraph:
    graph = networkx.MultiDiGraph()
    graph.add_nodes_from(range(MOMENTS))
    for bound in bounds:
        graph.add_edge(bound.early, bound.late, weight=bound.most)
    return graph


@given(BOUNDS)
def test_a_clash_is_a_negative_cycle_and_the_other_way_round(bounds: list[Bound[str]]) -> None:
    chain = Network(MOMENTS, bounds).clash()
    assert bool(chain) == networkx.negative_edge_cycle(as_graph(bounds))
    if chain:
        assert sum(one.most for one in chain) < 0
        assert all(one in bounds for one in chain)
        for one, other in zip(chain, (*chain[1:], chain[0]), strict=True):
            assert one.late == other.early


@given(BOUNDS)
def test_a_solver_finds_times_just_where_nothing_clashes(bounds: list[Bound[str]]) -> None:
    solver = z3.Solver()
    times = [z3.Real(f"t{number}") for number in range(MOMENTS)]
    for bound in bounds:
        solver.add(times[bound.late] - times[bound.early] <= bound.most)
    assert (solver.check() == z3.sat) == (not Network(MOMENTS, bounds).clash())


@given(BOUNDS)
def test_earliest_and_latest_times_are_shortest_distances(bounds: list[Bound[str]]) -> None:
    network, graph = Network(MOMENTS, bounds), as_graph(bounds)
    if network.clash():
        in_cycle = network.clash()[0].early
        with pytest.raises(ValueError, match="can't all be kept"):
            network.latest(in_cycle, 0.0)
        return
    away = networkx.single_source_bellman_ford_path_length(graph, 0)
    assert network.latest(0, 0.0) == [away.get(moment, float("inf")) for moment in range(MOMENTS)]
    back = networkx.single_source_bellman_ford_path_length(graph.reverse(), 0)
    assert network.earliest(0) == [-back.get(moment, float("inf")) for moment in range(MOMENTS)]
