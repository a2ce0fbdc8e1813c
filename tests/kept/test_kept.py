"""Kept reports: found again only for the very same bytes, and never trusted when damaged."""

from __future__ import annotations

import json
import threading
from pathlib import Path

import pytest
from click.testing import CliRunner

from stepfield.command import main
from stepfield.keeping.shelf import MOST_KEPT, Kept, Shelf, key_of, usual_folder

CLINIC = "clinic: Quillhaven Day Surgery\nlanguage: en\nroles: {scrub: {title: Scrub nurse}}\n"
PROTOCOL = """kind: protocol
title: Wipe
purpose: One thing.
team: [scrub]
surfaces: {trolley: {title: Trolley}}
phases:
  - phase: room
    title: Room
    steps:
      - {id: wipe, role: scrub, do: Wipe the trolley., makes: {trolley: clean}}
"""


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of kept reports of this test's own."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "home"))
    return tmp_path / "home" / "stepfield"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A small protocol set without findings."""
    (tmp_path / "protocols").mkdir()
    (tmp_path / "protocols" / "clinic.yaml").write_text(CLINIC)
    (tmp_path / "protocols" / "wipe.yaml").write_text(PROTOCOL)
    return tmp_path / "protocols"


def check(folder: Path, *options: str) -> tuple[int, str]:
    """The command's exit code and what it prints."""
    done = CliRunner().invoke(main, ["check", str(folder), "--today", "2026-10-01", *options])
    return done.exit_code, done.output


def reports(home: Path) -> list[Path]:
    """The files of kept reports; what is kept of single protocols lies beside them."""
    return [path for path in home.iterdir() if not path.name.startswith("set-")]


def test_the_second_run_prints_what_the_first_did(home: Path, folder: Path) -> None:
    first = check(folder)
    assert len(reports(home)) == 1
    assert check(folder) == first
    assert len(reports(home)) == 1


def test_a_kept_report_is_what_is_printed(home: Path, folder: Path) -> None:
    check(folder)
    (kept,) = reports(home)
    shelf = Shelf(home)
    found = shelf.find(kept.stem)
    assert found is not None
    shelf.keep(kept.stem, Kept("put here by the test\n", failed=True))
    assert check(folder) == (1, "put here by the test\n")
    assert check(folder, "--no-cache") == (0, found.text)


def test_any_change_of_the_set_is_judged_anew(home: Path, folder: Path) -> None:
    assert check(folder)[0] == 0
    (folder / "wipe.yaml").write_text(PROTOCOL.replace("makes:", "needs:"))
    assert check(folder)[0] == 1
    (folder / "wipe.yaml").write_text(PROTOCOL)
    assert check(folder)[0] == 0
    assert check(folder, "--format", "json")[1].startswith("{")
    assert len(reports(home)) == 3


@pytest.mark.parametrize(
    "damage",
    [
        b"",
        b"{",
        b"[]",
        b"null",
        b'{"text": "safe", "failed": false}',
        b'{"text": "safe", "failed": false, "digest": "0"}',
    ],
)
def test_a_damaged_report_is_passed_over(home: Path, folder: Path, damage: bytes) -> None:
    right = check(folder)
    (kept,) = reports(home)
    kept.write_bytes(damage)
    assert check(folder) == right
    assert json.loads(kept.read_bytes())["text"] == right[1]


def test_a_changed_word_is_noticed(home: Path, folder: Path) -> None:
    right = check(folder)
    (kept,) = reports(home)
    content = json.loads(kept.read_bytes())
    kept.write_text(json.dumps({**content, "failed": True}))
    assert check(folder) == right


def test_a_report_is_not_found_under_another_key(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path)
    shelf.keep("a", Kept("text", failed=False))
    (tmp_path / "a.json").rename(tmp_path / "b.json")
    assert shelf.find("b") is None


def test_a_folder_that_cannot_be_written_does_no_harm(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    shelf = Shelf(tmp_path / "file" / "below")
    shelf.keep("a", Kept("text", failed=False))
    assert shelf.find("a") is None


def test_two_runs_at_once_leave_whole_reports(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path)
    texts = [str(number) * 50_000 for number in range(4)]

    def write(text: str) -> None:
        for _ in range(20):
            shelf.keep("key", Kept(text, failed=False))

    runs = [threading.Thread(target=write, args=(text,)) for text in texts]
    for run in runs:
        run.start()
    seen = [found.text for _ in range(200) if (found := shelf.find("key")) is not None]
    for run in runs:
        run.join()
    last = shelf.find("key")
    assert last is not None
    assert {*seen, last.text} <= set(texts)


def test_the_oldest_reports_go(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path)
    for number in range(MOST_KEPT + 5):
        shelf.keep(str(number), Kept("text", failed=False))
    assert len(list(tmp_path.iterdir())) == MOST_KEPT


def test_parts_of_a_key_do_not_run_together() -> None:
    assert key_of("ab", "c") != key_of("a", "bc")
    assert key_of("a") == key_of(b"a")


def test_the_usual_folder_is_in_the_place_for_such_things(home: Path) -> None:
    assert usual_folder() == home
