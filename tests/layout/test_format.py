"""The command `format`: what it writes, what it leaves alone, and how it ends."""

from __future__ import annotations

import stat
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from stepfield.command import main

CLINIC = "clinic: Quillhaven Day Surgery\nroles:\n  scrub: {title: Scrub nurse}\n"
ODD = "title: Rub   \nkind: part # a part\nfor: {who: role}\nsteps:\n- role: who\n  id: rub\n  do: Rub.\n"
LAID = "kind: part  # a part\ntitle: Rub\nfor: {who: role}\nsteps:\n  - id: rub\n    role: who\n    do: Rub.\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "parts").mkdir()
    (tmp_path / "clinic.yaml").write_text(CLINIC, encoding="utf-8")
    (tmp_path / "parts" / "rub.yaml").write_text(ODD, encoding="utf-8")
    return tmp_path


def run(*words: object) -> Result:
    return CliRunner().invoke(main, ["format", *map(str, words)])


def test_check_writes_nothing_and_format_writes_once(folder: Path) -> None:
    file = folder / "parts" / "rub.yaml"
    file.chmod(0o640)
    assert run("--check", folder).exit_code == 1
    assert file.read_text(encoding="utf-8") == ODD
    done = run(folder)
    assert (done.exit_code, done.stdout) == (0, f"{file.as_posix()}: laid out anew\n")
    assert file.read_text(encoding="utf-8") == LAID
    assert stat.S_IMODE(file.stat().st_mode) == 0o640
    assert run("--check", folder).exit_code == 0
    assert sorted(path.name for path in file.parent.iterdir()) == ["rub.yaml"]


def test_line_ends_of_windows_and_a_mark_at_the_start_are_no_obstacle(folder: Path) -> None:
    file = folder / "parts" / "rub.yaml"
    file.write_bytes(b"\xef\xbb\xbf" + ODD.replace("\n", "\r\n").encode())
    assert run(file).exit_code == 0
    assert file.read_bytes() == b"\xef\xbb\xbf" + LAID.encode()
    assert run("--check", file).exit_code == 0


def test_a_file_that_cannot_be_read_is_left_alone_and_the_others_are_written(folder: Path) -> None:
    broken = folder / "broken.yaml"
    broken.write_text("kind: protocol\n\ttitle: x\n", encoding="utf-8")
    done = run(folder)
    assert done.exit_code == 1
    assert "broken.yaml:2:1: left alone:" in done.stderr
    assert broken.read_text(encoding="utf-8") == "kind: protocol\n\ttitle: x\n"
    assert (folder / "parts" / "rub.yaml").read_text(encoding="utf-8") == LAID


def test_a_link_is_not_written_through(folder: Path) -> None:
    file = folder / "parts" / "rub.yaml"
    other = folder / "other.txt"
    file.rename(other)
    file.symlink_to(other)
    done = run(folder)
    assert done.exit_code == 2
    assert other.read_text(encoding="utf-8") == ODD


def test_what_belongs_to_no_set_is_refused(tmp_path: Path) -> None:
    assert run(tmp_path).exit_code == 2
    assert run(tmp_path / "nothing.yaml").exit_code == 2
