"""``stepfield tailor`` as its user runs it: where the adopted text comes from, and bad input."""

from __future__ import annotations

import subprocess
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from stepfield.command import main
from stepfield.language import build_set
from tests.adopting.moving import (
    FILES,
    ROOM,
    adopted,
)


def git(folder: Path, *words: str) -> None:
    safe = ["-c", "user.name=a", "-c", "user.email=a@example.org", "-c", "commit.gpgsign=false"]
    subprocess.run(["git", *safe, *words], cwd=folder, capture_output=True, check=True)


def ran(folder: Path, *words: object) -> Result:
    return CliRunner().invoke(main, ["tailor", str(folder), *map(str, words)])


@pytest.fixture
def clinic(tmp_path: Path) -> Path:
    """A clinic's repository, in which the adopted set was committed and then edited."""
    folder = tmp_path / "clinic"
    for path, data in adopted().items():
        target = folder / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(data)
    git(folder, "init", "-q")
    git(folder, "add", ".")
    git(folder, "commit", "-q", "-m", "adopted")
    (folder / "p/room.yaml").write_text(ROOM.replace("do: Tidy.", "do: Tidy up."), encoding="utf-8")
    return folder


def contents(folder: Path) -> dict[str, bytes]:
    return {path.as_posix(): path.read_bytes() for path in sorted(folder.rglob("*.yaml"))}


@pytest.mark.parametrize("committed", [False, True])
def test_the_adopted_text_comes_out_of_the_clinics_own_history(clinic: Path, committed: bool) -> None:
    if committed:
        git(clinic, "commit", "-q", "-a", "-m", "edited")
        (clinic / "p/room.yaml").write_text(ROOM.replace("do: Tidy.", "do: Tidy up well."), encoding="utf-8")
    dry = ran(clinic / "p", "--dry-run")
    assert (dry.exit_code, "would be as it was adopted" in dry.output) == (0, True), dry.output
    result = ran(clinic / "p")
    assert result.exit_code == 0, result.output
    assert "'tidy' of 'room' is changed (do): neutral" in result.output
    assert "write `because:`" in result.output
    assert (clinic / "p/room.yaml").read_bytes() == ROOM.encode()
    assert ran(clinic / "p").output == "No adopted file was edited: there is nothing to move.\n"
    assert [one.rule for one in build_set(as_set(clinic)).problems if one.rule != "unused-name"] == []


def as_set(clinic: Path) -> dict[str, bytes]:
    return {path.relative_to(clinic).as_posix(): path.read_bytes() for path in (clinic / "p").rglob("*.yaml")}


def test_line_ends_and_a_byte_order_mark_are_put_back_as_they_were(clinic: Path) -> None:
    path = clinic / "p/room.yaml"
    path.write_bytes(b"\xef\xbb\xbf" + ROOM.replace("do: Tidy.", "do: Tidy up.").replace("\n", "\r\n").encode())
    assert ran(clinic / "p").exit_code == 0
    assert path.read_bytes() == ROOM.encode()


@pytest.mark.parametrize("inner", ["", "protocols"])
def test_the_adopted_text_comes_from_the_source_that_is_named(clinic: Path, tmp_path: Path, inner: str) -> None:
    source = tmp_path / "source"
    for path, text in FILES.items():
        (source / inner / path).parent.mkdir(parents=True, exist_ok=True)
        (source / inner / path).write_text(text, encoding="utf-8")
    git(source, "init", "-q")
    git(source, "add", ".")
    git(source, "commit", "-q", "-m", "first")
    git(source, "tag", "v1.0.0")
    newer = source / inner / "room.yaml"
    newer.write_text(ROOM + "# newer\n", encoding="utf-8")
    before = contents(clinic)
    refused = ran(clinic / "p", "--from", source)
    assert (refused.exit_code, contents(clinic)) == (2, before)
    assert "room.yaml is not what was adopted" in refused.output
    assert ran(clinic / "p", "--from", source, "--ref", "v1.0.0").exit_code == 0
    assert (clinic / "p/room.yaml").read_bytes() == ROOM.encode()


def without_history(clinic: Path) -> None:
    subprocess.run(["rm", "-rf", ".git"], cwd=clinic, check=True)


def never_committed(clinic: Path) -> None:
    subprocess.run(["rm", "-rf", ".git"], cwd=clinic, check=True)
    git(clinic, "init", "-q")
    git(clinic, "add", ".")
    git(clinic, "commit", "-q", "-m", "too late")


def without_commit(clinic: Path) -> None:
    subprocess.run(["rm", "-rf", ".git"], cwd=clinic, check=True)
    git(clinic, "init", "-q")


def as_a_link(clinic: Path) -> None:
    (clinic / "p/room.yaml").rename(clinic / "p/.room.yaml")
    (clinic / "p/room.yaml").symlink_to(".room.yaml")


@pytest.mark.parametrize(
    ("spoil", "more", "told"),
    [
        (without_history, [], "--from SOURCE"),
        (never_committed, [], "never committed here as it was adopted"),
        (without_commit, [], "has no history yet"),
        (lambda clinic: None, ["--ref", "v1"], "--ref names a commit"),
        (lambda clinic: None, ["--from", "nowhere"], "nowhere"),
        (lambda clinic: (clinic / "p/upstream.yaml").unlink(), [], "was not adopted"),
        (lambda clinic: (clinic / "p/upstream.yaml").write_text("name: [\n"), [], "was not adopted"),
        (lambda clinic: (clinic / "p/tailoring.yaml").unlink(), [], "begin it with the line: baseline:"),
        (lambda clinic: (clinic / "p/tailoring.yaml").write_text("baseline: x\n"), [], "Mend that first"),
        (lambda clinic: (clinic / "p/tailoring.yaml").write_bytes(b"\xff"), [], "Mend that first"),
        (lambda clinic: (clinic / "p/more.yaml").symlink_to("/etc/passwd"), [], "leads out of the protocol folder"),
        (as_a_link, [], "room.yaml cannot be written: it is a link"),
    ],
)
def test_bad_input_is_told_and_nothing_is_lost(clinic: Path, spoil: Any, more: list[str], told: str) -> None:
    spoil(clinic)
    before = contents(clinic)
    result = ran(clinic / "p", *more)
    assert result.exit_code == 2, result.output
    assert "Traceback" not in result.output
    assert told in " ".join(result.output.split()), result.output
    assert contents(clinic) == before


def test_a_file_that_is_left_alone_is_told_with_its_line(clinic: Path) -> None:
    (clinic / "p/room.yaml").write_text(ROOM.replace("title: Leave", "title: Go"), encoding="utf-8")
    (clinic / "p/other.yaml").write_text(FILES["other.yaml"].replace("do: Tidy.", "do: Tidy up."), encoding="utf-8")
    result = ran(clinic / "p")
    assert result.exit_code == 1
    assert "room.yaml:33: left alone: the phase 'leave' has another title." in result.output
    assert "other.yaml: 1 entry in tailoring.yaml" in result.output
    assert (clinic / "p/other.yaml").read_text(encoding="utf-8") == FILES["other.yaml"]
