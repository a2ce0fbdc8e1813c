"""Teams judged before: believed only while nothing has changed that the protocol is read from."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest

from stepfield.checks.staffing import staffing
from stepfield.keeping.shelf import Shelf
from stepfield.keeping.teams import teams_kept
from stepfield.language import read_set
from stepfield.language.model import Protocol, ProtocolSet
from stepfield.planning.shortest import Scheduler
from stepfield.planning.teams import Teams
from tests.kept.test_earlier import CLEAN, CLINIC, NOTED, PART

FILES = {"clinic.yaml": CLINIC, "parts/wipe-down.yaml": PART, "clean.yaml": CLEAN, "noted.yaml": NOTED}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    folder = tmp_path / "protocols"
    (folder / "parts").mkdir(parents=True)
    for name, text in FILES.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def asked(folder: Path) -> tuple[list[str], Mapping[str, Teams | str]]:
    """The protocols that had to be judged, and what is told of all."""
    anew: list[str] = []

    def judge(protocol: Protocol, whole: ProtocolSet, solve: Scheduler | None) -> Teams | str:
        anew.append(protocol.id)
        return staffing(protocol, whole, solve)

    found = teams_kept(read_set(folder, "protocols"), "protocols", Shelf(folder.parent / "shelf"), judge)
    return anew, found


def test_what_has_not_changed_is_not_judged_again(folder: Path) -> None:
    first, found = asked(folder)
    assert sorted(first) == ["clean", "noted"]
    assert asked(folder) == ([], found)


@pytest.mark.parametrize(
    ("name", "change", "anew"),
    [
        ("clean.yaml", ("title: Clean", "title: Cleaner"), ["clean"]),
        ("parts/wipe-down.yaml", ("do: Wipe it.", "do: Wipe all of it."), ["clean"]),
        ("clinic.yaml", ("Shelf}", "Long shelf}"), ["clean", "noted"]),
    ],
)
def test_a_change_has_only_what_it_touches_judged(
    folder: Path, name: str, change: tuple[str, str], anew: list[str]
) -> None:
    asked(folder)
    text = (folder / name).read_text(encoding="utf-8")
    assert change[0] in text
    (folder / name).write_text(text.replace(*change), encoding="utf-8")
    assert sorted(asked(folder)[0]) == anew


def test_what_is_damaged_is_judged_anew(folder: Path) -> None:
    _, found = asked(folder)
    (kept,) = (folder.parent / "shelf").glob("teams-*.json")
    kept.write_text(kept.read_text(encoding="utf-8").replace("scrub", "scrab"), encoding="utf-8")
    again, told = asked(folder)
    assert sorted(again) == ["clean", "noted"]
    assert told == found


def test_why_a_protocol_cannot_be_judged_is_kept_too(folder: Path) -> None:
    (folder / "noted.yaml").write_text(NOTED.replace("do: Go.,", "do: Go., after: [nowhere],"), encoding="utf-8")
    _, found = asked(folder)
    assert isinstance(found["noted"], str)
    assert asked(folder) == ([], found)
