"""The command: where the newer text comes from, what is written, and what cannot be taken in."""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from stepfield.adopting.taking import place_from
from stepfield.checks import check_set
from stepfield.command import main
from stepfield.language import read_set
from tests.adopting.catching import BASE, CLINIC, HALL, ROOM, TODAY

ENTRY = (
    "\nchanges: [{protocol: room, step: wipe, set: {takes: 4 min}, expects: {takes: 3 min}, because: Slow wipes.}]\n"
)


def laid_out(folder: Path, room: str = ROOM, **more: str) -> Path:
    files = {**BASE, "clinic.yaml": CLINIC, "room.yaml": room, **{f"{name}.yaml": text for name, text in more.items()}}
    for path, text in files.items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_text(text, encoding="utf-8")
    return folder


def ran(*arguments: object) -> Result:
    return CliRunner().invoke(main, [*map(str, arguments)])


def contents(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A clinic's folder, in which somebody stands, beside the set that it adopted."""
    monkeypatch.chdir(tmp_path)
    laid_out(tmp_path / "quillhaven")
    assert (
        ran("adopt", "quillhaven", "larkmere", "--clinic", "Larkmere Hand Clinic", "--version", "1.0.0").exit_code == 0
    )
    monkeypatch.chdir(tmp_path / "larkmere")
    return tmp_path / "larkmere"


def test_the_newer_text_comes_from_where_the_set_was_adopted(here: Path) -> None:
    assert 'source: "../quillhaven"\n' in (here / "protocols/upstream.yaml").read_text(encoding="utf-8")
    assert ran("catch-up").output == "Nothing to do: version 1.0.0 is the one that is here.\n"
    laid_out(here.parent / "quillhaven", ROOM.replace("3 min", "5 min"))
    before = contents(here)
    dry = ran("catch-up", "--version", "1.1.0", "--dry-run")
    assert dry.exit_code == 0, dry.output
    assert "Shared files: 0 new, 1 changed, 0 no longer there." in dry.output
    assert "no longer: takes 3 min; new: takes 5 min" in dry.output
    assert contents(here) == before
    done = ran("catch-up", "--version", "1.1.0")
    assert done.exit_code == 0, done.output
    assert "the report is catch-up/1.0.0-to-1.1.0.md" in done.output
    report = (here / "catch-up/1.0.0-to-1.1.0.md").read_text(encoding="utf-8")
    assert report.startswith("# Catching up with Quillhaven Day Surgery\\: 1\\.0\\.0 → 1\\.1\\.0\n")
    assert (here / "protocols/room.yaml").read_bytes() == (here.parent / "quillhaven/room.yaml").read_bytes()
    assert check_set(read_set(here / "protocols"), TODAY).findings == ()
    changed = {path for path, data in contents(here).items() if before.get(path) != data}
    assert changed == {
        "catch-up/1.0.0-to-1.1.0.md",
        *(f"protocols/{name}.yaml" for name in ("room", "tailoring", "upstream")),
    }
    after = contents(here)
    assert ran("catch-up", "--version", "1.1.0").output.startswith("Nothing to do")
    assert contents(here) == after


def test_nothing_is_written_until_somebody_decides(here: Path) -> None:
    tailoring = here / "protocols/tailoring.yaml"
    tailoring.write_text(tailoring.read_text(encoding="utf-8") + ENTRY, encoding="utf-8")
    laid_out(here.parent / "quillhaven", ROOM.replace("3 min", "5 min"))
    before = contents(here)
    asked = ran("catch-up", "--version", "1.1.0")
    assert asked.exit_code == 1
    assert "takes: before 3 min; now 5 min; here 4 min" in asked.output
    assert "because: Slow wipes." in asked.output
    assert contents(here) == before
    wrong = ran("catch-up", "--version", "1.1.0", "--keep", "room/wip")
    assert (wrong.exit_code, contents(here)) == (2, before)
    done = ran("catch-up", "--version", "1.1.0", "--keep", "room/wipe")
    assert done.exit_code == 0, done.output
    assert "expects: {takes: 5 min}" in tailoring.read_text(encoding="utf-8")
    report = (here / "catch-up/1.0.0-to-1.1.0.md").read_text(encoding="utf-8")
    assert "  | takes | 3 min | 5 min | 4 min |\n" in report
    assert "The entry is kept" in report


def test_the_newer_text_is_taken_as_it_stood_at_a_tag(here: Path) -> None:
    quillhaven = here.parent / "quillhaven"
    laid_out(quillhaven, ROOM.replace("3 min", "5 min"))
    for words in (["init", "-q"], ["add", "."], ["commit", "-qm", "x"], ["tag", "v1.2.0"]):
        safe = ["-c", "user.name=a", "-c", "user.email=a@example.org", "-c", "commit.gpgsign=false"]
        subprocess.run(["git", *safe, *words], cwd=quillhaven, check=True, capture_output=True)
    laid_out(quillhaven, "kind: broken\n")
    done = ran("catch-up", "../quillhaven", "--ref", "v1.2.0")
    assert done.exit_code == 0, done.output
    upstream = (here / "protocols/upstream.yaml").read_text(encoding="utf-8")
    assert 'version: 1.2.0\nsource: "../quillhaven"\ncommit: "' in upstream
    assert ran("catch-up", "--ref", "v9.9.9").exit_code == 2


def test_files_of_other_kinds_in_the_source_are_not_taken_in(here: Path) -> None:
    quillhaven = laid_out(here.parent / "quillhaven", ROOM.replace("3 min", "5 min"))
    (quillhaven / "README.md").write_text("# Read me", encoding="utf-8")
    (quillhaven / "pictures").mkdir()
    (quillhaven / "pictures/a.png").write_bytes(b"\x89PNG")
    (quillhaven / "screens.yaml").write_text("days: {}\n", encoding="utf-8")
    assert ran("catch-up", "--version", "1.1.0").exit_code == 0
    assert {path.name for path in (here / "protocols").iterdir()} == {
        *("clinic.yaml", "hall.yaml", "parts", "room.yaml", "tailoring.yaml", "upstream.yaml"),
    }


def linked(folder: Path) -> None:
    (folder / "other.yaml").symlink_to(Path(__file__))


def adopted_itself(folder: Path) -> None:
    (folder / "tailoring.yaml").write_text("baseline: {name: Q, version: 1.0.0}\n", encoding="utf-8")


@pytest.mark.parametrize(
    ("spoil", "more", "said"),
    [
        (lambda _: None, ["--ref", "v1.1.0"], "repository"),
        (lambda _: None, ["--version", "two"], "is no version"),
        (lambda folder: (folder / "hall.yaml").write_text(HALL + "# x\n"), [], "has no version"),
        (linked, ["--version", "1.1.0"], "leads out of the protocol folder"),
        (adopted_itself, ["--version", "1.1.0"], "adopted from another"),
        (lambda folder: (folder / "clinic.yaml").unlink(), ["--version", "1.1.0"], "no protocol set"),
        (lambda folder: (folder / "room.yaml").write_text(f"newer: 1\n{ROOM}"), ["--version", "1.1.0"], "as new as"),
        (lambda folder: (folder / "room.yaml").write_bytes(b"\xff"), ["--version", "1.1.0"], "cannot be read as meant"),
        (lambda folder: (folder / "hall.yml").write_text(HALL), ["--version", "1.1.0"], "cannot be read as meant"),
        (lambda folder: (folder / "notes.txt").mkdir(), ["--version", "1.1.0", "--set", "nowhere"], "no clinic.yaml"),
    ],
)  # fmt: skip
def test_what_cannot_be_taken_in_is_refused_and_nothing_is_written(
    here: Path, spoil: Callable[[Path], object], more: list[str], said: str
) -> None:
    spoil(here.parent / "quillhaven")
    before = contents(here)
    result = ran("catch-up", *more)
    assert result.exit_code == 2, result.output
    assert said in " ".join(result.output.split())
    assert "Traceback" not in result.output
    assert contents(here) == before


def test_an_edit_of_the_adopted_text_is_refused(here: Path) -> None:
    room = here / "protocols/room.yaml"
    room.write_text(ROOM.replace("3 min", "4 min"), encoding="utf-8")
    laid_out(here.parent / "quillhaven", ROOM.replace("3 min", "5 min"))
    result = ran("catch-up", "--version", "1.1.0")
    assert (result.exit_code, "stepfield tailor" in result.output) == (2, True)
    assert room.read_text(encoding="utf-8") == ROOM.replace("3 min", "4 min")


@pytest.mark.parametrize("line", ['source: "../quillhaven"\n', ""])
def test_a_place_that_is_not_there_is_asked_for(here: Path, line: str) -> None:
    upstream = here / "protocols/upstream.yaml"
    upstream.write_text(
        upstream.read_text(encoding="utf-8").replace('source: "../quillhaven"\n', line), encoding="utf-8"
    )
    (here.parent / "quillhaven").rename(here.parent / "elsewhere")
    result = ran("catch-up")
    assert (result.exit_code, "stepfield catch-up SOURCE" in " ".join(result.output.split())) == (2, True)
    laid_out(here.parent / "elsewhere", ROOM.replace("3 min", "5 min"))
    assert ran("catch-up", "../elsewhere", "--version", "1.1.0").exit_code == 0
    assert 'source: "../elsewhere"\n' in upstream.read_text(encoding="utf-8")


def test_a_place_is_written_down_as_seen_from_the_clinic(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert place_from(tmp_path / "a/b", Path("set")) == "../../set"
    assert place_from(tmp_path / "a/b", tmp_path / "set") == (tmp_path / "set").as_posix()


def test_a_set_that_is_no_adopted_one_is_refused(here: Path) -> None:
    result = ran("catch-up", "../quillhaven", "--set", "../quillhaven")
    assert (result.exit_code, "no set that was adopted" in " ".join(result.output.split())) == (2, True)


def test_what_cannot_be_written_leaves_all_as_it_was(here: Path) -> None:
    laid_out(here.parent / "quillhaven", ROOM.replace("3 min", "5 min"))
    (here / "catch-up").write_text("no folder", encoding="utf-8")
    before = contents(here / "protocols")
    result = ran("catch-up", "--version", "1.1.0")
    assert result.exit_code == 2
    assert "Traceback" not in result.output
    assert {path: data for path, data in contents(here / "protocols").items() if not path.startswith(".")} == before
    (here / "catch-up").unlink()
    assert ran("catch-up", "--version", "1.1.0").exit_code == 0
