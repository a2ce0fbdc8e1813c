"""A catch-up that is killed between any two of its writes leaves the set as it was before, or as it is after."""

from __future__ import annotations

import os
import pickle
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from stepfield.adopting.swapping import ChangedMeanwhileError, finish, swap
from stepfield.command import main
from stepfield.language import read_set, take_in
from stepfield.language.half_done import ASIDE, READY, half_done_in
from tests.adopting.catching import BASE, HALL, adopted, caught, source

KILLED = """
import os, pickle, signal, sys
from pathlib import Path
from stepfield.adopting.swapping import finish, swap

folder, before, after, fatal, again = pickle.loads(bytes.fromhex(sys.argv[1]))
steps = []

def step(what):
    steps.append(what)
    if len(steps) == fatal:
        os.kill(os.getpid(), signal.SIGKILL)

if again:
    finish(Path(folder), step)
else:
    swap(Path(folder), before, after, "1.1.0", ("1.0.0-to-1.1.0.md", "# Report"), step)
"""
REPORT = "catch-up/1.0.0-to-1.1.0.md"


def newer() -> tuple[dict[str, bytes], dict[str, bytes]]:
    """Files before and after: some new, some changed, some gone, in the folder itself and in parts/."""
    before = adopted()
    text = {"room.yaml": BASE["room.yaml"].replace("Tidy", "Clear"), "yard.yaml": HALL}
    parts = {"parts/rub.yaml": BASE["parts/rub.yaml"].replace("25 s", "30 s"), "parts/dry.yaml": BASE["parts/rub.yaml"]}
    return before, dict(caught(before, source({**text, **parts}, "1.1.0")).after)


def laid_out(folder: Path, files: dict[str, bytes]) -> Path:
    for path, data in files.items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_bytes(data)
    return folder


def read(folder: Path) -> dict[str, bytes]:
    taken = take_in(folder)
    return {taken.inside(path): data for path, data in taken.files.items()}


def run_until_killed(folder: Path, fatal: int, *, again: bool = False) -> bool:
    """Whether the process was killed, and did not come to its end."""
    told = pickle.dumps((str(folder), *newer(), fatal, again)).hex()
    done = subprocess.run([sys.executable, "-c", KILLED, told], capture_output=True, check=False)
    assert done.returncode in (0, -signal.SIGKILL), done.stderr.decode()
    return done.returncode != 0


@pytest.mark.skipif(os.name != "posix", reason="no process can be killed this way here")
def test_wherever_it_is_killed_the_set_reads_as_before_or_as_after(tmp_path: Path) -> None:
    before, after = newer()
    assert len({*before} - {*after}) == 1
    states = []
    for fatal in range(1, 60):
        folder = laid_out(tmp_path / str(fatal) / "protocols", before)
        killed = run_until_killed(folder, fatal)
        found = read(folder)
        assert found in (before, after), fatal
        states.append(found == after)
        assert states == sorted(states), "once it counts, it counts"
        told = [one for one in take_in(folder).refused if "broken off" in one.message]
        assert bool(told) is (half_done_in(folder) is not None)
        assert not told or found == after
        finish(folder)
        assert read(folder) == found
        assert take_in(folder).refused == ()
        assert {path: (folder / path).read_bytes() for path in found} == found
        assert (tmp_path / str(fatal) / REPORT).exists() is (found == after)
        if not killed:
            break
        swap(folder, found, after, "1.1.0", ("x.md", ""))  # whatever was left lying is in nobody's way
        assert read(folder) == after
    assert not killed
    assert (True in states, False in states) == (True, True)
    assert len(states) > 15


@pytest.mark.skipif(os.name != "posix", reason="no process can be killed this way here")
def test_ending_what_was_broken_off_may_be_broken_off_too(tmp_path: Path) -> None:
    before, after = newer()
    for fatal in range(1, 60):
        folder = laid_out(tmp_path / str(fatal) / "protocols", before)
        assert run_until_killed(folder, _ready(tmp_path / "probe"))
        killed = run_until_killed(folder, fatal, again=True)
        assert read(folder) == after
        finish(folder)
        assert read(folder) == after
        assert (tmp_path / str(fatal) / REPORT).exists()
        if not killed:
            return
    raise AssertionError("it never came to its end")


def _ready(folder: Path) -> int:
    """The number of the step at which the change begins to count."""
    before, after = newer()
    steps: list[str] = []
    swap(laid_out(folder / "protocols", before), before, after, "1.1.0", ("x.md", ""), steps.append)
    for path in after:
        (folder / "protocols" / path).unlink()
    return steps.index("the list counts") + 1


def test_check_tells_what_was_broken_off_and_the_next_run_ends_it(tmp_path: Path) -> None:
    before, after = newer()
    folder = laid_out(tmp_path / "protocols", before)
    assert run_until_killed(folder, _ready(tmp_path / "probe") + 2)
    result = CliRunner().invoke(main, ["check", str(folder), "--no-cache"])
    assert result.exit_code == 1
    assert "ersion 1.1.0 was being taken in, and that was broken off" in result.output
    assert "un `stepfield catch-up`, which ends it" in result.output
    assert {one.id for one in read_set(folder).protocols} == {"room", "yard"}
    again = CliRunner().invoke(main, ["catch-up", "--set", str(folder), "--dry-run"])
    assert (again.exit_code, "broken off" in again.output) == (2, True)
    ended = CliRunner().invoke(main, ["catch-up", "--set", str(folder)])
    assert f"Ended what was broken off: version 1.1.0 is taken in, see {REPORT}." in ended.output
    assert read(folder) == after
    assert (tmp_path / REPORT).read_text(encoding="utf-8") == "# Report"
    assert not (folder / ASIDE).exists()


@pytest.mark.parametrize("path", ["tailoring.yaml", "hall.yaml", "yard.yaml"])
def test_an_edit_made_after_it_was_broken_off_is_kept(tmp_path: Path, path: str) -> None:
    before, after = newer()
    folder = laid_out(tmp_path / "protocols", before)
    assert run_until_killed(folder, _ready(tmp_path / "probe"))
    (folder / path).write_bytes(b"mine")
    result = CliRunner().invoke(main, ["catch-up", "--set", str(folder)])
    assert f"as it was edited it lies in catch-up/{path}.as-edited." in result.output
    assert (tmp_path / "catch-up" / f"{path}.as-edited").read_bytes() == b"mine"
    assert read(folder) == after


def test_what_was_changed_in_the_meantime_is_not_replaced(tmp_path: Path) -> None:
    before, after = newer()
    folder = laid_out(tmp_path / "protocols", before)
    (folder / "room.yaml").write_bytes(b"mine")
    with pytest.raises(ChangedMeanwhileError):
        swap(folder, before, after, "1.1.0", ("x.md", ""))
    assert read(folder) == {**before, "room.yaml": b"mine"}
    assert not (folder / ASIDE).exists()


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[]",
        '{"to": "1", "write": {"../x.yaml": ""}, "remove": {}, "report": "x.md"}',
        '{"to": "1", "write": {}, "remove": {"/etc/x.yaml": ""}, "report": "x.md"}',
        '{"to": "1", "write": {}, "remove": {}, "report": "../x.md"}',
        '{"to": "1", "write": 3, "remove": {}, "report": "x.md"}',
    ],
)
def test_a_list_that_the_program_did_not_write_is_never_followed(tmp_path: Path, text: str) -> None:
    before, _ = newer()
    folder = laid_out(tmp_path / "protocols", before)
    (folder / ASIDE).mkdir()
    (folder / ASIDE / READY).write_text(text, encoding="utf-8")
    with pytest.raises(ValueError, match=READY):
        finish(folder)
    assert read(folder) == before
    assert READY in str(take_in(folder).refused)
    result = CliRunner().invoke(main, ["catch-up", "--set", str(folder)])
    assert (result.exit_code, "take that folder away" in result.output) == (2, True)


def test_links_in_the_place_of_waiting_texts_are_not_followed(tmp_path: Path) -> None:
    before, _ = newer()
    folder = laid_out(tmp_path / "protocols", before)
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    (elsewhere / READY).write_text('{"to": "1", "write": {"room.yaml": ""}, "remove": {}, "report": "x.md"}')
    (elsewhere / "room.yaml").write_text("theirs")
    (folder / ASIDE).symlink_to(elsewhere)
    assert read(folder) == before
    assert finish(folder) is None
    (folder / ASIDE).unlink()
    (folder / ASIDE).mkdir()
    (elsewhere / READY).rename(folder / ASIDE / READY)
    (folder / ASIDE / "room.yaml").symlink_to(elsewhere / "room.yaml")
    assert read(folder) == before


def test_modes_stay_as_they_were(tmp_path: Path) -> None:
    before, after = newer()
    folder = laid_out(tmp_path / "protocols", before)
    (folder / "room.yaml").chmod(0o640)
    swap(folder, before, after, "1.1.0", ("x.md", ""))
    assert (folder / "room.yaml").stat().st_mode & 0o777 == 0o640
