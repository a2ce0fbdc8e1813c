"""Answers to questions against the second reading, and a breach against the same breach written into the protocol."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import HealthCheck, assume, event, given, settings
from hypothesis import strategies as st

from stepfield import asepsis
from stepfield.checks import ask_before, ask_breach, ask_can
from tests.oracle.asking import (
    against_touching,
    beginnings,
    can_be_walked,
    lost_with,
    may_repeat,
    moments_before,
    new_slips,
    read,
    things_told,
    with_breach,
)
from tests.oracle.naive import LEVELS, PARTS
from tests.oracle.naive_runs import TooManyStatesError
from tests.oracle.near_sensible import near_sensible
from tests.oracle.small_protocols import small_protocols

Case = dict[str, Any]
CALM = settings(deadline=None, database=None, suppress_health_check=list(HealthCheck), print_blob=True)
SAME_EVERY_TIME = settings(CALM, max_examples=150, derandomize=True)
FRESH = settings(CALM, max_examples=250)
GRAVEST_FIRST = ("would-contaminate", "contaminated-by", "soils-skin", "worn", "gone", "not-there-yet")
CASES = st.one_of(small_protocols(), near_sensible())


def step_ids(case: Case) -> list[str]:
    return [step["id"] for phase in case["protocol"]["phases"] for step in phase["steps"]]


@st.composite
def asked(draw: Any) -> tuple[Case, str, str]:
    """A protocol, one of its steps, and a subject: half the time one that some step needs, or somebody's hands."""
    case = draw(CASES)
    assume(step_ids(case))
    (protocol,) = read(case).protocols
    needed = {need.subject.value for step in protocol.steps for need in step.needs}
    likely = [*sorted(needed), *(f"{role}.hands" for role in case["protocol"]["team"])]
    subjects = st.one_of(st.sampled_from(sorted(protocol.subjects)), st.sampled_from(likely))
    return case, draw(st.sampled_from(step_ids(case))), draw(subjects)


def before_agrees(case: Case, step: str) -> None:
    found = moments_before(case, step)
    answer = ask_before(read(case), "small", step)
    assert answer.proved
    people = answer.result.people
    event(f"reached: {bool(people)}")
    assert [person.role for person in people] == (case["protocol"]["team"] if found else [])
    for person in people:
        for part in person.parts:
            told = [(world.outside(part.subject), world) for world, _, _ in found]
            levels = [world.level[outside] for outside, world in told]
            assert (part.level.word, part.highest.word) == (LEVELS[min(levels)], LEVELS[max(levels)])
            assert {cover or part.subject for cover in part.coverings} == {outside for outside, _ in told}
            soiled = {outside in world.soiled for outside, world in told}
            assert part.soiled == ("maybe" if len(soiled) == 2 else "yes" if soiled == {True} else "no")
        assert [part.subject for part in person.parts] == [f"{person.role}.{part}" for part in PARTS[:3]]
        verdicts = {
            thing: [against_touching(world, person.role, thing) for world, _, _ in found]
            for thing in things_told(found[0][0].scene, person.role)
        }
        assert set(person.safe) == {thing for thing, why in verdicts.items() if set(why) == {None}}
        assert {(one.thing, one.reason, one.always) for one in person.not_now} == {
            (thing, min(filter(None, why), key=GRAVEST_FIRST.index), None not in why)
            for thing, why in verdicts.items()
            if set(why) != {None}
        }


def can_agrees(case: Case, subject: str) -> None:
    """Every level, before every step."""
    found, protocol_set = beginnings(case), read(case)
    for step in step_ids(case):
        levels = {world.level[world.outside(subject)] for world, _, _ in found[step]}
        for number, level in enumerate(LEVELS):
            answer = ask_can(protocol_set, "small", f"{subject} {level}", step).result
            holds = {have >= number if number else have == 0 for have in levels}
            expected = "never" if not holds else "some" if len(holds) == 2 else "every" if True in holds else "no"
            event(f"holds: {expected}")
            assert answer.holds == expected
            for course in (answer.so, answer.not_so):
                assert course is None or can_be_walked(case, [*course.steps, (step, None)])


def breach_agrees(case: Case, step: str, subject: str) -> None:
    changed = with_breach(case, subject, step)
    proof = asepsis.prove(asepsis.compile_protocol(read(changed).protocols[0], read(changed).requirements))
    keys = {told(proof.graph, seen.slip) for seen in proof.occurrences}
    assume(not any(at == "breach" for _, at, _ in keys))
    answer = ask_breach(read(case), "small", subject, step)
    assert answer.proved
    result = answer.result
    failures = {(one.slip.kind, one.step, one.slip.subject): one.course for one in result.failures}
    event(f"fails: {bool(failures)}")
    old = asepsis.prove(asepsis.compile_protocol(read(case).protocols[0], read(case).requirements))
    assert set(failures) == keys - {told(old.graph, seen.slip) for seen in old.occurrences}
    assert {slip: len(course.steps) + 1 for slip, course in failures.items()} == new_slips(case, changed)
    assert {one.subject for one in result.lost} == lost_with(case, subject, step)
    event(f"loses: {bool(result.lost)}")
    for course in (*failures.values(), *(one.course for one in result.lost)):
        assert can_be_walked(case, list(course.steps))
        assert can_be_walked(case, [*course.steps[: course.breach_after], (step, None)])


def told(graph: asepsis.StepGraph, slip: asepsis.Slip) -> tuple[str, str | None, str]:
    return slip.kind, None if slip.step is None else graph.steps[slip.step].id.value, slip.subject


def small(check: Any, *what: Any) -> None:
    """Passes over a case that is too large for the slow way."""
    try:
        check(*what)
    except TooManyStatesError:
        assume(False)


@SAME_EVERY_TIME
@given(asked())
def test_before_a_step(question: tuple[Case, str, str]) -> None:
    small(before_agrees, *question[:2])


@SAME_EVERY_TIME
@given(asked())
def test_whether_it_can_be(question: tuple[Case, str, str]) -> None:
    small(can_agrees, question[0], question[2])


@SAME_EVERY_TIME
@given(asked())
def test_a_breach(question: tuple[Case, str, str]) -> None:
    """A step that may come again is left out here: the written breach would come with it every time."""
    assume(not may_repeat(question[0], question[1]))
    small(breach_agrees, *question)


@pytest.mark.slow
@FRESH
@given(asked())
def test_many_fresh_questions(question: tuple[Case, str, str]) -> None:
    small(before_agrees, *question[:2])
    small(can_agrees, question[0], question[2])
    assume(not may_repeat(question[0], question[1]))
    small(breach_agrees, *question)
