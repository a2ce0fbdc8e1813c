"""The grades of local changes: every field has one, and nothing that guards somebody goes without a looser one."""

from __future__ import annotations

import datetime
from collections import Counter
from typing import Any

import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from stepfield.checks import check_set
from stepfield.checks.deviations import FIELDS, Effect, grade_of, grades_of
from stepfield.language import ProtocolSet, build_set
from stepfield.language.model import Step
from stepfield.language.schemas import schema

TODAY = datetime.date(2026, 7, 1)
CLINIC = b"clinic: Quillhaven Day Surgery\nroles: {scrub: {title: Scrub nurse}, circulating: {title: Circulating}}\n"
ROOM = """\
kind: protocol
title: Room
team: [scrub, circulating]
choices: {size: {options: {big: Big, small: Small}}}
surfaces: {table: {title: Table}, tray: {title: Tray}}
items:
  swab: {count: 10, counted: true}
  box: {sharps: true}
  gown: {worn_on: body, starts: clean}
  knife: {sharp: true}
phases:
  - phase: room
    steps:
      - id: start
        role: scrub
        do: Start.
        asks: {question: Whole?, answers: [whole, damaged]}
      - id: main
        role: scrub
        with: [circulating]
        do: Do it.
        why: Because.
        after: [start]
        when: {size: [big, small]}
        sterile: true
        needs: {table: disinfected}
        requires: [ready]
        touches: [tray]
        covers: {table: swab}
        dons: [gown]
        makes: {tray: disinfected}
        wets: [table]
        contaminates: [table]
        soils: [tray]
        counts: [swab]
        discards: {knife: box}
        hands_over: [tray]
        confirms: [done]
        withdraws: [ready]
        takes: 3 min
        waits: [{for: start, at_least: 2 min}]
        within: [{of: start, at_most: 10 min}]
        cautions: [{kind: sharps, text: Sharp.}]
        records: [table]
        meets: [rule]
        keeps: {distance: 30 cm}
        ignition: true
      - {id: plain, role: circulating, do: Tidy., uncovers: [table]}
      - {id: timed, role: circulating, do: Go on., waits: [{for: plain, at_least: 1 min}]}
"""


def tailored(**more: Any) -> ProtocolSet:
    text = yaml.safe_dump({"baseline": {"name": "Q", "version": "1.0.0"}, **more}, allow_unicode=True)
    return build_set({"p/clinic.yaml": CLINIC, "p/room.yaml": ROOM.encode(), "p/tailoring.yaml": text.encode()})


def grade(**change: Any) -> str:
    found = tailored(changes=[{"protocol": "room", **change}])
    assert found.tailoring is not None
    assert [one for one in found.problems if one.rule == "tailoring-lost"] == []
    (one,) = found.tailoring.deviations
    return grade_of(one).word


def test_every_field_of_a_step_has_a_way() -> None:
    fields = schema("definitions")["$defs"]["step"]["properties"]
    assert {*FIELDS, "id", "sterile"} == {*fields}


def test_every_field_can_be_set() -> None:
    step = schema("definitions")["$defs"]["step"]["properties"]
    fields = schema("tailoring")["$defs"]["fields"]["properties"]
    assert {name: {**spec, "x-effect": 0} for name, spec in fields.items()} == {
        name: {**spec, "x-effect": 0} for name, spec in step.items() if name != "id"
    }


def test_every_attribute_of_a_thing_can_be_set() -> None:
    held, thing = (
        schema(kind)["$defs"][name]["properties"] for kind, name in (("definitions", "held"), ("tailoring", "thing"))
    )
    assert {*thing} - {"because", "agreed", "until", "in", "pack"} == {*held} - {"holds"}
    assert all(thing[name] == held[name] for name in {*thing} & {*held})


@pytest.mark.parametrize(
    ("fields", "expected"),
    [
        ({"do": "Do it well."}, "neutral"),
        ({"why": "For a reason."}, "neutral"),
        ({"with": []}, "neutral"),
        ({"role": "circulating", "with": []}, "neutral"),
        ({"touches": []}, "neutral"),
        ({"takes": "4 min"}, "stricter"),
        ({"takes": "2 min"}, "looser"),
        ({"takes": {"least": "3 min", "likely": "4 min", "most": "5 min"}}, "neutral"),
        ({"needs": {"table": "sterile"}}, "stricter"),
        ({"needs": {"table": "disinfected", "tray": "clean"}}, "stricter"),
        ({"needs": {"table": "clean"}}, "looser"),
        ({"needs": {"tray": "sterile"}}, "looser"),
        ({"sterile": False}, "looser"),
        ({"requires": ["ready", "warm"]}, "stricter"),
        ({"requires": []}, "looser"),
        ({"confirms": []}, "looser"),
        ({"withdraws": []}, "looser"),
        ({"makes": {"tray": "sterile"}}, "stricter"),
        ({"makes": {"tray": "clean"}}, "looser"),
        ({"makes": {}}, "looser"),
        ({"counts": []}, "looser"),
        ({"counts": ["swab", "knife"]}, "stricter"),
        ({"cautions": []}, "looser"),
        ({"why": "For a reason.", "takes": "4 min"}, "stricter"),
        ({"cautions": [{"kind": "sharps", "text": "A blade."}]}, "neutral"),
        ({"cautions": [{"kind": "fire", "text": "A flame."}]}, "looser"),
        ({"cautions": [{"kind": k, "text": "x"} for k in ("fire", "sharps")]}, "stricter"),
        ({"waits": [{"for": "start", "at_least": "3 min"}]}, "stricter"),
        ({"waits": [{"for": "start", "at_least": "1 min"}]}, "looser"),
        ({"within": [{"of": "start", "at_most": "11 min"}]}, "looser"),
        ({"within": [{"of": "start", "at_most": "9 min"}]}, "stricter"),
        ({"within": []}, "looser"),
        ({"after": []}, "looser"),
        ({"when": {"size": "big"}}, "looser"),
        ({"covers": {}}, "looser"),
        ({"dons": []}, "looser"),
        ({"uncovers": ["table"]}, "looser"),
        ({"wets": []}, "looser"),
        ({"discards": {}}, "looser"),
        ({"hands_over": []}, "looser"),
        ({"records": []}, "looser"),
        ({"meets": []}, "looser"),
        ({"keeps": {"distance": "40 cm"}}, "looser"),
        ({"keeps": {}}, "looser"),
        ({"keeps": {"distance": "30 cm", "edge": "3 cm"}}, "stricter"),
        ({"ignition": False}, "looser"),
        ({"ends_field": True}, "looser"),
        ({"takes": "4 min", "needs": {}}, "looser"),
        ({"takes": "4 min", "do": "Do it slowly."}, "stricter"),
    ],
)
def test_a_change_is_graded_by_what_it_does(fields: dict[str, Any], expected: str) -> None:
    assert grade(step="main", set=fields) == expected


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        ({"drop": "main"}, "looser"),
        ({"drop": "start"}, "looser"),
        ({"drop": "timed"}, "looser"),
        ({"drop": "plain"}, "looser"),  # timed counts from it
        ({"add": {"id": "new", "role": "scrub", "do": "N."}, "place": {"after": "main"}}, "neutral"),
        (
            {"add": {"id": "new", "role": "scrub", "do": "N.", "counts": ["swab"]}, "place": {"after": "main"}},
            "stricter",
        ),
        ({"add": {"id": "new", "role": "scrub", "do": "N.", "ends_field": True}, "place": {"after": "main"}}, "looser"),
        ({"step": "main", "clear": ["why"]}, "neutral"),
        ({"step": "main", "clear": ["takes"]}, "looser"),
        ({"step": "start", "clear": ["asks"]}, "looser"),
        ({"step": "main", "set": {"needs": {"table": "sterile"}}, "clear": ["why"]}, "stricter"),
    ],
)
def test_whole_steps_are_graded_by_what_they_do(change: dict[str, Any], expected: str) -> None:
    assert grade(**change) == expected


def test_with_the_last_step_of_a_phase_its_cautions_go_and_that_is_looser() -> None:
    phase = "  - phase: leave\n    cautions: [{kind: fire, text: T.}]\n    steps:\n"
    steps = "".join(f"      - {{id: {name}, role: scrub, do: Go.}}\n" for name in ("go", "shut"))
    for dropped, expected in ((["go"], []), (["go", "shut"], ["cautions", "cautions"])):
        changes = [{"protocol": "room", "drop": name} for name in dropped]
        text = yaml.safe_dump({"baseline": {"name": "Q", "version": "1.0.0"}, "changes": changes})
        files = {"p/clinic.yaml": CLINIC, "p/room.yaml": f"{ROOM}{phase}{steps}".encode()}
        found = build_set({**files, "p/tailoring.yaml": text.encode()}).tailoring
        assert found is not None
        graded = [one for deviation in found.deviations for one in grades_of(deviation)]
        assert [one.field for one in graded if one.effect is Effect.LOOSER] == expected
        assert all("'leave'" in one.reason for one in graded if one.effect is Effect.LOOSER)


@pytest.mark.parametrize(
    ("name", "fields", "expected"),
    [
        ("swab", {"title": "Big swab"}, "neutral"),
        ("swab", {"count": 5}, "neutral"),
        ("swab", {"counted": False}, "looser"),
        ("swab", {"starts": "sterile"}, "looser"),
        ("gown", {"starts": "contaminated"}, "stricter"),
        ("knife", {"sharp": False}, "looser"),
        ("gown", {"barrier": "fluid-proof"}, "looser"),
        ("gown", {"reusable": True}, "stricter"),
        ("box", {"hazard": "chemical"}, "stricter"),
        ("box", {"sharps": False}, "stricter"),
    ],
)
def test_a_thing_is_graded_by_the_care_it_asks_for(name: str, fields: dict[str, Any], expected: str) -> None:
    found = tailored(items={name: fields}).tailoring
    assert found is not None
    assert [grade_of(one).word for one in found.deviations] == [expected]


def test_a_looser_grade_says_why() -> None:
    found = tailored(changes=[{"protocol": "room", "step": "main", "set": {"counts": [], "takes": "9 min"}}]).tailoring
    assert found is not None
    looser, stricter = grades_of(found.deviations[0])
    assert (looser.effect, looser.field, looser.reason) == (Effect.LOOSER, "counts", "a count is gone")
    assert stricter.field == "takes"


LEVELS = st.sampled_from(["contaminated", "clean", "disinfected", "sterile"])
THINGS = st.sampled_from(["table", "tray"])
SETS = st.fixed_dictionaries(
    {"do": st.just("Other.")},
    optional={
        "needs": st.dictionaries(THINGS, LEVELS, max_size=2),
        "makes": st.dictionaries(THINGS, LEVELS, max_size=2),
        "counts": st.lists(st.just("swab"), max_size=1),
        "sterile": st.booleans(),
        "role": st.sampled_from(["scrub", "circulating"]),
        "cautions": st.lists(st.sampled_from(["sharps", "fire"]).map(lambda k: {"kind": k, "text": "T."}), max_size=2),
    },
)
STEPS = st.sampled_from(["start", "main", "plain", "timed"])
CHANGES = st.lists(
    st.one_of(
        st.builds(lambda step, fields: {"step": step, "set": fields}, STEPS, SETS),
        st.builds(lambda step: {"drop": step}, STEPS),
        st.builds(
            lambda name, step, fields, where: {"add": {"id": name, "role": "scrub", **fields}, "place": {where: step}},
            st.sampled_from(["new", "newer"]),
            STEPS,
            SETS,
            st.sampled_from(["before", "after"]),
        ),
    ),
    max_size=5,
)


def guarded(step: Step) -> Counter[tuple[str, str, int]]:
    """What a step asks for, each as many times as it holds at its level or a lower one."""
    found: Counter[tuple[str, str, int]] = Counter()
    for need in step.needs:
        part = need.subject.value.removeprefix(f"{step.role}.")
        found.update(("need", part, level) for level in range(1, need.level + 1))
    for effect in step.effects:
        if effect.field == "makes" and effect.level is not None:
            found.update(("reset", effect.thing.value, level) for level in range(effect.level + 1))
        elif effect.field == "counts":
            found["count", effect.thing.value, 0] = 1
    found.update(("caution", caution.kind.value, 0) for caution in step.cautions)
    return found


@settings(max_examples=250, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(CHANGES)
def test_no_need_reset_count_or_caution_goes_without_a_looser_change(changes: list[dict[str, Any]]) -> None:
    found = tailored(changes=[{"protocol": "room", **change} for change in changes])
    assert found.tailoring is not None
    looser = {one.name.value for one in found.tailoring.deviations if grade_of(one) is Effect.LOOSER}
    plain = build_set({"p/clinic.yaml": CLINIC, "p/room.yaml": ROOM.encode()})
    after = {step.id.value: guarded(step) for step in found.protocols[0].steps} if found.protocols else {}
    for step in plain.protocols[0].steps:
        if guarded(step) - after.get(step.id.value, Counter()):
            assert step.id.value in looser
    told = {one.step for one in check_set(found, TODAY, limit=50).findings if one.rule == "deviation-unreasoned"}
    assert looser <= told
