"""Many clinics side by side: who deviates where, and what is common. Expected by hand from small sets."""

from __future__ import annotations

import csv
import io
import json
from fractions import Fraction
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st

from stepfield.changes.drift import drift_of
from stepfield.changes.drift.fleet import Fleet, Member, fleet_of, is_common
from stepfield.changes.drift.fleet_text import text_fleet
from stepfield.command import main
from tests.adopting.drifting import TODAY, adopted, set_in
from tests.adopting.test_drift import written

HEAD = "baseline: {name: Quillhaven Day Surgery, version: 3.2.0}\n"
LONGER = "{protocol: room, step: wipe, set: {takes: 4 min}, because: Long bench.}"
LONGER_AND_WORDS = "{protocol: room, step: wipe, set: {takes: 240 s, do: Wipe all.}, because: Dry air.}"
SHORTER = "{protocol: room, step: wipe, set: {takes: 1 min}}"
NO_PHOTO = "{protocol: room, drop: photo, because: No camera.}"


def text(*changes: str, **more: str) -> str:
    rest = "".join(f"{key}: {value}\n" for key, value in more.items())
    return f"{HEAD}changes: [{', '.join(changes)}]\n{rest}" if changes else HEAD + rest


def fleet(percent: int = 50, **clinics: str) -> Fleet:
    return fleet_of((Member(name, drift_of(set_in(adopted(told)), TODAY)) for name, told in clinics.items()), percent)


def common(found: Fleet) -> list[tuple[str, str, tuple[str, ...], int]]:
    (family,) = found.families
    return [(one.name, one.kind, one.folders, one.of) for one in family.common]


def test_the_same_field_set_to_the_same_value_by_half_of_the_clinics_is_common() -> None:
    found = fleet(a=text(LONGER), b=text(LONGER_AND_WORDS), c=text(SHORTER), d=text())
    assert common(found) == [("wipe", "set", ("a", "b"), 4)]
    ((one,),) = [family.common for family in found.families]
    assert one.fields == (("takes", "3 min", "4 min"),)
    assert (one.grade, one.reasons) == ("stricter", ("Long bench.", "Dry air."))


def test_fewer_than_the_share_or_one_alone_are_not_common() -> None:
    assert common(fleet(a=text(LONGER), b=text(LONGER), c=text(), d=text(), e=text())) == []
    assert common(fleet(40, a=text(LONGER), b=text(LONGER), c=text(), d=text(), e=text())) != []
    assert common(fleet(a=text(LONGER), b=text())) == []
    assert common(fleet(a=text(LONGER))) == []


def test_clinics_that_leave_the_protocol_out_do_not_count_against_it() -> None:
    away = text(leave_out="[room]")
    found = fleet(a=text(NO_PHOTO), b=text(NO_PHOTO), c=away, d=away, e=away)
    assert ("photo", "drop", ("a", "b"), 2) in common(found)
    assert ("", "left-out", ("c", "d", "e"), 5) in common(found)
    row = next(one for one in found.families[0].rows if one.named == "room.photo")
    assert (set(row.cells), row.away) == ({"a", "b"}, {"c", "d", "e"})


def test_an_added_step_is_known_by_what_it_does_and_not_by_its_name() -> None:
    add = "{{protocol: room, add: {{id: {}, role: runner, do: Hum.}}, place: {{after: wipe}}}}"
    found = fleet(a=text(add.format("hum")), b=text(add.format("sing")))
    assert [(kind, folders) for _, kind, folders, _ in common(found)] == [("add", ("a", "b"))]


def test_a_settled_choice_and_a_thing_can_be_common() -> None:
    same = text(choose="{room: {light: lamp}}", items="{cloth: {title: Rag}}")
    assert {(kind, name) for name, kind, *_ in common(fleet(a=same, b=same))} == {
        ("settled", "light"),
        ("thing", "cloth"),
    }


def test_a_looser_change_that_many_make_is_not_told_as_right() -> None:
    shown = text_fleet(fleet(a=text(NO_PHOTO), b=text(NO_PHOTO)))
    assert "[looser] room: step 'photo' is left out: 2 of 2 (a and b)" in shown
    assert "does not make it right" in shown


def test_each_field_has_its_own_grade() -> None:
    found = fleet(a=text(LONGER_AND_WORDS))
    assert {row.place[3]: row.cells["a"].grade for row in found.families[0].rows} == {
        "do": "neutral",
        "takes": "stricter",
    }


@given(st.integers(0, 60), st.integers(1, 60), st.integers(1, 100))
def test_common_is_two_at_least_and_the_share_at_least(number: int, of: int, percent: int) -> None:
    assert is_common(number, of, percent) == (number >= 2 and Fraction(number, of) >= Fraction(percent, 100))


def ran(*arguments: object) -> Result:
    return CliRunner().invoke(main, ["drift", "--today", "2026-11-02", "--fleet", *map(str, arguments)])


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    written(tmp_path / "a", adopted(text(LONGER), name="Clinic A"))
    plain = {path.removeprefix("protocols/"): data for path, data in adopted(text(LONGER), version="3.1.0").items()}
    written(tmp_path / "b", plain)
    written(tmp_path / "broken", adopted("baseline: ["))
    written(tmp_path / "source", {"clinic.yaml": b"clinic: Q\nlanguage: en\nroles: {a: {title: A}}\n"})
    written(tmp_path / "notes", {"read.me": b""})
    written(tmp_path / ".git", {"HEAD": b""})
    (tmp_path / "a-file").write_bytes(b"")
    return tmp_path


def test_the_command_names_every_folder_and_every_version(folder: Path) -> None:
    result = ran(folder)
    assert result.exit_code == 0, result.output
    assert "1  a: Clinic A, on version 3.2.0." in result.output
    assert "2  b: Harbour Lane, on version 3.1.0." in result.output
    assert "  broken: its local changes cannot be read, " in result.output
    assert "  notes: no protocol set" in result.output
    assert "  source: this set was not adopted from another" in result.output
    assert ".git" not in result.output
    assert "  room.wipe.takes" not in result.output
    assert "room.wipe.takes   S   S" in " ".join(result.output.splitlines())


def test_the_table_goes_to_other_programs(folder: Path) -> None:
    lines = list(csv.DictReader(io.StringIO(ran(folder, "--format", "csv").output)))
    assert [lines[0][name] for name in ("kind", "a", "b")] == ["version", "3.2.0", "3.1.0"]
    (takes,) = [one for one in lines if one["field"] == "takes"]
    shown = [takes[name] for name in ("shared", "common", "a", "b", "broken", "notes")]
    assert shown == ["3 min", "yes", "stricter: 4 min", "stricter: 4 min", "not compared", "not compared"]
    found = json.loads(ran(folder, "--format", "json").output)
    assert [one["folder"] for one in found["not_compared"]] == ["broken", "notes", "source"]
    (family,) = found["baselines"]
    assert family["common"][0]["folders"] == ["a", "b"]
    assert [one["baseline"]["version"] for one in family["clinics"]] == ["3.2.0", "3.1.0"]


@pytest.mark.parametrize("name", ["nowhere", "a-file"])
def test_a_folder_that_is_none_is_told(folder: Path, name: str) -> None:
    result = ran(folder / name)
    assert result.exit_code == 2
    assert "cannot be read" in result.output


def test_clinics_of_different_baselines_are_told_apart() -> None:
    other = adopted(text(LONGER))
    other["protocols/upstream.yaml"] = other["protocols/upstream.yaml"].replace(b"Quillhaven Day", b"Ferngate Night")
    members = [Member("a", drift_of(set_in(adopted(text(LONGER))), TODAY)), Member("b", drift_of(set_in(other), TODAY))]
    found = fleet_of(members)
    assert [one.baseline for one in found.families] == ["Ferngate Night Surgery", "Quillhaven Day Surgery"]
    assert all(family.common == () for family in found.families)
