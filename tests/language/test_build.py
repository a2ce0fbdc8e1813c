"""A right set becomes the model of the language page, section by section."""

from __future__ import annotations

import datetime

import pytest

from stepfield.language.model import Kind, Level, Protocol, Step
from tests.language.small import CLINIC, EVIDENCE, FILES, PART, PROTOCOL, build, changed


@pytest.fixture(name="protocol")
def fixture_protocol() -> Protocol:
    found = build()
    assert found.problems == ()
    assert (found.unsound, found.unreadable) == (frozenset(), ())
    (protocol,) = found.protocols
    return protocol


def step(protocol: Protocol, name: str) -> Step:
    return next(step for step in protocol.steps if step.id.value == name)


def test_the_clinic() -> None:
    clinic = build().clinic
    assert clinic is not None
    assert (clinic.name, clinic.language, clinic.notice, clinic.path) == ("Quillhaven Day Surgery", "en", None, CLINIC)
    assert [(role.id.value, role.title) for role in clinic.roles[1:2]] == [("scrub", "Scrub nurse")]
    assert [surface.name.value for surface in clinic.surfaces] == ["prep-trolley"]


def test_the_head_of_a_protocol(protocol: Protocol) -> None:
    assert (protocol.id, protocol.path, protocol.version.value) == ("release", PROTOCOL, "2.1.0")
    assert protocol.approved is not None
    assert protocol.approved.date == datetime.date(2026, 10, 1)
    assert protocol.review_by is not None
    assert protocol.review_by[0] == datetime.date(2027, 10, 1)
    assert [role.value for role in protocol.team] == ["surgeon", "scrub", "circulating"]
    assert [(option.value, title) for option, title in protocol.choices[0].options[:1]] == [("one-sheet", "One sheet")]


def test_a_draft_may_leave_version_owner_purpose_and_status_out() -> None:
    step = "{id: a, role: scrub, do: D, touches: [prep-trolley]}"
    text = f"kind: protocol\ntitle: T\nteam: [scrub]\nphases: [{{phase: p, steps: [{step}]}}]\n"
    found = build({CLINIC: FILES[CLINIC], "protocols/new.yaml": text})
    assert found.problems == ()
    (protocol,) = found.protocols
    assert (protocol.version.value, protocol.status.value, protocol.owner) == ("0.0.0", "draft", "")
    assert protocol.phases[0].title == "P"


@pytest.mark.parametrize(
    ("name", "kind", "starts", "held_in"),
    [
        ("prep-trolley", Kind.SURFACE, Level.CONTAMINATED, None),
        ("hand-table", Kind.SURFACE, Level.CLEAN, None),
        ("palm-skin", Kind.SITE, Level.CONTAMINATED, None),
        ("exam-gloves", Kind.ITEM, Level.CLEAN, None),
        ("room-pack", Kind.PACK, Level.CLEAN, None),
        ("table-cover", Kind.ITEM, Level.STERILE, "room-pack"),
        ("inner-pack", Kind.PACK, Level.STERILE, "room-pack"),
        ("needle-holder", Kind.ITEM, Level.STERILE, "inner-pack"),
        ("surgeon.face", Kind.PERSON, Level.CONTAMINATED, None),
    ],
)
def test_subjects_start_as_the_language_says(
    protocol: Protocol, name: str, kind: Kind, starts: Level, held_in: str | None
) -> None:
    subject = protocol.subjects[name]
    assert (subject.kind, subject.starts, subject.held_in) == (kind, starts, held_in)


def test_attributes_of_subjects(protocol: Protocol) -> None:
    gloves, cover, gauze = (protocol.subjects[name] for name in ("exam-gloves", "table-cover", "gauze"))
    assert (gloves.worn_on, gloves.hazard, gloves.spare, gloves.title) == ("hands", "allergy", 2, "Exam gloves")
    assert (cover.fluid_proof, cover.title, gloves.fluid_proof) == (True, "Table cover", False)
    assert (gauze.count, gauze.counted, cover.count) == (10, True, 1)
    assert protocol.subjects["scalpel"].sharp
    assert protocol.subjects["needle-holder"].reusable
    assert len([name for name in protocol.subjects if name.startswith("scrub.")]) == 5


def test_effects_stand_in_the_order_in_which_they_happen(protocol: Protocol) -> None:
    effects = step(protocol, "cover-trolley").effects
    assert [(e.field, e.thing.value, e.target and e.target.value, e.level) for e in effects] == [
        ("opens", "inner-pack", None, None),
        ("passes", "gauze", "surgeon", None),
        ("covers", "prep-trolley", "table-cover", None),
        ("makes", "palm-skin", None, Level.DISINFECTED),
        ("discards", "scalpel", "hand-table", None),
    ]


def test_inside_one_field_the_written_order_is_kept() -> None:
    found = build(
        changed("passes: {gauze: surgeon}", "passes: {scalpel: surgeon, gauze: surgeon, table-cover: surgeon}")
    )
    effects = step(found.protocols[0], "cover-trolley").effects
    assert [e.thing.value for e in effects if e.field == "passes"] == ["scalpel", "gauze", "table-cover"]


def test_sterile_stands_for_hands_and_body_and_the_higher_need_counts(protocol: Protocol) -> None:
    needs = {need.subject.value: need.level for need in step(protocol, "cover-trolley").needs}
    assert needs == {"prep-trolley": Level.DISINFECTED, "scrub.hands": Level.STERILE, "scrub.body": Level.STERILE}


def test_the_rest_of_a_step(protocol: Protocol) -> None:
    cover = step(protocol, "cover-trolley")
    assert cover.takes is not None
    assert (cover.takes.least, cover.takes.likely, cover.takes.most) == (60.0, 90.0, 360.0)
    assert [(wait.step.value, wait.seconds) for wait in cover.waits] == [("scrub-wash.dry-hands", 180.0)]
    assert [(wait.step.value, wait.seconds) for wait in cover.within] == [("open-pack", 86400.0)]
    assert [(c.name.value, [o.value for o in c.options]) for c in cover.when] == [
        ("draping", ["one-sheet"]),
        ("open-pack", ["whole"]),
    ]
    assert cover.why is not None
    assert (cover.ignition, cover.ends_field) == (True, True)
    assert [record.value for record in cover.records] == ["room-pack.lot"]
    asks = step(protocol, "open-pack").asks
    assert asks is not None
    assert [answer.value for answer in asks.answers] == ["whole", "damaged"]
    assert protocol.phases[0].cautions[0].kind.value == "splash"


def test_every_value_knows_its_place(protocol: Protocol) -> None:
    lines = FILES[PROTOCOL].split("\n")
    cover = step(protocol, "cover-trolley")
    for text in (cover.id, cover.do, cover.effects[0].thing, cover.when[1].options[0], cover.waits[0].step):
        span = text.span
        written = lines[span.line - 1][span.column - 1 : span.end_column - 1]
        assert written == text.value or text.value.startswith(written)
    assert lines[cover.span.line - 1].strip().startswith("- id: cover-trolley")
    assert step(protocol, "scrub-wash.wet-hands").do.span.path == PART


def test_requirements() -> None:
    (requirement,) = build().requirements
    assert (requirement.id.value, requirement.year, requirement.at_least, requirement.at_most) == (
        "scrub-time",
        2024,
        120.0,
        None,
    )
    assert requirement.id.span.path == EVIDENCE


def test_without_evidence_no_requirement_is_looked_up() -> None:
    assert build({path: text for path, text in FILES.items() if path != EVIDENCE}).problems == ()


def test_sources_hold_the_text_of_every_file() -> None:
    assert build().sources == FILES


def test_the_same_files_in_any_order_give_the_same_set() -> None:
    assert build(dict(reversed(FILES.items()))) == build()


def test_the_set_may_lie_anywhere() -> None:
    for folder in ("", "a/b/"):
        found = build({folder + path.removeprefix("protocols/"): text for path, text in FILES.items()})
        assert found.problems == ()
        assert found.protocols[0].path == f"{folder}release.yaml"
