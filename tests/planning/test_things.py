"""Lists of things and what strikes about them, against what was worked out by hand. No source: own small cases."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from stepfield.asepsis import order_of
from stepfield.language import build_set, read_set
from stepfield.planning.remarks import Remark, limits_of, remarks
from stepfield.planning.things import listing, of_day, settled
from stepfield.planning.uses import MOST_WAYS, Uses
from tests.planning.thingsets import BLISTER, CLINIC, blister, uses_of

ROOT = Path(__file__).parents[2]


def struck(uses: Uses, open_for: float = 30 * 60.0, **limits: float) -> dict[tuple[str, str], Remark]:
    found = remarks(uses, order_of(uses.protocol), limits, open_for)
    assert len({(one.kind, one.thing.name.value) for one in found}) == len(found)
    return {(one.kind, one.thing.name.value): one for one in found}


def test_the_whole_list_has_every_pack_with_what_it_holds_and_then_the_loose_things() -> None:
    lines = listing(uses_of(blister()), {})
    assert [(one.thing.name.value, one.depth) for one in lines] == [
        ("base", 0), ("needle", 1), ("swabs", 1), ("plaster", 1), ("bandage", 1), ("tray", 1),
        ("extra", 0), ("gauze", 1), ("swabs-more", 1), ("shut", 0), ("ointment", 1), ("mask", 0), ("wipe", 0),
    ]  # fmt: skip
    by_name = {one.thing.name.value: one for one in lines}
    assert by_name["needle"].certain
    assert not by_name["plaster"].certain
    assert not by_name["tray"].used
    assert by_name["swabs"].needed == (3,)  # counted in step 4; clearing away alone is no need


def test_with_choices_what_is_not_needed_is_left_out_with_its_pack() -> None:
    uses = uses_of(blister())
    names = [one.thing.name.value for one in listing(uses, {"cover": "plaster", "side": "right"})]
    assert "ointment" not in names
    assert "shut" not in names
    assert "gauze" in names  # its pack is opened in any case, so it has to be fetched


def test_only_choices_that_decide_something_make_ways() -> None:
    text = BLISTER.replace(
        "      - {id: soothe, role: surgeon, do: Soothe., when: {side: left},",
        "      - {id: soothe, role: surgeon, do: Soothe.,",
    )
    assert [way.options for way in uses_of(blister(text)).ways()] == [("plaster",), ("bandage",)]
    assert len(uses_of(blister()).ways()) == 4


def test_every_remark_is_told_once_and_where() -> None:
    found = struck(uses_of(blister()))
    assert set(found) == {
        ("early", "extra"),  # opened at minute 2; the gauze is used at minute 47, after wipe and prick
        ("idle-here", "plaster"),
        ("idle-here", "bandage"),
        ("idle", "swabs"),
        ("idle", "tray"),
        ("pack-idle", "extra"),
        ("idle", "swabs-more"),
        ("twice", "swabs-more"),
        ("not-opened", "ointment"),
        ("no-wrapper", "wipe"),
    }
    assert {dict(way)["cover"] for way in found["idle-here", "plaster"].ways} == {"bandage"}
    assert {dict(way)["cover"] for way in found["pack-idle", "extra"].ways} == {"plaster"}
    assert {dict(way)["side"] for way in found["not-opened", "ointment"].ways} == {"left"}
    assert found["idle", "swabs"].counted
    assert not found["idle", "tray"].counted
    other = found["twice", "swabs-more"].other
    assert other is not None
    assert other.name.value == "swabs"


def test_a_pack_is_open_too_early_by_the_clock_of_the_steps() -> None:
    # Scrub: open-base 0 to 2, open-extra at 2, count 2 to 6. The next phase begins at 6: wipe 6 to 46, prick 46 to 47,
    # wrap at 47. Extra: the gauze at 47, 45 minutes after 2. Base: the count of its swabs at 2, no wait; where
    # they are not counted, the needle at 46 is first, 44 minutes after 2.
    counted = struck(uses_of(blister()))
    assert ("early", "base") not in counted
    assert counted["early", "extra"].seconds == pytest.approx(45 * 60.0)
    assert {dict(way)["cover"] for way in counted["early", "extra"].ways} == {"bandage"}
    assert ("early", "extra") not in struck(uses_of(blister()), 45 * 60.0)
    without = struck(uses_of(blister(BLISTER.replace("counts: [swabs], takes: 4 min", "takes: 4 min"))))
    assert without["early", "base"].seconds == pytest.approx(44 * 60.0)
    assert without["early", "base"].at_least  # some steps say no duration


def test_the_limit_of_a_requirement_goes_before_the_setting() -> None:
    text = BLISTER.replace("do: Open., opens: [extra]", "do: Open., opens: [extra], meets: [open-late]")
    evidence = "requirements: {open-late: {text: Open late., source: Own., limit: {at_most: 1 h}}}\n"
    found = blister(text, evidence=evidence)
    uses = uses_of(found)
    limits = limits_of(found.requirements)
    assert limits == {"open-late": 3600.0}
    assert ("early", "extra") not in struck(uses, **limits)
    one = struck(uses, **{"open-late": 60.0})["early", "extra"]
    assert (one.limit, one.limit_of) == (60.0, "open-late")


def test_nothing_strikes_where_all_that_is_held_is_used_at_once() -> None:
    text = BLISTER[: BLISTER.index("choices:")] + (
        "sites: {skin: {title: Skin}}\n"
        "packs: {base: {title: Base pack, holds: {needle: {title: Needle}}}}\n"
        "phases:\n  - phase: a\n    title: A\n    steps:\n"
        "      - {id: open, role: scrub, do: Open., opens: [base]}\n"
        "      - {id: prick, role: surgeon, do: Prick., after: [open], uses: {needle: skin}}\n"
    )
    assert struck(uses_of(blister(text))) == {}


def test_too_many_combinations_are_not_gone_through_and_that_is_known() -> None:
    options = ", ".join(f"o{number}: O" for number in range(MOST_WAYS))
    uses = uses_of(
        blister(BLISTER.replace("options: {left: Left, right: Right}", f"options: {{left: Left, {options}}}"))
    )
    assert uses.too_many
    assert uses.ways() == ()
    found = struck(uses)
    assert ("idle", "tray") in found
    assert ("idle-here", "plaster") not in found


def test_a_day_adds_up_cases_with_their_spares() -> None:
    screens = (
        "days: {monday: {title: Monday, cases: [{protocol: blister, choices: {cover: plaster, side: left}}, "
        "{protocol: blister, choices: {cover: bandage}}]}}\n"
    )
    found = blister(screens=screens)
    uses = uses_of(found)
    cases = [(case, uses) for case in found.screens.days[0].cases]
    assert [settled(case) for case, _ in cases] == [{"cover": "plaster", "side": "left"}, {"cover": "bandage"}]
    fetched = {one.thing.name.value: one for one in of_day(cases)}
    assert {name: (one.count, one.spare, one.cases, one.perhaps) for name, one in fetched.items()} == {
        "base": (2, 2, (1, 2), ()),  # one spare needle for each
        "extra": (2, 0, (1, 2), (1,)),  # with the plaster nothing of it is needed
        "shut": (2, 0, (1, 2), (2,)),
        "mask": (2, 0, (1, 2), ()),
        "wipe": (2, 4, (1, 2), ()),
    }
    assert ("Swabs", 5) in fetched["base"].holds


def test_a_case_that_cannot_be_read_is_passed_over() -> None:
    screens = "days: {monday: {title: Monday, cases: [{protocol: blister, choices: {cover: plaster}}]}}\n"
    found = blister(screens=screens)
    case = found.screens.days[0].cases[0]
    assert of_day([(case, None)]) == ()


def test_the_demonstration_set_takes_far_less_than_a_third_of_a_second() -> None:
    found = read_set(ROOT / "protocols")
    began = time.process_time()
    for protocol in found.protocols:
        remarks(Uses(protocol), order_of(protocol), {})
    assert time.process_time() - began < 0.3  # about 0.01 s where it was measured


def test_a_pack_that_holds_itself_is_told_with_the_way_round() -> None:
    text = BLISTER.replace("tray: {title: Tray}", "tray: {title: Tray, holds: {base: {title: Base}}}")
    found = build_set({"p/clinic.yaml": CLINIC.encode(), "p/blister.yaml": text.encode()})
    told = [one for one in found.problems if one.rule == "taken-name"]
    assert [one.message for one in told] == ["the pack 'base' holds itself: 'base' → 'tray' → 'base'"]
    assert "base: {title: Base}" in text.splitlines()[told[0].span.line - 1]
