"""From requirements to steps and back: what is met, what is not, what nobody adopts, what is aged."""

from __future__ import annotations

import datetime

from stepfield.checks.tracing import AGED_AFTER, Trace, trace
from stepfield.language import build_set
from tests.demo.changes import demonstration

DAY = datetime.date(2026, 7, 1)
CLINIC = """\
clinic: Larkmere Hand Clinic
roles: {scrub: {title: Scrub nurse}}
surfaces: {table: {title: Table}}
"""
EVIDENCE = """\
requirements:
  rubbed: {text: Hands are rubbed., source: A handbook, year: 2015}
  wiped: {text: The table is wiped., source: A handbook, year: 2016}
  aired: {text: The room is aired., source: Another handbook}
  clear:
    text: The air clears.
    source: A table
    year: 2020
    cases:
      slow: {applies_to: Few changes of air, limit: {at_least: 18 min}}
      fast: {applies_to: Many changes of air, limit: {at_least: 14 min}}
sets:
  hands: [rubbed]
  room: [hands, wiped]
"""
ROOM = """\
kind: protocol
title: Room
team: [scrub]
adopts: [room]
phases:
  - phase: one
    steps:
      - {id: rub, role: scrub, do: Rub your hands., meets: [rubbed]}
      - {id: dry, role: scrub, do: Let them dry., makes: {scrub.hands: disinfected}}
      - {id: again, role: scrub, do: Rub again., meets: [rubbed, clear-fast]}
"""
OTHER = ROOM.replace("title: Room", "title: Other").replace("adopts: [room]\n", "").replace("clear-fast", "wiped")


def traced(evidence: str = EVIDENCE, **protocols: str) -> Trace:
    files = {"p/clinic.yaml": CLINIC, "p/evidence.yaml": evidence}
    files |= {f"p/{name}.yaml": text for name, text in protocols.items()}
    found = build_set({path: text.encode() for path, text in files.items()})
    assert [one for one in found.problems if one.rule != "unused-name"] == []
    return trace(found, DAY)


def test_each_requirement_knows_who_adopts_it_and_which_steps_answer_it() -> None:
    rows = {one.requirement.id.value: one for one in traced(room=ROOM, other=OTHER).rows}
    assert list(rows) == ["rubbed", "wiped", "aired", "clear-slow", "clear-fast"]
    assert rows["rubbed"].adopted == {"room": "room"}
    assert rows["rubbed"].met == {"other": (0, 2), "room": (0, 2)}
    assert rows["wiped"].met == {"other": (2,)}
    assert rows["clear-fast"].met == {"room": (2,)}


def test_the_gaps_are_what_is_adopted_and_unmet_and_what_nobody_adopts() -> None:
    found = traced(room=ROOM, other=OTHER)
    assert [(row.requirement.id.value, row.unmet) for row in found.unmet] == [("wiped", ("room",))]
    assert [row.requirement.id.value for row in found.unadopted] == ["aired", "clear-slow", "clear-fast"]
    assert {one.protocol: (one.steps, one.guarding) for one in found.silent} == {"other": ((1,), 3), "room": ((1,), 3)}


def test_a_source_is_aged_from_the_year_after_its_last_on() -> None:
    assert AGED_AFTER == 10
    assert [row.requirement.id.value for row in traced(room=ROOM).aged] == ["rubbed"]
    assert [row.requirement.id.value for row in traced(f"aged_after: 11\n{EVIDENCE}", room=ROOM).aged] == []
    late = [row.requirement.id.value for row in traced(f"aged_after: 5\n{EVIDENCE}", room=ROOM).aged]
    assert late == ["rubbed", "wiped", "clear-slow", "clear-fast"]


def test_the_demonstration_set_does_all_that_it_adopts_and_says_what_it_does_not() -> None:
    found = trace(demonstration(), DAY)
    assert found.unmet == ()
    assert len(found.unadopted) > 100
    adopted = [row for row in found.rows if row.adopted]
    assert all(set(row.met) >= set(row.adopted) for row in adopted)
    assert {name for row in adopted for name in row.adopted} == {"skin-lesion", "toenail", "wrist-release"}
