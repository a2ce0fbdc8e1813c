"""Teams, held to every plan of small random protocols, and the demonstration set to the trade's common practice."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from stepfield.api import read_set
from stepfield.asepsis import order_of
from stepfield.language.model import Protocol
from stepfield.planning.scenarios import done_in as done_in_scenario
from stepfield.planning.scenarios import scenarios_of
from stepfield.planning.schedule import schedule
from stepfield.planning.shortest import scheduler
from stepfield.planning.teams import AtOnce, Late, Slipping, TooManyRolesError, partitions, teams_of
from tests.oracle.agreement import read
from tests.oracle.small_protocols import REQUIREMENTS, small_protocols
from tests.planning.every_plan import MOST, every_step, plans, scenarios, shortest_plan

Case = dict[str, Any]
CALM = settings(deadline=None, database=None, suppress_health_check=list(HealthCheck), print_blob=True)
SAME_EVERY_TIME = settings(CALM, max_examples=80, derandomize=True)
FRESH = settings(CALM, max_examples=2000)
DEMO = read_set(Path(__file__).parents[2] / "protocols")


ROLES = ("scrub", "surgeon", "runner")


@st.composite
def likely_protocols(draw: Any) -> Case:
    """A small protocol that often some orders keep clean and some do not: what gets dirty is used before, or wiped."""
    steps = []
    plain = draw(st.booleans())
    for number in range(draw(st.integers(2, MOST))):
        role, other = draw(st.permutations(ROLES))[:2]
        step: dict[str, Any] = {"id": f"s{number}", "role": role, "do": "Do it."}
        if draw(st.integers(0, 7)) == 0:
            step["with"] = [other]
        place = draw(st.sampled_from(("table", "trolley")))
        deeds: dict[str, Any] = {
            "use": {"needs": {place: "clean"}},
            "use again": {"needs": {place: "clean"}},
            "spoil": {"contaminates": [place]},
            "wipe": {"makes": {place: "clean"}},
            "wash": {"makes": {f"{role}.hands": "disinfected"}},
            "dirty": {"touches": ["bin"]},
            "work": {"needs": {f"{role}.hands": "clean"}},
            "near": {"needs": {f"{other}.hands": "clean"}},
            "glove": {"makes": {f"{role}.hands": "disinfected"}, "dons": ["gloves"]},
            "bare": {"doffs": ["gloves"]},
            "talk": {},
        }
        step |= deeds[draw(st.sampled_from(("use", "use again", "spoil", "wipe", "talk") if plain else sorted(deeds)))]
        steps.append(step)
    cut = draw(st.integers(1, len(steps)))
    phases = [{"phase": f"p{number}", "steps": part} for number, part in enumerate((steps[:cut], steps[cut:])) if part]
    items = {"bin": {}, "gloves": {"starts": "sterile", "worn_on": "hands", "barrier": "fluid-proof"}}
    protocol = {
        "kind": "protocol", "title": "A small case", "team": list(ROLES), "surfaces": {"table": {"starts": "clean"}},
        "sites": {"skin": {}}, "items": items, "phases": phases,
    }  # fmt: skip
    if draw(st.integers(0, 3)) == 0:
        protocol["choices"] = {"way": {"options": {"left": "Left", "right": "Right"}}}
        draw(st.sampled_from(steps))["when"] = {"way": "left"}
    clinic = {
        "clinic": "Quillhaven Day Surgery",
        "roles": {role: {} for role in ROLES},
        "surfaces": {"trolley": {"starts": "clean"}},
    }
    return timed(draw, {"clinic": clinic, "protocol": protocol, "evidence": {"requirements": REQUIREMENTS}})


@st.composite
def any_protocols(draw: Any) -> Case:
    """Any small protocol: few of them any team can do."""
    return timed(draw, draw(small_protocols(most_steps=MOST - 1)))


def timed(draw: Any, case: Case) -> Case:
    """Most steps say how long they take, and some a wait or a limit."""
    steps = every_step(case["protocol"])
    for number, step in enumerate(steps):
        takes = draw(st.sampled_from(("1 min", "2 min", "90 s", "5 min", None)))
        if takes is not None:
            step["takes"] = takes
        of = draw(st.sampled_from(steps[:number]))["id"] if number else None
        if of is not None and draw(st.integers(0, 7)) == 7:
            step["within"] = [{"of": of, "at_most": draw(st.sampled_from(("1 min", "3 min", "10 min")))}]
        if of is not None and draw(st.integers(0, 7)) == 7:
            step.setdefault("after", []).append(of)
            step["waits"] = [{"for": of, "at_least": draw(st.sampled_from(("30 s", "3 min")))}]
    return case


def held_to_every_plan(case: Case) -> None:
    (protocol,) = read(case).protocols
    requirements = read(case).requirements
    assume(not order_of(protocol).loops)
    exact = teams_of(protocol, requirements, scheduler())
    rough = teams_of(protocol, requirements, None)
    for team, without in zip(exact.judged, rough.judged, strict=True):
        slow = [shortest_plan(case, team.people, settled) for settled in scenarios(case["protocol"])]
        assert team.possible == (None not in slow), (team.people, slow, team.verdicts)
        if None in slow:
            limits = any("within" in step for step in every_step(case["protocol"]))
            assert without.possible is False or limits  # without a solver not every limit can be judged
            continue
        longest = max(one for one in slow if one is not None) * 60
        assert (team.least, team.most) == (longest, longest), (team.people, team.verdicts)
        assert without.least <= longest
        assert without.most is None or longest <= without.most


@SAME_EVERY_TIME
@given(any_protocols())
def test_every_team_of_any_small_protocol(case: Case) -> None:
    held_to_every_plan(case)


@SAME_EVERY_TIME
@given(likely_protocols())
def test_every_team_of_likely_small_protocols(case: Case) -> None:
    held_to_every_plan(case)


@pytest.mark.slow
@FRESH
@given(any_protocols() | likely_protocols())
def test_every_team_of_many_more(case: Case) -> None:
    held_to_every_plan(case)


def judged(case: Case, **asked: Any) -> dict[Any, Any]:
    """The teams of a case by who they are."""
    found = read(case)
    return {one.people: one for one in teams_of(found.protocols[0], found.requirements, scheduler(), **asked).judged}


def small(steps: list[Case], team: tuple[str, ...] = ROLES[:2]) -> Case:
    """A case of one phase."""
    protocol = {
        "kind": "protocol", "title": "A small case", "team": list(team), "surfaces": {"table": {"starts": "clean"}},
        "sites": {"skin": {}}, "items": {"bin": {}}, "phases": [{"phase": "all", "steps": steps}],
    }  # fmt: skip
    roles = {role: {} for role in (*team, "other")}
    clinic = {"clinic": "Quillhaven Day Surgery", "roles": roles, "surfaces": {}}
    return {"clinic": clinic, "protocol": protocol, "evidence": {"requirements": {}}}


def step(name: str, role: str, **said: Any) -> Case:
    return {"id": name, "role": role, "do": "Do it.", **said}


APART, ONE = (("scrub",), ("surgeon",)), (("scrub", "surgeon"),)


@pytest.mark.parametrize("roles", range(9))
def test_there_are_as_many_teams_as_ways_to_part_a_set(roles: int) -> None:
    """Bell numbers: OEIS A000110."""
    found = list(partitions([f"r{number}" for number in range(roles)]))
    assert len(set(found)) == len(found) == (1, 1, 2, 5, 15, 52, 203, 877, 4140)[roles]
    assert all(sorted(role for own in team for role in own) == [f"r{n}" for n in range(roles)] for team in found)


@pytest.mark.parametrize(("count", "known"), [(1, 1), (2, 3), (3, 19), (4, 219), (5, 4231)])
def test_the_slow_way_tries_every_plan(count: int, known: int) -> None:
    """Partial orders of so many labelled things: OEIS A001035."""
    assert len(plans(count)) == known


def test_one_person_works_one_step_at_a_time_and_two_at_once() -> None:
    found = judged(small([step("a", "scrub", takes="3 min"), step("b", "surgeon", takes="5 min")]))
    assert [(found[team].least, found[team].most) for team in (APART, ONE)] == [(300, 300), (480, 480)]
    assert found[ONE].always


def test_fewer_people_may_be_able_to_do_what_more_cannot() -> None:
    """So nothing follows from one team for another: only one of the two ever washes."""
    steps = [
        step("wash", "scrub", makes={"scrub.hands": "clean"}),
        step("work", "surgeon", after=["wash"], needs={"surgeon.hands": "clean"}),
    ]
    found = judged(small(steps))
    assert (found[APART].possible, found[ONE].possible) == (False, True)


def test_a_step_that_takes_both_takes_two_people() -> None:
    found = judged(small([step("lift", "scrub", **{"with": ["surgeon"]})]))
    assert found[ONE].worst.reasons == (AtOnce("lift", ("scrub", "surgeon")),)
    assert found[APART].possible


def test_the_two_steps_that_one_person_cannot_both_do_are_named() -> None:
    steps = [
        step("wash", "scrub", makes={"scrub.hands": "clean"}),
        step("empty", "surgeon", after=["wash"], touches=["bin"]),
        step("lay", "scrub", after=["empty"], needs={"scrub.hands": "clean"}),
    ]
    (reason,) = judged(small(steps))[ONE].worst.reasons
    assert isinstance(reason, Slipping)
    told = (reason.rule, reason.other, reason.other_role, reason.against, reason.role)
    assert told == ("needs-not-met", "empty", "surgeon", "lay", "scrub")


def test_one_person_may_have_to_mind_the_order() -> None:
    steps = [
        step("use", "scrub", needs={"table": "clean"}, takes="1 min"),
        step("spoil", "surgeon", contaminates=["table"]),
    ]
    found = judged(small(steps))
    assert found[ONE].possible
    assert not found[ONE].always
    assert found[ONE].worst.order == ("use", "spoil")


def test_a_time_limit_can_be_what_is_in_the_way() -> None:
    """One person needs 4 minutes for what has to be over 3 minutes after its beginning ended."""
    steps = [
        step("open", "scrub", takes="1 min"),
        step("talk", "surgeon", after=["open"], takes="4 min"),
        step("close", "scrub", after=["open", "talk"], takes="1 min", within=[{"of": "open", "at_most": "5 min"}]),
        step("call", "scrub", after=["open"], takes="2 min"),
    ]
    steps[2], steps[3] = steps[3], {**steps[2], "after": ["open", "talk", "call"]}
    found = judged(small(steps))
    assert found[APART].possible
    assert found[ONE].worst.reasons == (Late(("close",)),)


def test_what_is_not_found_out_is_not_told_as_impossible() -> None:
    steps = [step(f"{role}-{number}", role, touches=["bin"]) for number in range(3) for role in ROLES[:2]]
    found = judged(small(steps), limit=2)
    assert {one.possible for one in found.values()} == {None}


def test_too_many_roles_are_refused() -> None:
    team = tuple(f"r{number}" for number in range(8))
    case = small([step(f"s-{role}", role) for role in team], team)
    with pytest.raises(TooManyRolesError, match="8 roles"):
        judged(case)


def test_a_role_that_does_nothing_needs_nobody() -> None:
    found = judged(small([step("a", "scrub")], ROLES))
    assert list(found) == [(("scrub",),)]


@pytest.mark.parametrize("protocol", DEMO.protocols, ids=lambda one: one.id)
def test_the_least_team_beside_the_operator_is_the_common_practice(protocol: Protocol) -> None:
    """An aseptic case takes a sterile and a non-sterile assistant, one if the operator alone is sterile.

    Common practice, no source. That nobody can be in two places at once plays no part in it: asepsis alone says so.
    """
    found = teams_of(protocol, DEMO.requirements, scheduler())
    roles = {role.value for role in protocol.team}
    assert found.smallest == len(roles)
    assert found.settled
    for team in found.judged[:-1]:
        assert any(isinstance(reason, Slipping) for reason in team.worst.reasons)
    if protocol.id == "wrist-release":
        assert roles == {"surgeon", "scrub", "circulating"}
        # Whoever of the sterile ones is the non-sterile one as well would have to be sterile and not.
        for team in found.judged:
            reason = next((one for one in team.worst.reasons if isinstance(one, Slipping)), None)
            if len(team.people) == 2 and any("circulating" in own and len(own) == 2 for own in team.people):
                assert reason is not None
                assert "circulating" in (reason.other_role, reason.role)


def test_with_every_role_its_own_person_the_time_is_that_of_the_critical_path() -> None:
    for protocol in DEMO.protocols:
        order = order_of(protocol)
        longest = max(
            schedule(protocol, order, done_in_scenario(protocol, settled)).total for settled in scenarios_of(protocol)
        )
        team = teams_of(protocol, DEMO.requirements, None).judged[-1]
        assert team.least == pytest.approx(longest)
        assert team.most == pytest.approx(longest)
