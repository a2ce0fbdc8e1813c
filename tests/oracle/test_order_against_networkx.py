"""The order of a protocol is a graph: networkx, which knows nothing of protocols, has to agree on paths and loops."""

from __future__ import annotations

import itertools
import json
from pathlib import Path
from typing import Any

import networkx  # type: ignore[import-untyped]
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from stepfield.asepsis import Order, bits, order_of
from stepfield.language import build_set, read_set
from stepfield.language.model import Protocol

PROTOCOLS = Path(__file__).parents[2] / "protocols"
ROLES = ("scrub", "surgeon", "runner")
CALM = settings(
    max_examples=250, deadline=None, database=None, derandomize=True, suppress_health_check=list(HealthCheck)
)


@st.composite
def ordered_protocols(draw: Any, loops: bool = True) -> Protocol:
    """A protocol of up to twelve steps that do nothing but come one after the other."""
    count = draw(st.integers(1, 12))
    ids = [f"s{number}" for number in range(count)]
    steps: list[dict[str, Any]] = []
    for number, name in enumerate(ids):
        role, *others = draw(st.permutations(ROLES))
        after = draw(st.lists(st.sampled_from(ids if loops else ids[:number] or ["none"]), max_size=2, unique=True))
        helpers = draw(st.sampled_from(((), (), (), others[:1], others)))
        steps.append(
            {
                "id": name,
                "role": role,
                "with": list(helpers),
                "do": "Do it.",
                "after": [x for x in after if x != "none"],
            }
        )
    cuts = sorted({0, count, *draw(st.lists(st.integers(0, count), max_size=2))})
    phases = [{"phase": f"p{start}", "steps": steps[start:end]} for start, end in itertools.pairwise(cuts)]
    return protocol_of({"kind": "protocol", "title": "Order alone", "team": list(ROLES), "phases": phases})


def protocol_of(protocol: dict[str, Any]) -> Protocol:
    clinic = {"clinic": "Quillhaven Day Surgery", "roles": {role: {} for role in ROLES}}
    files = {"protocols/clinic.yaml": clinic, "protocols/order.yaml": protocol}
    protocol_set = build_set({path: json.dumps(said).encode() for path, said in files.items()})
    (found,) = protocol_set.protocols
    return found


def graph_of(protocol: Protocol) -> Any:
    """The three sources of order, straight from the text: an edge from each step to each that must come later."""
    graph = networkx.DiGraph()
    numbers = {step.id.value: number for number, step in enumerate(protocol.steps)}
    graph.add_nodes_from(numbers.values())
    earlier: list[int] = []
    for phase in protocol.phases:
        own = [numbers[step.id.value] for step in phase.steps]
        graph.add_edges_from((before, after) for before in earlier for after in own)
        for role in map(str, protocol.team):
            lane = [numbers[s.id.value] for s in phase.steps if role in {str(s.role), *map(str, s.helpers)}]
            networkx.add_path(graph, lane)
        earlier += own
    for number, step in enumerate(protocol.steps):
        graph.add_edges_from((numbers[str(name)], number) for name in step.after)
    return graph


def agrees(protocol: Protocol) -> Order:
    """Holds the order of a protocol against the graph and gives it back."""
    order, graph = order_of(protocol), graph_of(protocol)
    assert bool(order.loops) == (not networkx.is_directed_acyclic_graph(graph))
    for loop in order.loops:
        chain = [(link.earlier, link.later) for link in loop]
        assert all(graph.has_edge(*pair) for pair in chain)
        assert all(this[1] == following[0] for this, following in zip(chain, [*chain[1:], chain[0]], strict=True))
    if not order.loops:
        for number, mask in enumerate(order.ancestors()):
            assert set(bits(mask)) == networkx.ancestors(graph, number)
            assert set(bits(order.before[number])) <= networkx.ancestors(graph, number)
        position = {step: place for place, step in enumerate(order.sorted_steps())}
        assert sorted(position) == sorted(graph)
        assert all(position[before] < position[after] for before, after in graph.edges)
    return order


@CALM
@given(ordered_protocols(loops=False))
def test_order_without_loops_has_the_same_ancestors_and_a_sorted_form(protocol: Protocol) -> None:
    assert agrees(protocol).loops == ()


@CALM
@given(ordered_protocols())
def test_a_loop_is_found_where_there_is_one_and_every_loop_told_is_one(protocol: Protocol) -> None:
    agrees(protocol)


@CALM
@given(ordered_protocols())
def test_every_step_of_a_closed_group_is_near_a_loop_told(protocol: Protocol) -> None:
    """Each group of steps that wait for each other (a strongly connected component) has a loop told in it."""
    order = order_of(protocol)
    told = [{link.earlier for link in loop} for loop in order.loops]
    for group in networkx.strongly_connected_components(graph_of(protocol)):
        if len(group) > 1 or any(graph_of(protocol).has_edge(step, step) for step in group):
            assert any(loop <= group for loop in told)


@pytest.mark.parametrize("protocol", read_set(PROTOCOLS).protocols if PROTOCOLS.is_dir() else (), ids=lambda p: p.id)
def test_the_demonstration_set_has_the_order_networkx_reads(protocol: Protocol) -> None:
    agrees(protocol)
