"""Each effect of the language, alone and where it meets the others. Source: the language reference."""

from __future__ import annotations

import pytest

from stepfield.asepsis.effects import ACTS
from stepfield.language.model import Level
from stepfield.language.schemas import effect_forms

from .small import After, slips

C, K, D, S = Level.CONTAMINATED, Level.CLEAN, Level.DISINFECTED, Level.STERILE

SCRUBBED = "{id: scrub-up, role: scrub, do: Scrub., makes: {scrub.hands: disinfected}}"
GLOVED = f"""
- {SCRUBBED}
- {{id: glove-up, role: scrub, do: Glove., dons: [glove]}}
"""


def step(fields: str, role: str = "scrub", name: str = "act") -> str:
    """One step with these fields."""
    return f"- {{id: {name}, role: {role}, do: Act., {fields}}}\n"


@pytest.mark.parametrize(
    ("fields", "name", "level"),
    [
        ("touches: [probe]", "probe", C),
        ("opens: [outer]", "outer", C),
        ("opens: [outer]", "forceps", S),
        ("lays: {cloth: trolley}", "cloth", C),
        ("presents: {cloth: trolley}", "cloth", C),
        ("presents: {probe: table}", "probe", S),
        ("makes: {trolley: disinfected}", "trolley", D),
        ("makes: {table: clean}", "table", K),
        ("contaminates: [table]", "table", C),
        ("covers: {trolley: sheet}", "trolley", C),
        ("dons: [mask]", "scrub.face", K),
        ("soils: [trolley]", "trolley", C),
    ],
)
def test_level_after_a_bare_hand_does_it(fields: str, name: str, level: Level) -> None:
    assert After(step(fields)).level(name) is level


@pytest.mark.parametrize(
    ("fields", "name", "level"),
    [
        ("touches: [probe]", "probe", S),
        ("uses: {probe: palm}", "probe", S),
        ("uses: {probe: palm}", "palm", D),
        ("uses: {probe: thigh}", "probe", C),
        ("uses: {probe: thigh}", "scrub.hands", S),
        ("passes: {probe: surgeon}", "probe", C),
        ("lays: {probe: trolley}", "scrub.hands", S),
        ("lays: {probe: trolley}", "probe", C),
        ("covers: {trolley: sheet}", "trolley", S),
        ("covers: {trolley: sheet}, wets: [trolley]", "trolley", C),
        ("covers: {trolley: film}, wets: [trolley]", "trolley", S),
        ("covers: {palm: sheet}, wets: [palm]", "palm", S),
        ("contaminates: [scrub.hands]", "scrub.hands", C),
        ("doffs: [glove]", "scrub.hands", D),
    ],
)
def test_level_after_a_sterile_glove_does_it(fields: str, name: str, level: Level) -> None:
    assert After(GLOVED + step(fields)).level(name) is level


def test_every_effect_of_the_schema_is_known_to_the_engine() -> None:
    assert sorted(form.field for form in effect_forms()) == sorted(ACTS)


def test_what_rests_on_a_surface_falls_and_is_soiled_with_it() -> None:
    after = After(
        GLOVED + step("covers: {trolley: sheet}, lays: {probe: table}") + step("contaminates: [table]", name="drop")
    )
    assert after.level("probe") is C
    soiled = After(GLOVED + step("lays: {probe: table}") + step("soils: [table]", name="bleed"))
    assert soiled.is_soiled("probe")
    assert soiled.level("probe") is S


def test_what_rests_on_disinfected_skin_is_soiled_with_it_but_does_not_fall() -> None:
    after = After(GLOVED + step("lays: {probe: palm}") + step("soils: [palm]", name="bleed"))
    assert after.is_soiled("probe")
    assert after.level("probe") is S


def test_taking_a_thing_in_hand_ends_its_resting() -> None:
    after = After(
        GLOVED
        + step("lays: {probe: table}")
        + step("touches: [probe]", name="take")
        + step("contaminates: [table]", name="drop")
    )
    assert after.level("probe") is S


def test_pulling_a_cover_away_lets_what_rests_there_fall() -> None:
    after = After(
        GLOVED
        + step("covers: {trolley: sheet}")
        + step("lays: {probe: trolley}", name="lay")
        + step("uncovers: [trolley]", name="pull")
    )
    assert after.level("probe") is C


def test_soil_passes_both_ways_and_a_reset_takes_it_away() -> None:
    after = After(step("soils: [cloth]") + step("lays: {cloth: trolley}", role="circulating", name="lay"))
    assert after.is_soiled("trolley")
    assert ("skin-exposed", "circulating.hands") in after.slips
    assert not After(step("soils: [trolley]") + step("makes: {trolley: clean}", name="wipe")).is_soiled("trolley")


def test_soil_of_a_glove_stays_on_the_glove() -> None:
    after = After(GLOVED + step("soils: [scrub.hands]"))
    assert after.slips == []
    assert after.is_soiled("scrub.hands")
    assert not After(GLOVED + step("soils: [scrub.hands]") + step("doffs: [glove]", name="off")).is_soiled(
        "scrub.hands"
    )


@pytest.mark.parametrize(
    ("steps", "expected"),
    [
        (step("sterile: true"), {("needs-not-met", "act", "scrub.hands"), ("needs-not-met", "act", "scrub.body")}),
        (step("needs: {trolley: clean}"), {("needs-not-met", "act", "trolley")}),
        (step("dons: [glove], doffs: [glove]"), {("needs-not-met", "act", "scrub.hands")}),
        (step("touches: [table]"), {("field-broken", "act", "table")}),
        (step("touches: [palm]"), {("field-broken", "act", "palm")}),
        (step("touches: [forceps]"), {("not-available", "act", "forceps")}),
        (step("touches: [needle, forceps]"), {("not-available", "act", "needle")}),
        (step("opens: [inner]"), {("not-available", "act", "inner")}),
        (step("requires: [told]"), {("fact-missing", "act", "told")}),
        (step("soils: [scrub.hands]"), {("skin-exposed", "act", "scrub.hands")}),
        (step("soils: [trolley]"), {("left-soiled", None, "trolley")}),
        (step("dons: [mask]"), {("left-on", None, "mask")}),
        (step("covers: {trolley: cloth}"), {("left-on", None, "trolley")}),
        (step("uncovers: [trolley]"), {("cover-missing", "act", "trolley")}),
        (step("doffs: [mask]"), {("cover-missing", "act", "mask")}),
        (step("discards: [blade]"), {("sharp-loose", "act", "blade")}),
        (step("discards: {blade: bin}"), {("sharp-loose", "act", "blade")}),
        (step("uses: {swab: thigh}"), {("count-missing", "act", "swab")}),
        (step("uses: {spirit: thigh}") + step("ignition: true", name="burn"), {("fire-risk", "burn", "spirit")}),
    ],
)
def test_slips_of_a_single_person(steps: str, expected: set[tuple[str, str | None, str]]) -> None:
    blade_cared_for = "" if "blade" in steps else step("discards: {blade: box}", role="circulating", name="clear")
    assert slips(steps + blade_cared_for) == expected


def test_a_drying_wait_before_the_spark_is_enough() -> None:
    steps = (
        step("uses: {spirit: thigh}")
        + step("waits: [{for: act, at_least: 3 min}]", name="dry")
        + step("ignition: true", name="burn")
        + step("discards: {blade: box}", name="clear")
    )
    assert slips(steps) == set()


def test_a_count_before_and_after_is_enough() -> None:
    steps = (
        step("counts: [swab]", name="first")
        + step("uses: {swab: thigh}")
        + step("counts: [swab]", name="last")
        + step("discards: {blade: box}", name="clear")
    )
    assert slips(steps) == set()


def test_the_field_is_not_guarded_after_it_is_given_up() -> None:
    clear = step("discards: {blade: box}", name="clear")
    assert slips(step("ends_field: true", name="end") + step("touches: [table]") + clear) == set()
    assert slips(step("touches: [table], ends_field: true") + clear) == {("field-broken", "act", "table")}


def test_another_persons_glove_is_not_available() -> None:
    steps = (
        GLOVED
        + step("touches: [glove]", role="circulating", name="grab")
        + step("doffs: [glove], discards: {blade: box}", name="off")
    )
    found = slips("".join(steps))
    assert ("not-available", "grab", "glove") in found


def test_one_slip_is_told_once_though_ten_steps_would_suffer() -> None:
    later = "".join(step("needs: {trolley: clean}", name=f"again-{number}") for number in range(10))
    assert slips(later + step("discards: {blade: box}", name="clear")) == {("needs-not-met", "again-0", "trolley")}
