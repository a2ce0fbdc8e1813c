"""The orders of whole protocols: against walking through every one of them by the language's meaning alone."""

from __future__ import annotations

import itertools
import json
import math
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import networkx  # type: ignore[import-untyped]
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from stepfield.asepsis import Count, compile_protocol, count_orders
from stepfield.asepsis.extensions import WORK, PartialOrder
from stepfield.language import build_set, read_set
from stepfield.language.model import Protocol
from tests.oracle.agreement import read, tracked
from tests.oracle.naive_runs import Place, Walk
from tests.oracle.small_protocols import small_protocols

PROTOCOLS = Path(__file__).parents[2] / "protocols"
CALM = settings(
    max_examples=250, deadline=None, database=None, derandomize=True, suppress_health_check=list(HealthCheck)
)
Case = dict[str, Any]


def walked(protocol: Case) -> int:
    """In how many ways a case can go through in one pass, step by step as the second reading of the language has it."""
    steps = [step for phase in protocol["phases"] for step in phase["steps"]]
    looked_at = {name for step in steps for name in step.get("when", {})}
    told = tracked({"protocol": protocol})
    choices = [
        [(name, option) for option in choice["options"]]
        for name, choice in protocol.get("choices", {}).items()
        if name in looked_at
    ]
    return sum(_ways(Walk(protocol, settling), told) for settling in itertools.product(*choices))


def _ways(walk: Walk, told: set[str]) -> int:
    @cache
    def from_here(place: Place) -> int:
        ready = walk.ready(place)
        return sum(from_here(there) for name in ready for there in _onwards(walk, told, place, name)) if ready else 1

    return from_here(walk.pass_over(Place()))


def _onwards(walk: Walk, told: set[str], place: Place, name: str) -> Iterator[Place]:
    """Where the step leads, once for each answer that does not go back; only once if nobody looks at the answer."""
    again = walk.steps[name].get("repeat", {}).get("answer")
    onwards = [there for answer, there in walk.after(place, name) if answer is None or answer != again]
    yield from onwards if name in told else onwards[:1]


def counted(protocol: Protocol, **bounds: int) -> Count:
    return count_orders(compile_protocol(protocol), **bounds)


def only(case: Case) -> Protocol:
    (protocol,) = read(case).protocols
    return protocol


@CALM
@given(small_protocols(9))
def test_every_small_protocol_has_as_many_orders_as_can_be_walked(case: Case) -> None:
    assert counted(only(case)) == Count.of(walked(case["protocol"]))


@CALM
@given(small_protocols(8), st.integers(0, 60), st.integers(0, 60))
def test_bounds_hold_whatever_the_count_may_cost(case: Case, work: int, looks: int) -> None:
    count = counted(only(case), work=work, looks=looks)
    assert count.at_least <= walked(case["protocol"]) <= count.at_most


@st.composite
def asked_late(draw: Any) -> Case:
    """A small protocol in which some steps have a condition on a question that need not come before them."""
    case: Case = draw(small_protocols(6))
    steps = [step for phase in case["protocol"]["phases"] for step in phase["steps"]]
    asking = draw(st.sampled_from(steps))
    asking.setdefault("asks", {"question": "Whole?", "answers": ["damaged", "whole"]})
    for step in draw(st.lists(st.sampled_from(steps), min_size=1, max_size=3)):
        step.setdefault("when", {})[asking["id"]] = draw(st.sampled_from(asking["asks"]["answers"]))
    return case


@CALM
@given(asked_late())
def test_bounds_hold_where_a_question_may_come_too_late(case: Case) -> None:
    count = counted(only(case))
    assert count.at_least <= walked(case["protocol"]) <= count.at_most


def plain(protocol: Protocol) -> Case:
    """The order of a protocol as a file without parts would hold it."""
    return {
        "choices": {
            str(choice.id): {"options": [str(option) for option, _ in choice.options]} for choice in protocol.choices
        },
        "phases": [{"steps": [_plain_step(step) for step in phase.steps]} for phase in protocol.phases],
    }


def _plain_step(step: Any) -> Case:
    said: Case = {
        "id": str(step.id),
        "role": str(step.role),
        "with": [str(name) for name in step.helpers],
        "after": [str(name) for name in step.after],
        "when": {str(part.name): [str(option) for option in part.options] for part in step.when},
    }
    if step.asks:
        said["asks"] = {"answers": [str(answer) for answer in step.asks.answers]}
    if step.repeat:
        said["repeat"] = {"from": str(step.repeat.start), "answer": str(step.repeat.answer)}
    return said


DEMONSTRATION = {"skin-lesion": 6048, "toenail": 8064, "wrist-release": 702535680}
"""As counted by walking through them."""


@pytest.mark.parametrize("protocol", read_set(PROTOCOLS).protocols, ids=lambda protocol: protocol.id)
def test_the_demonstration_has_as_many_orders_as_can_be_walked(protocol: Protocol) -> None:
    assert walked(plain(protocol)) == DEMONSTRATION[protocol.id]
    assert counted(protocol) == Count.of(DEMONSTRATION[protocol.id])


def test_networkx_lists_the_orders_of_each_phase_of_the_toenail() -> None:
    """No choices there, and every question has one answer that goes on: the phases, listed one by one, multiply."""
    (protocol,) = (one for one in read_set(PROTOCOLS).protocols if one.id == "toenail")
    walk = Walk(plain(protocol), ())
    listed = []
    for phase in protocol.phases:
        names = [str(step.id) for step in phase.steps]
        graph = networkx.DiGraph([(other, name) for name in names for other in walk.before[name] if other in names])
        graph.add_nodes_from(names)
        listed.append(sum(1 for _ in networkx.all_topological_sorts(graph)))
    assert math.prod(listed) == DEMONSTRATION["toenail"]


def built(phases: list[Case], roles: int, **said: Any) -> Protocol:
    """A protocol of so many roles, r0 and so on."""
    team = [f"r{number}" for number in range(roles)]
    clinic = {"clinic": "Quillhaven Day Surgery", "roles": {role: {} for role in team}}
    case = {"kind": "protocol", "title": "A small case", "team": team, "phases": phases, **said}
    files = {"protocols/clinic.yaml": clinic, "protocols/small.yaml": case}
    protocol_set = build_set({path: json.dumps(text).encode() for path, text in files.items()})
    assert [problem.message for problem in protocol_set.problems] == []
    return protocol_set.protocols[0]


def step(name: str, role: int, **said: Any) -> Case:
    return {"id": name, "role": f"r{role}", "do": "Do it.", **said}


ON_OFF = {"options": {"on": "On", "off": "Off"}}
ASKS = {"question": "Whole?", "answers": ["whole", "damaged"]}


def test_settlings_count_each_even_if_the_same_steps_follow() -> None:
    """By hand: two steps either way round with the lamp on, one alone without; nobody looks at the bell."""
    steps = [step("wash", 0), step("light", 1, when={"lamp": "on"})]
    choices = {"lamp": {"options": {"on": "On", "off": "Off", "none": "None"}}, "bell": ON_OFF}
    assert counted(built([{"phase": "all", "steps": steps}], 2, choices=choices)) == Count.of(2 + 1 + 1)


def test_a_skipped_step_keeps_the_order_through_it() -> None:
    """By hand: last waits for first also with nothing in between; other comes at any of 4 or 3 places."""
    steps = [step("first", 0), step("between", 1, after=["first"], when={"lamp": "on"})]
    steps += [step("last", 2, after=["between"]), step("other", 3)]
    assert counted(built([{"phase": "all", "steps": steps}], 4, choices={"lamp": ON_OFF})) == Count.of(4 + 3)


def test_an_answer_counts_where_somebody_looks_at_it() -> None:
    """By hand: whole, and used; or damaged, and not used. Nobody looks at the second answer."""
    steps = [step("look", 0, asks=ASKS), step("use", 0, when={"look": "whole"}), step("ask", 0, asks=ASKS)]
    assert counted(built([{"phase": "all", "steps": steps}], 1)) == Count.of(2)


def test_one_pass_has_no_answer_that_goes_back() -> None:
    """By hand: only whole goes on."""
    steps = [step("fetch", 0), step("look", 0, asks=ASKS, repeat={"from": "fetch", "answer": "damaged"})]
    steps += [step("use", 0, when={"look": "whole"})]
    assert counted(built([{"phase": "all", "steps": steps}], 1)) == Count.of(1)


@pytest.mark.parametrize("looked_at", [True, False])
def test_a_question_that_only_ever_goes_back_lets_no_case_through(looked_at: bool) -> None:
    asks = {"question": "Whole?", "answers": ["damaged"]}
    steps = [step("look", 0, asks=asks, repeat={"from": "look", "answer": "damaged"})]
    steps += [step("use", 0, **({"when": {"look": "damaged"}} if looked_at else {}))]
    protocol = built([{"phase": "all", "steps": steps}], 1)
    assert counted(protocol) == Count.of(0)
    assert counted(protocol, looks=0).at_least == 0


def test_many_choices_that_are_soon_settled_do_not_multiply_the_work() -> None:
    """64 choices, each of which decides over one of two steps that nobody orders: (2! + 1!) for each phase."""
    choices = {f"c{number}": ON_OFF for number in range(64)}
    phases = [
        {"phase": f"p{n}", "steps": [step(f"a{n}", 0), step(f"b{n}", 1, when={f"c{n}": "on"})]} for n in range(64)
    ]
    assert counted(built(phases, 2, choices=choices)) == Count.of(3**64)


def test_many_choices_at_once_are_bracketed() -> None:
    """64 steps side by side, each done or not: the sum over k of C(64, k) k! lies between the bounds told."""
    choices = {f"c{number}": ON_OFF for number in range(64)}
    steps = [step(f"s{number}", number, when={f"c{number}": "on"}) for number in range(64)]
    count = counted(built([{"phase": "all", "steps": steps}], 64, choices=choices))
    assert not count.exact
    assert count.at_least >= 2**64
    assert count.at_least <= sum(math.perm(64, number) for number in range(65)) <= count.at_most


def lanes(people: int, length: int, across: int) -> PartialOrder:
    """So many lanes of that length; at every so many steps, each waits for the step before in the next lane."""
    below: list[int] = []
    for at, person in itertools.product(range(length), range(people)):
        direct = [(at - 1) * people + person] if at else []
        if at and across and (at + person) % across == 0:
            direct.append((at - 1) * people + (person + 1) % people)
        mask = 0
        for lower in direct:
            mask |= below[lower] | 1 << lower
        below.append(mask)
    return PartialOrder(below)


def test_ten_thousand_steps_are_counted_or_bracketed() -> None:
    everything = (1 << 10_000) - 1
    mixed = math.factorial(10_000) // math.factorial(1_000) ** 10
    assert lanes(1, 10_000, 0).count(everything) == Count.of(1)
    assert lanes(10, 1_000, 0).count(everything) == Count.of(mixed)
    count = lanes(10, 1_000, 7).count(everything)
    assert not count.exact
    assert 1 < count.at_least < count.at_most <= mixed


def test_the_work_for_one_phase_leaves_half_for_others() -> None:
    wide = lanes(6, 33, 3)
    assert not wide.count((1 << 198) - 1).exact
    assert wide.work.left > WORK * 0.49
