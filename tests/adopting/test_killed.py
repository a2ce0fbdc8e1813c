"""``adopt``, ``tailor`` and ``catch-up`` killed before any of their changes to the disk: nothing is ever half there."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from stepfield.command import main
from stepfield.language import build_set, read_set, take_in
from stepfield.language.tailoring_fields import bare
from tests.adopting.catching import BASE, CLINIC, HALL, ROOM, adopted
from tests.adopting.killing import killed_everywhere

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="no process can be forked and killed this way here")
NEW = "clinics/new"


def written(folder: Path, files: Mapping[str, bytes]) -> Path:
    for path, data in files.items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_bytes(data)
    return folder


def shared(home: Path, files: Mapping[str, str] = BASE) -> Path:
    """The set that is handed on, in a folder beside the clinic's."""
    return written(home / "shared", {"clinic.yaml": CLINIC.encode(), **{p: t.encode() for p, t in files.items()}})


def everything(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def ran(home: Path, monkeypatch: pytest.MonkeyPatch, *words: str) -> Result:
    monkeypatch.chdir(home)
    return CliRunner().invoke(main, words)


ADOPT = ("adopt", "shared", NEW, "--clinic", "Larkmere Hand Clinic", "--version", "1.0.0")


@pytest.mark.parametrize("empty", [False, True])
def test_a_clinic_is_there_whole_or_not_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, empty: bool) -> None:
    home = tmp_path / "home"
    shared(home)
    if empty:
        (home / NEW).mkdir(parents=True)
    first, *killed, _ = killed_everywhere(home, tmp_path / "tries", *ADOPT)
    whole = everything(first / NEW)
    assert "protocols/upstream.yaml" in whole
    there = []
    for folder in killed:
        found = everything(folder / NEW) if (folder / NEW).exists() else {}
        assert found in ({}, whole), folder
        there.append(bool(found))
        assert everything(folder / "shared") == everything(home / "shared")
        if not found and len(there) % 8 == 1:  # whatever was left lying is in nobody's way
            assert ran(folder, monkeypatch, *ADOPT).exit_code == 0
            assert everything(folder / NEW) == whole
    assert there == sorted(there)
    assert set(there) == {False, True}
    assert len(there) > len(whole)


EDITED = {
    "room.yaml": ROOM.replace("Tidy up.", "Tidy up well.").replace("takes: 3 min, ", "takes: 4 min, "),
    "hall.yaml": HALL.replace("takes: 5 min", "takes: 6 min"),
}
BROKEN_OFF = (
    "edits were being moved into tailoring.yaml, and that was broken off; what is read here is the text after it"
)
TAILOR = ("tailor", "clinic", "--from", "shared")


def meaning(folder: Path) -> object:
    """Every step of the set as it is done."""
    return [(one.id, [bare(step) for step in one.steps]) for one in read_set(folder, "p").protocols]


def test_edits_are_moved_into_tailoring_all_or_none(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    home = tmp_path / "home"
    shared(home)
    before = adopted() | {path: text.encode() for path, text in EDITED.items()}
    written(home / "clinic", before)
    first, *killed, _ = killed_everywhere(home, tmp_path / "tries", *TAILOR)
    after = read(first / "clinic")
    assert {path for path in after if after[path] != before[path]} == {"tailoring.yaml", "room.yaml", "hall.yaml"}
    states = []
    for folder in killed:
        found = read(folder / "clinic")
        assert found in (before, after), folder
        states.append(found == after)
        assert meaning(folder / "clinic") == meaning(home / "clinic"), folder
        told = [one.message for one in take_in(folder / "clinic").refused]
        assert told in ([], [BROKEN_OFF])
        assert not told or found == after
        assert ran(folder, monkeypatch, *TAILOR).exit_code == 0
        assert read(folder / "clinic") == after
        assert {path: (folder / "clinic" / path).read_bytes() for path in after} == after
        assert not (folder / "catch-up").exists()
    assert states == sorted(states)
    assert set(states) == {False, True}
    assert meaning(first / "clinic") == meaning(home / "clinic")
    assert [
        one for one in build_set({f"p/{p}": d for p, d in after.items()}, "p").problems if one.rule != "unused-name"
    ] == []


def read(folder: Path) -> dict[str, bytes]:
    taken = take_in(folder)
    return {taken.inside(path): data for path, data in taken.files.items()}


CATCH_UP = ("catch-up", "shared", "--set", "clinic/protocols", "--version", "1.1.0")


def test_a_newer_baseline_is_taken_in_whole_or_not_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The command from its first change to its last; what it writes between them is tried in another module."""
    home = tmp_path / "home"
    newer = {path: text for path, text in BASE.items() if path != "hall.yaml"} | {"yard.yaml": HALL}
    shared(home, newer | {"room.yaml": ROOM.replace("Tidy", "Clear")})
    written(home / "clinic/protocols", adopted())
    before = read(home / "clinic/protocols")
    first, *killed, _ = killed_everywhere(home, tmp_path / "tries", *CATCH_UP)
    after = read(first / "clinic/protocols")
    states = []
    for folder in killed:
        found = read(folder / "clinic/protocols")
        assert found in (before, after), folder
        states.append(found == after)
        assert ran(folder, monkeypatch, *CATCH_UP).exit_code == 0
        assert read(folder / "clinic/protocols") == after
        assert take_in(folder / "clinic/protocols").refused == ()
    assert states == sorted(states)
    assert set(states) == {False, True}
