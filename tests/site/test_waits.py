"""What a person waits for: enough to keep the checker's order, whatever is skipped, and nothing idle."""

from __future__ import annotations

import itertools
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from stepfield.asepsis import Order
from stepfield.language.model import Protocol
from stepfield.pages.waits import Waiting, implied
from tests.site.small import CLINIC, checked, reading

ROLES = ("surgeon", "scrub", "circulating")
CHOICES = {
    "one": {"title": "One", "options": {"a": "A", "b": "B"}},
    "two": {"title": "Two", "options": {"a": "A", "b": "B"}},
}


def told(phases: list[list[dict[str, Any]]]) -> tuple[Protocol, Order, tuple[Waiting, ...]]:
    protocol = {
        "kind": "protocol",
        "title": "Waits",
        "team": list(ROLES),
        "choices": CHOICES,
        "phases": [{"phase": f"p-{number}", "title": "P", "steps": steps} for number, steps in enumerate(phases)],
    }
    found = reading(checked({"wrist": protocol}, clinic=CLINIC))
    return found.protocol, found.examined.order, found.waits


def step(name: str, role: str, **more: Any) -> dict[str, Any]:
    return {"id": name, "role": role, "do": "Do it.", **more}


def pairs(phases: list[list[dict[str, Any]]]) -> list[tuple[str, str, str]]:
    protocol, _, waits = told(phases)
    names = [one.id.value for one in protocol.steps]
    return [(names[wait.step], wait.role, names[wait.until]) for wait in waits]


def test_only_other_lanes_are_waited_for() -> None:
    steps = [step("a", "scrub"), step("b", "scrub"), step("c", "surgeon", after=["b"])]
    assert pairs([steps]) == [("c", "surgeon", "b")]


def test_a_shared_step_waits_for_what_the_others_do_before_it() -> None:
    steps = [step("a", "scrub"), step("b", "surgeon"), step("c", "surgeon", **{"with": ["scrub"]})]
    assert pairs([steps]) == [("c", "scrub", "b"), ("c", "surgeon", "a")]


def test_earlier_phases_are_not_told_again() -> None:
    assert pairs([[step("a", "scrub")], [step("b", "surgeon", after=["a"])]]) == []


def test_waiting_for_a_whole_use_of_a_part_is_waiting_for_its_last_step() -> None:
    steps = [step("a", "scrub"), step("b", "scrub"), step("c", "surgeon", after=["a", "b"])]
    assert pairs([steps]) == [("c", "surgeon", "b")]


def test_what_was_waited_for_is_not_told_twice() -> None:
    steps = [step("a", "scrub"), step("b", "surgeon", after=["a"]), step("c", "surgeon", after=["a"])]
    assert pairs([steps]) == [("b", "surgeon", "a")]


def test_a_wait_that_may_have_been_skipped_is_told_again() -> None:
    steps = [
        step("a", "scrub"),
        step("b", "surgeon", after=["a"], when={"one": "a"}),
        step("c", "surgeon"),
    ]
    assert pairs([steps]) == [("b", "surgeon", "a"), ("c", "surgeon", "a")]


def test_behind_a_step_that_may_be_skipped_what_comes_before_it_is_told_too() -> None:
    steps = [step("a", "scrub"), step("b", "scrub", when={"one": "a"}), step("c", "surgeon", after=["b"])]
    assert pairs([steps]) == [("c", "surgeon", "a"), ("c", "surgeon", "b")]


def test_under_the_same_condition_the_step_itself_is_enough() -> None:
    steps = [
        step("a", "scrub"),
        step("b", "scrub", when={"one": "a"}),
        step("c", "surgeon", after=["b"], when={"one": "a"}),
    ]
    assert pairs([steps]) == [("c", "surgeon", "b")]


def test_loops_have_no_waits() -> None:
    steps = [step("a", "scrub", after=["b"]), step("b", "surgeon", after=["a"])]
    assert pairs([steps]) == []


def test_a_condition_is_implied_by_a_narrower_one() -> None:
    protocol, _, _ = told(
        [[step("a", "scrub", when={"one": "a", "two": ["a", "b"]}), step("b", "scrub", when={"one": "a"})]]
    )
    narrow, wide = (one.when for one in protocol.steps)
    assert implied((), wide)
    assert not implied(wide, ())
    assert implied(wide, narrow)
    assert not implied(narrow, wide)


@st.composite
def phases(draw: st.DrawFn) -> list[list[dict[str, Any]]]:
    """One phase of a few steps in random lanes, some shared, some conditional, waiting for earlier ones."""
    found: list[dict[str, Any]] = []
    for number in range(draw(st.integers(2, 8))):
        people = draw(st.lists(st.sampled_from(ROLES), min_size=1, max_size=2, unique=True))
        more: dict[str, Any] = {"with": people[1:]} if len(people) > 1 else {}
        earlier = [one["id"] for one in found]
        if earlier and draw(st.booleans()):
            more["after"] = draw(st.lists(st.sampled_from(earlier), min_size=1, max_size=2, unique=True))
        if draw(st.integers(0, 2)) == 0:
            names = draw(st.lists(st.sampled_from(sorted(CHOICES)), min_size=1, max_size=2, unique=True))
            more["when"] = {name: draw(st.sampled_from(["a", "b"])) for name in names}
        found.append(step(f"s-{number}", people[0], **more))
    return [found]


@settings(max_examples=300, deadline=None)
@given(phases())
def test_who_does_their_own_steps_in_turn_and_keeps_the_waits_keeps_the_order(
    steps: list[list[dict[str, Any]]],
) -> None:
    """The pages' order (own lane, own waits; skipped steps wait for nothing) holds the checker's, in every case."""
    protocol, order, waits = told(steps)
    ancestors = order.ancestors()
    for picked in itertools.product("ab", repeat=len(CHOICES)):
        settled = dict(zip(CHOICES, picked, strict=True))
        done = [number for number, one in enumerate(protocol.steps) if is_done(one.when, settled)]
        before: dict[int, set[int]] = {number: set() for number in done}
        for lane in order.lanes.values():
            own = [number for number in lane if number in before]
            for earlier, later in itertools.pairwise(own):
                before[later].add(earlier)
        for wait in waits:
            if wait.step in before and wait.until in before:
                before[wait.step].add(wait.until)
        for number in done:
            missing = {other for other in done if ancestors[number] >> other & 1} - reached(number, before)
            assert not missing, (settled, number, missing)


def is_done(when: Any, settled: dict[str, str]) -> bool:
    return all(settled[part.name.value] in {option.value for option in part.options} for part in when)


def reached(start: int, before: dict[int, set[int]]) -> set[int]:
    found: set[int] = set()
    stack = [start]
    while stack:
        for other in before[stack.pop()]:
            if other not in found:
                found.add(other)
                stack.append(other)
    return found
