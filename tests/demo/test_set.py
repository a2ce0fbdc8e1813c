"""The demonstration set is what it says it is: complete, clean, and clean for a reason."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache

import pytest

from stepfield.asepsis import compile_protocol, order_of, replay
from stepfield.checks import check_set
from stepfield.language import build_set
from stepfield.language.model import Protocol, Step
from stepfield.language.source import Text
from tests.demo.changes import DEMONSTRATION, TODAY, demonstration, errors_of, moved, protocol, with_step, without

NAMES = ("skin-lesion", "toenail", "wrist-release")
PARTS = {path.stem for path in (DEMONSTRATION / "parts").glob("*.yaml")}


@cache
def texts() -> dict[str, str]:
    """Every file of the set by its name as findings show it."""
    files = sorted(DEMONSTRATION.rglob("*.yaml"))
    return {f"protocols/{path.relative_to(DEMONSTRATION).as_posix()}": path.read_text("utf-8") for path in files}


def rules_of(changed: Protocol) -> set[tuple[str, str | None, str | None]]:
    return {(finding.rule, finding.step, finding.subject) for finding in errors_of(changed)}


def test_it_has_no_findings_not_even_notes() -> None:
    report = check_set(demonstration(), TODAY)
    assert [(finding.rule, finding.step, finding.subject) for finding in report.findings] == []
    assert all(examined.proof is not None and examined.proof.complete for examined in report.facts.examined)


def test_its_three_protocols_are_approved_and_have_a_day_for_their_review() -> None:
    assert tuple(one.id for one in demonstration().protocols) == NAMES
    for one in demonstration().protocols:
        assert one.status.value == "approved"
        assert one.approved is not None
        assert one.review_by is not None


@pytest.mark.parametrize("name", NAMES)
def test_a_protocol_is_complete_and_can_still_be_overlooked(name: str) -> None:
    assert 35 <= len(protocol(name).steps) <= 55


@pytest.mark.parametrize("part", sorted(PARTS))
def test_every_part_is_used(part: str) -> None:
    assert any(step.part == part for one in demonstration().protocols for step in one.steps)


@pytest.mark.parametrize("name", NAMES)
def test_every_step_says_what_to_do_and_most_say_why(name: str) -> None:
    steps = protocol(name).steps
    assert all(step.do.value.rstrip().endswith((".", "?")) for step in steps)
    assert sum(step.why is not None for step in steps) >= 0.85 * len(steps)


@pytest.mark.parametrize("name", NAMES)
def test_several_lanes_really_work_at_once(name: str) -> None:
    order = order_of(protocol(name))
    before = order.ancestors()
    steps = range(len(before))
    free = {
        (order.phase_of[later], earlier, later)
        for later in steps
        for earlier in steps[:later]
        if not (before[later] >> earlier & 1 or before[earlier] >> later & 1)
    }
    assert len(free) >= 20
    assert len({phase for phase, _, _ in free}) >= 3


@pytest.mark.parametrize("name", NAMES)
def test_every_requirement_a_protocol_adopts_is_met_by_a_step(name: str) -> None:
    whole = demonstration()
    adopted = {member.value for one in protocol(name).evidence for member in whole.sets[one.value]}
    met = {requirement.value for step in protocol(name).steps for requirement in step.meets}
    assert len(adopted) > 40
    assert adopted <= met


@pytest.mark.parametrize("name", NAMES)
def test_a_step_that_meets_a_time_limit_takes_or_waits_that_long(name: str) -> None:
    limits = {one.id.value: (one.at_least or 0, one.at_most) for one in demonstration().requirements}
    for step in protocol(name).steps:
        for requirement in step.meets:
            at_least, at_most = limits[requirement.value]
            waited = max((wait.seconds for wait in step.waits), default=0)
            if step.id.value.endswith(".paint") or (at_least == 0 and at_most is None):
                continue  # the drying after the painting is waited for, and looked at, by the next step
            assert max(step.takes.least if step.takes else 0, waited) >= at_least, step.id
            assert at_most is None or (step.takes is not None and step.takes.most <= at_most), step.id


# Moving the opening of the surgeon's pack, in the text itself, as somebody would who tidies up.


def test_opening_the_surgeons_pack_too_late_is_one_finding_with_a_story_that_replays() -> None:
    path = "protocols/wrist-release.yaml"
    opening = re.search(r"      - id: open-surgeon-pack\n.*?(?=      - use: gown-assisted)", texts()[path], re.S)
    assert opening is not None
    rest = texts()[path].replace(opening[0], "")
    late = rest.replace("\n  - phase: skin\n", opening[0] + "\n  - phase: skin\n")
    changed = build_set({name: text.encode() for name, text in {**texts(), path: late}.items()})
    report = check_set(changed, TODAY)
    assert [finding.rule for finding in report.findings] == ["not-available"]
    found = report.findings[0]
    assert (found.step, found.subject, found.always) == ("surgeon-dress.towel", "surgeon-towel", True)
    graph = compile_protocol(next(one for one in changed.protocols if one.id == "wrist-release"), changed.requirements)
    last = replay(graph, [graph.index[name] for name in found.witness])[-1]
    assert [(slip.kind, slip.subject) for slip in last.slips] == [("not-available", "surgeon-towel")]


# The donor site is never reached by what met the lesion.


def swapped(step: Step, old: str, new: str) -> Step:
    effects = (
        replace(effect, thing=Text(new, effect.thing.span)) if effect.thing.value == old else effect
        for effect in step.effects
    )
    return replace(step, effects=tuple(effects), needs=tuple(need for need in step.needs if need.subject.value != old))


@pytest.mark.parametrize("thing", ["lesion-set", "scalpel"])
def test_what_cut_the_lesion_breaks_the_field_of_the_thigh(thing: str) -> None:
    changed = with_step(protocol("skin-lesion"), "take-graft", lambda step: swapped(step, "second-set", thing))
    assert ("field-broken", "take-graft", "donor-skin") in rules_of(changed)


def test_the_syringe_of_the_forearm_is_gone_when_somebody_wants_to_use_it_on_the_thigh_as_well() -> None:
    late = moved(protocol("skin-lesion"), "numb-donor", to_end=True)
    changed = with_step(late, "numb-donor", lambda step: swapped(step, "donor-syringe", "lesion-syringe"))
    assert ("not-available", "numb-donor", "lesion-syringe") in rules_of(changed)


@pytest.mark.parametrize("step", ["set-aside", "fresh-gloves"])
def test_the_gloves_change_before_the_thigh_is_reached(step: str) -> None:
    assert rules_of(without(protocol("skin-lesion"), step))


def test_without_the_change_of_gloves_the_thigh_is_what_suffers() -> None:
    unchanged = without(without(protocol("skin-lesion"), "set-aside"), "fresh-gloves")
    assert ("needs-not-met", "take-graft", "surgeon.hands") in rules_of(unchanged)


def test_there_is_no_way_back_from_the_forearm_to_the_thigh() -> None:
    changed = moved(protocol("skin-lesion"), "take-graft", to_end=True)
    assert ("needs-not-met", "take-graft", "second-set") in rules_of(changed)


# What else the set is there to show.


def test_a_tourniquet_that_stays_on_is_found() -> None:
    found = rules_of(without(protocol("toenail"), "tourniquet-off"))
    assert ("left-on", None, "toe-base") in found
    assert ("fact-missing", "clean-toe", "tourniquet-removed") in found


def test_an_uncounted_tourniquet_is_found() -> None:
    def uncounted(step: Step) -> Step:
        return replace(step, effects=tuple(effect for effect in step.effects if effect.thing.value != "tourniquet"))

    changed = with_step(protocol("toenail"), "last-count.count", uncounted)
    assert rules_of(changed) == {("count-missing", "tourniquet-on", "tourniquet")}


def test_phenol_without_its_caution_is_found() -> None:
    changed = with_step(protocol("toenail"), "phenol-on", lambda step: replace(step, cautions=()))
    assert rules_of(changed) == {("caution-missing", "phenol-on", "phenol")}


def test_an_absorbent_sheet_under_the_rinse_is_found() -> None:
    whole = protocol("toenail")
    soft = replace(whole.subjects["foot-sheet"], fluid_proof=False)
    assert rules_of(replace(whole, subjects={**whole.subjects, "foot-sheet": soft}))


def test_cautery_before_the_antiseptic_has_dried_is_found() -> None:
    changed = with_step(protocol("wrist-release"), "skin.check-dry", lambda step: replace(step, waits=()))
    assert rules_of(changed) == {("fire-risk", "stop-bleeding", "sponge")}


@pytest.mark.parametrize("name", NAMES)
def test_gloves_come_off_first_and_the_mask_last_and_then_hands_are_washed(name: str) -> None:
    """The published example of taking off: gloves, gown, mask, hand hygiene (CDC poster, example 1)."""
    steps = protocol(name).steps
    undressing = [number for number, step in enumerate(steps) if step.id.value.endswith("-undress.take-off")]
    assert undressing
    for number in undressing:
        taken = [effect.thing.value for effect in steps[number].effects if effect.field == "doffs"]
        assert [thing.rpartition("-")[2] for thing in taken] == ["gloves", "gown", "mask"]
        assert steps[number + 1].part == "hand-wash"


def test_the_three_pauses_stand_before_anaesthetic_incision_and_leaving() -> None:
    """The three moments of the WHO Surgical Safety Checklist of 2009."""
    for name, (sedation, cut, undrape) in {
        "wrist-release": ("numb", "incise", "undrape"),
        "skin-lesion": ("numb-donor", "excise", "undrape"),
        "toenail": ("block", "tourniquet-on", "undrape"),
    }.items():
        order, index = (
            order_of(protocol(name)),
            {step.id.value: number for number, step in enumerate(protocol(name).steps)},
        )
        before = order.ancestors()
        for pause, act in (("sign-in.stop", sedation), ("time-out.stop", cut), ("sign-out.stop", undrape)):
            assert before[index[act]] >> index[pause] & 1, (name, pause)


def test_nothing_in_the_set_speaks_of_a_place_nor_but_for_its_sources_of_a_web_address() -> None:
    for name, written in texts().items():
        text = (
            re.sub(r"(?m)^    link:(?: >-\n     )? https://\S+$", "", written)
            if name.endswith("evidence.yaml")
            else written
        )
        assert not re.search(r"https?:|www\.|/(home|root|tmp)/", text), name
