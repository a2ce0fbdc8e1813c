"""Roles of one person are one pair of hands; in which order that person does what two roles do stays free."""

from __future__ import annotations

import datetime
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from stepfield.asepsis import order_of
from stepfield.checks import Finding, Report, check_set
from stepfield.language import ProtocolSet, build_set, read_set
from stepfield.language.model import Effect, Need, Person, Protocol, Step
from stepfield.language.source import Span, Text

TODAY = datetime.date(2026, 7, 1)
CLINIC = """\
clinic: Quillhaven Day Surgery
roles: {scrub: {title: Scrub nurse}, circulating: {title: Circulating nurse}, surgeon: {title: Surgeon}}
people: {nurse: [circulating, scrub]}
"""
ROOM = """\
kind: protocol
title: Room
team: [scrub, circulating]
surfaces: {bin: {title: Bin}, tray: {title: Tray, starts: sterile}}
phases:
  - phase: room
    steps:
      - {id: wash, role: scrub, do: Wash., makes: {scrub.hands: sterile}}
      - {id: lift-lid, role: circulating, do: Lift the lid., touches: [bin]}
      - {id: lay, role: scrub, do: Lay., needs: {scrub.hands: sterile}, touches: [tray]}
"""


def judged(room: str = ROOM, clinic: str = CLINIC) -> Report:
    whole = build_set({"p/clinic.yaml": clinic.encode(), "p/room.yaml": room.encode()})
    assert [one for one in whole.problems if one.rule != "unused-name"] == []
    return check_set(whole, TODAY)


def errors(report: Report) -> list[Finding]:
    return [one for one in report.findings if one.severity.value == "error"]


def test_what_one_role_touches_is_on_the_hands_of_the_other() -> None:
    assert errors(judged(clinic=CLINIC.replace("people: {nurse: [circulating, scrub]}\n", ""))) == []
    (one,) = errors(judged())
    assert (one.rule, one.step, one.subject) == ("needs-not-met", "lay", "scrub.hands")
    assert one.witness == ("wash", "lift-lid", "lay")
    assert not one.always
    assert (
        "Here one person is Scrub nurse and Circulating nurse: between 'lift-lid' (as Circulating nurse) and 'lay' "
        "(as Scrub nurse) that person would have to be both, sterile and not."
    ) in one.message
    assert any(note.span.path == "p/clinic.yaml" and note.span.line == 3 for note in one.related)


def test_where_the_order_keeps_the_two_apart_nothing_is_found() -> None:
    assert errors(judged(ROOM.replace("{id: wash,", "{id: wash, after: [lift-lid],"))) == []


def test_the_order_is_as_free_as_that_of_two_people() -> None:
    report = judged()
    (one,) = report.facts.examined
    two = replace(one.protocol, people=())
    assert order_of(one.protocol).before == order_of(two).before


def test_a_glove_on_one_is_on_the_other_and_no_glove_of_somebody_else() -> None:
    room = ROOM.replace("surfaces:", "items: {gloves: {starts: clean, worn_on: hands}}\nsurfaces:")
    room = room[: room.index("      - {id: wash")] + (
        "      - {id: put-on, role: scrub, do: Put on., dons: [gloves]}\n"
        "      - {id: take-off, role: circulating, after: [put-on], do: Off., doffs: [gloves], discards: [gloves]}\n"
    )
    assert errors(judged(room)) == []
    assert {
        one.rule for one in errors(judged(room, CLINIC.replace("people: {nurse: [circulating, scrub]}\n", "")))
    } == {
        "cover-missing",
        "not-available",
        "left-on",
    }


def test_a_step_of_two_people_is_not_done_by_one() -> None:
    room = ROOM.replace(
        "role: circulating, do: Lift the lid., touches: [bin]", "role: circulating, with: [scrub], do: Lift."
    )
    (one,) = errors(judged(room))
    assert (one.rule, one.step, one.subject) == ("no-owner", "lift-lid", "scrub")
    assert "at the same moment" in one.message


def test_roles_that_are_not_of_the_team_make_nobody_one() -> None:
    report = judged(clinic=CLINIC.replace("[circulating, scrub]", "[surgeon, scrub]"))
    assert report.facts.protocol_set.protocols[0].people == ()
    assert errors(report) == []


@pytest.mark.parametrize(
    ("people", "rule", "subject"),
    [
        ("{nurse: [circulating, scrubb]}", "unknown-name", "scrubb"),
        ("{nurse: [circulating, scrub], other: [surgeon, scrub]}", "taken-name", "scrub"),
        ("{nurse: [scrub, scrub]}", "taken-name", "scrub"),
        ("{nurse: [scrub]}", "bad-shape", "nurse"),
        ("{nurse: scrub}", "bad-shape", "nurse"),
    ],
)
def test_people_that_cannot_be_made_out_are_told(people: str, rule: str, subject: str) -> None:
    clinic = CLINIC.replace("{nurse: [circulating, scrub]}", people)
    whole = build_set({"p/clinic.yaml": clinic.encode(), "p/room.yaml": ROOM.encode()})
    told = [(one.rule, one.subject, one.span.path) for one in whole.problems if one.rule != "unused-name"]
    assert told == [(rule, subject, "p/clinic.yaml")]


NOWHERE = Span("x", 1, 1, 1, 1)


def in_line(protocol: Protocol) -> Protocol:
    """The protocol with its steps in one line, so that both ways of merging allow the same orders."""
    steps, last = {}, None
    for step in protocol.steps:
        steps[step.id.value] = replace(step, after=(*step.after, last)) if last else step
        last = Text(step.id.value, NOWHERE)
    phases = tuple(replace(p, steps=tuple(steps[s.id.value] for s in p.steps)) for p in protocol.phases)
    return replace(protocol, phases=phases)


def rewritten(protocol: Protocol, old: str, new: str) -> Protocol:
    """The protocol with one role written in the place of another everywhere."""

    def named(text: Text) -> Text:
        head, dot, rest = text.value.partition(".")
        return Text(f"{new}{dot}{rest}", text.span) if head == old else text

    def effect(one: Effect) -> Effect:
        return replace(one, thing=named(one.thing), target=one.target and named(one.target))

    def step(one: Step) -> Step:
        role = one.role and named(one.role)
        helpers = tuple(dict.fromkeys(helper for helper in map(named, one.helpers) if str(helper) != str(role)))
        needs = tuple(Need(named(need.subject), need.level) for need in one.needs)
        return replace(one, role=role, helpers=helpers, needs=needs, effects=tuple(map(effect, one.effects)))

    return replace(protocol, phases=tuple(replace(p, steps=tuple(map(step, p.steps))) for p in protocol.phases))


@pytest.mark.parametrize("number", range(3))
def test_one_person_is_what_one_role_in_the_place_of_the_other_would_be(number: int) -> None:
    whole = read_set(Path(__file__).parents[2] / "protocols", "p")
    protocol = in_line(whole.protocols[number])
    first, second, *_ = (role.value for role in protocol.team)
    merged = replace(protocol, people=(Person(Text("both", NOWHERE), protocol.team[:2]),))

    def found(one: Protocol) -> set[tuple[str, ...]]:
        alone: ProtocolSet = replace(whole, protocols=(one,))
        return {
            (finding.rule, finding.step or "", finding.subject or "")
            for finding in check_set(alone, TODAY).findings
            if finding.rule not in ("no-owner", "unused-name")
        }

    assert found(merged) == found(rewritten(protocol, second, first))
    assert found(merged) != found(protocol)


DEEDS = st.sampled_from(
    [
        "makes: {OWN.hands: sterile}",
        "makes: {OWN.hands: clean}",
        "needs: {OWN.hands: sterile}",
        "needs: {tray: clean}, touches: [tray]",
        "touches: [bin]",
        "touches: [tray]",
        "soils: [tray]",
        "dons: [gloves]",
        "doffs: [gloves]",
        "lays: {gloves: tray}",
        "discards: [gloves]",
        "makes: {tray: sterile}",
    ]
)


def set_of_lanes(lanes: dict[str, list[str]]) -> ProtocolSet:
    lines = [
        f"      - {{id: {role[0]}{number}, role: {role}, do: X., {deed.replace('OWN', role)}}}\n"
        for role, deeds in lanes.items()
        for number, deed in enumerate(deeds)
    ]
    head = ROOM[: ROOM.index("      - {id: wash")].replace("surfaces:", "items: {gloves: {worn_on: hands}}\nsurfaces:")
    return build_set({"p/clinic.yaml": CLINIC.encode(), "p/room.yaml": (head + "".join(lines)).encode()})


def slips(whole: ProtocolSet, protocol: Protocol) -> set[tuple[str, ...]]:
    report = check_set(replace(whole, protocols=(protocol,)), TODAY)
    return {(one.rule, one.step or "", one.subject or "") for one in report.findings if one.rule != "unused-name"}


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(DEEDS, min_size=1, max_size=3), st.lists(DEEDS, min_size=1, max_size=3))
def test_all_orders_of_the_two_roles_are_tried_with_one_pair_of_hands(scrub: list[str], other: list[str]) -> None:
    """Against every interleaving written out, each as the only order of one role alone."""
    whole = set_of_lanes({"scrub": scrub, "circulating": other})
    (protocol,) = whole.protocols
    expected: set[tuple[str, ...]] = set()
    for places in combinations(range(len(scrub) + len(other)), len(scrub)):
        mine = {"scrub": iter(protocol.steps[: len(scrub)]), "circulating": iter(protocol.steps[len(scrub) :])}
        names = ["scrub" if place in places else "circulating" for place in range(len(protocol.steps))]
        phase = replace(protocol.phases[0], steps=tuple(next(mine[name]) for name in names))
        alone = rewritten(replace(protocol, phases=(phase,), people=()), "circulating", "scrub")
        expected |= slips(whole, alone)
    assert slips(whole, protocol) == expected
