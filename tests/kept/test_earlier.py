"""What was judged before: told and counted as if it were judged anew, and believed only while nothing has changed."""

from __future__ import annotations

import datetime
import hashlib
import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from stepfield.checks import check_set
from stepfield.command import main
from stepfield.keeping.earlier import Earlier, report_of
from stepfield.keeping.judged import entry_of, is_entry, judged_in, judged_of
from stepfield.keeping.shelf import Kept, Shelf
from stepfield.keeping.together import judged_together
from stepfield.language import Taken, read_set, take_in

DEMO = Path(__file__).parents[2] / "protocols"
DAY = datetime.date(2026, 10, 1)
CLINIC = """clinic: Quillhaven Day Surgery
roles: {scrub: {title: Scrub nurse}}
surfaces: {shelf: {title: Shelf}, rail: {title: Rail}}
"""
PART = """kind: part
title: Wipe down
for: {what: surface}
steps:
  - {id: wipe, role: scrub, do: Wipe it., makes: {what: clean}}
"""
HEAD = """kind: protocol
title: {title}
purpose: One thing.
version: 1.0.0
status: draft
owner: lead nurse
team: [scrub]
"""
CLEAN = HEAD.format(title="Clean") + (
    "phases: [{phase: room, title: Room, steps: [{use: wipe-down, as: first, with: {what: shelf}}]}]\n"
)
NOTED = HEAD.format(title="Noted") + (
    "surfaces: {tray: {title: Tray}}\n"
    "phases: [{phase: room, title: Room, steps: [{id: go, role: scrub, do: Go., touches: [shelf]}]}]\n"
)
WRONG = HEAD.format(title="Wrong") + (
    "phases: [{phase: room, title: Room, steps: [{id: look, role: scrub, do: Look., needs: {shelf: clean}}]}]\n"
)
FILES = {
    "clinic.yaml": CLINIC,
    "parts/wipe-down.yaml": PART,
    "clean.yaml": CLEAN,
    "noted.yaml": NOTED,
    "wrong.yaml": WRONG,
}


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A small set: a clean protocol that uses a part, one with a note, one with a slip; a surface nobody uses."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "home"))
    folder = tmp_path / "protocols"
    (folder / "parts").mkdir(parents=True)
    for name, text in FILES.items():
        (folder / name).write_text(text)
    return folder


def known(folder: Path, *asked: str) -> set[str]:
    """The ids of the protocols that would not be judged anew."""
    shelf = Shelf(folder.parent / "home" / "stepfield")
    limit = asked or (repr((DAY, 200_000)),)
    return {one.passed.id for one in Earlier(shelf, take_in(folder), *limit).judged()}


def check(folder: Path, *options: str) -> tuple[int, str]:
    """The command's exit code and what it prints."""
    done = CliRunner().invoke(main, ["check", str(folder), "--today", str(DAY), *options])
    return done.exit_code, done.output


def test_all_but_what_an_order_shows_is_known_afterwards(folder: Path) -> None:
    assert known(folder) == set()
    check(folder)
    assert known(folder) == {"clean", "noted"}


@pytest.mark.parametrize("form", ["text", "json", "sarif", "github", "gitlab", "junit"])
def test_what_is_known_is_told_as_if_it_were_judged_anew(folder: Path, form: str) -> None:
    check(folder)
    for name in ("wrong.yaml", "noted.yaml"):
        (folder / name).write_text((folder / name).read_text().replace("One thing.", "Another thing."))
        assert check(folder, "--format", form) == check(folder, "--format", form, "--no-cache")


@pytest.mark.parametrize(
    "changed",
    [
        ("clinic.yaml", "title: Rail", "title: Long rail", set()),
        ("parts/wipe-down.yaml", "Wipe it.", "Wipe it well.", {"noted"}),
        ("clean.yaml", "One thing.", "Another thing.", {"noted"}),
        ("noted.yaml", "title: Tray", "title: Round tray", {"clean"}),
        ("wrong.yaml", "One thing.", "Another thing.", {"clean", "noted"}),
    ],
    ids=lambda changed: changed[0],
)
def test_only_what_depends_on_a_change_is_judged_anew(folder: Path, changed: tuple[str, str, str, set[str]]) -> None:
    name, old, new, still = changed
    check(folder)
    (folder / name).write_text((folder / name).read_text().replace(old, new))
    assert known(folder) == still
    check(folder)
    assert known(folder) == {"clean", "noted"}


def test_another_day_another_bound_and_another_place_are_judged_anew(folder: Path) -> None:
    check(folder)
    assert known(folder, repr((DAY, 100))) == set()
    assert known(folder, repr((DAY + datetime.timedelta(1), 200_000))) == set()
    moved = folder.rename(folder.parent / "moved")
    assert known(moved) == set()


def test_a_slip_that_comes_in_by_a_part_is_found(folder: Path) -> None:
    check(folder)
    (folder / "parts/wipe-down.yaml").write_text(PART.replace("makes: {what: clean}", "needs: {what: clean}"))
    code, said = check(folder)
    assert code == 1
    assert "clean  Clean" in said
    assert said == check(folder, "--no-cache")[1]


def test_with_lists_of_days_everything_is_read(folder: Path) -> None:
    (folder / "screens.yaml").write_text(
        "days: {today: {title: Today, cases: [{protocol: clean}, {protocol: nowhere}]}}\n"
    )
    for _ in range(2):
        said = check(folder)[1]
        (folder / "noted.yaml").write_text((folder / "noted.yaml").read_text() + "# more\n")
        assert "'nowhere'" in said
        assert "'clean'" not in said
        assert check(folder / "clean.yaml") == check(folder / "clean.yaml", "--no-cache")
    assert known(folder) == set()


def test_with_local_changes_everything_is_read(folder: Path) -> None:
    (folder / "tailoring.yaml").write_text(
        "baseline: {name: Other, version: 1.0.0}\n"
        "changes: [{protocol: noted, step: go, set: {do: Go on.}}, {protocol: clean, drop: nowhere}]\n"
    )
    for _ in range(2):
        said = check(folder)[1]
        (folder / "noted.yaml").write_text((folder / "noted.yaml").read_text() + "# more\n")
        assert said.count("tailoring-lost") == 1
        assert check(folder / "noted.yaml") == check(folder / "noted.yaml", "--no-cache")
    assert known(folder) == set()


def test_what_is_kept_of_an_adopted_file_says_so_once(folder: Path) -> None:
    digest = hashlib.sha256((folder / "noted.yaml").read_bytes()).hexdigest()
    upstream = f"name: Other\nversion: 1.0.0\ndigests: {{noted.yaml: sha256:{digest}}}\n"
    (folder / "upstream.yaml").write_text(upstream)
    first = check(folder)[1]
    (folder / "wrong.yaml").write_text((folder / "wrong.yaml").read_text() + "# more\n")
    assert first.count("The file was adopted") == check(folder)[1].count("The file was adopted") == 1
    assert "noted" in str(known(folder))


def entries(folder: Path) -> list[dict[str, Any]]:
    taken = take_in(folder)
    parts = Earlier(Shelf(None), taken).parts
    return [entry_of(one, parts) for one in judged_in(check_set(read_set(folder), DAY))]


def test_plain_data_and_back(folder: Path) -> None:
    judged = list(judged_in(check_set(read_set(folder), DAY)))
    told = json.loads(json.dumps(entries(folder)))
    assert [judged_of(one.passed.path, entry) for one, entry in zip(judged, told, strict=True)] == judged
    assert all(map(is_entry, told))


@pytest.mark.parametrize("name", ["title", "steps", "states", "scenarios", "parts", "names", "orders", "findings"])
@pytest.mark.parametrize("value", [None, -1, True, 1.5, "x", [1], ["0x"], ["0x-1", "0x1"], {"a": 1}, [{}]])
def test_data_of_another_shape_is_not_believed(folder: Path, name: str, value: object) -> None:
    if (name, value) in (("title", "x"), ("names", ["0x"]), ("names", ["0x-1", "0x1"])):
        return
    assert not any(is_entry({**entry, name: value}) for entry in entries(folder))
    assert not any(is_entry({**entry, "more": value}) for entry in entries(folder))


@pytest.mark.parametrize("name", ["rule", "severity", "span", "message", "protocol", "cause", "related"])
@pytest.mark.parametrize("value", [-1, True, [1], ["x"], ["x", 1, 1, 1, -1], {"a": 1}, [["x", []]]])
def test_findings_of_another_shape_are_not_believed(folder: Path, name: str, value: object) -> None:
    (noted,) = [entry for entry in entries(folder) if entry["findings"]]
    assert not is_entry({**noted, "findings": [{**noted["findings"][0], name: value}]})


@pytest.mark.parametrize("text", ["", "[]", "null", "{", '{"a": 1}', '{"a": {"steps": 1}}'])
def test_what_is_kept_in_another_shape_is_passed_over(folder: Path, text: str) -> None:
    shelf, taken = Shelf(folder.parent / "home" / "stepfield"), take_in(folder)
    asked = repr((DAY, 200_000))
    shelf.keep(Earlier(shelf, taken, asked).key, Kept(text, failed=False))
    assert known(folder) == set()
    check(folder)
    assert known(folder) == {"clean", "noted"}


def test_a_single_file_is_told_alike_whatever_else_lies_there(folder: Path) -> None:
    before = check(folder / "wrong.yaml", "--no-cache")
    (folder / "broken.yaml").write_text("kind: [")
    (folder / "noted.yaml").unlink()
    assert check(folder / "wrong.yaml", "--no-cache") == before
    assert check(folder / "nowhere.yaml")[0] == 2


def test_the_demonstration_set_is_told_alike(tmp_path: Path) -> None:
    folder = tmp_path / "protocols"
    shutil.copytree(DEMO, folder)
    for naming_protocols in ("packs", "screens"):
        (folder / f"{naming_protocols}.yaml").unlink(missing_ok=True)
    taken, shelf = take_in(folder), Shelf(tmp_path / "home")
    first, again = (report_of(taken, shelf, DAY, 200_000) for _ in range(2))
    assert first.findings == again.findings
    assert again.facts.protocol_set.passed
    assert not again.facts.examined


def test_several_processes_judge_as_one_does(folder: Path) -> None:
    taken = take_in(folder)
    paths = [path for path in taken.files if "/parts/" not in path and "clinic" not in path]
    alone = list(judged_in(check_set(read_set(folder), DAY)))
    together = judged_together(taken, paths, DAY, 200_000, processes=2)
    assert sorted(together, key=lambda one: one.passed.id) == alone
    assert judged_together(taken, paths, DAY, 200_000) == []


def test_files_are_called_by_where_they_lie() -> None:
    assert Taken("", {}, ()).inside("a.yaml") == "a.yaml"
    assert Taken("set", {}, ()).inside("set/parts/a.yaml") == "parts/a.yaml"
