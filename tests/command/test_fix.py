"""``check --fix``: what is asked, what is written, what stays as it is, and what is refused."""

from __future__ import annotations

import json
import stat
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from stepfield.command import main

CLINIC = "clinic: Quillhaven Day Surgery\nroles:\n  scrub: {title: Scrub nurse}\n  circulating: {title: Runner}\n"
ROOM = """kind: protocol
title: Small room   # the smallest
team: [scrub, circulating]
surfaces: {side-table: {title: Side table}, stool: {title: Stool}}
phases:
  - phase: room
    steps:
      - {id: wipe, role: circulating, do: Wipe., makes: {side-table: disinfected}}
      - {id: brush, role: circulating, do: Brush., makes: {stool: clean}}

      # the set
      - id: set-out
        role: scrub   # nobody else
        do: Set out.
        needs: {side-table: disinfected}
      - {id: sit, role: scrub, do: Sit., needs: {stool: clean}}
"""
SET_OUT = ROOM.replace("nobody else\n", "nobody else\n        after: [wipe]\n")
SIT = ROOM.replace("id: sit, role: scrub,", "id: sit, role: scrub, after: [brush],")
BOTH = SET_OUT.replace("id: sit, role: scrub,", "id: sit, role: scrub, after: [brush],")
PART = """kind: part
title: Setting out
for: {who: role}
steps:
  - {id: lay, role: who, do: Lay., requires: [wiped]}
  - {id: look, role: who, do: Look.}
"""
USES = """kind: protocol
title: Uses a part
team: [scrub, circulating]
phases:
  - phase: room
    steps:
      - {id: wipe, role: circulating, do: Wipe., confirms: [wiped]}
      - {use: setting-out, as: out, with: {who: scrub}}   # the set
"""


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to work in, with a set that has two findings."""
    monkeypatch.chdir(tmp_path)
    write("protocols/clinic.yaml", CLINIC)
    write("protocols/room.yaml", ROOM)
    return tmp_path


def write(name: str, text: str | bytes) -> None:
    path = Path(name)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(text if isinstance(text, bytes) else text.encode())


def room() -> str:
    return Path("protocols/room.yaml").read_bytes().decode()


def fix(*words: str, answers: str = "") -> Result:
    result = CliRunner().invoke(main, ["check", "--fix", *words], input=answers)
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exc_info
    return result


def test_every_finding_is_asked_about_and_what_is_picked_is_written(here: Path) -> None:
    result = fix(answers="1\n1\n")
    assert room() == BOTH
    assert result.exit_code == 0
    assert (
        "  To be picked (needs-not-met:room/set-out:side-table):\n    1  do 'wipe' before 'set-out'\n" in result.stdout
    )
    assert "Written into protocols/room.yaml:\n" in result.stdout
    assert "  +        after: [wipe]\n" in result.stdout
    assert "No findings.\n" in result.stdout


def test_enter_leaves_a_finding_as_it_is(here: Path) -> None:
    result = fix(answers="\n1\n")
    assert room() == SIT
    assert result.exit_code == 1


def test_a_number_that_is_none_of_them_is_asked_for_again(here: Path) -> None:
    result = fix(answers="7\nyes\n1\n\n")
    assert result.stdout.count("Not that one: there is no such number.") == 2
    assert room() == SET_OUT


def test_where_nobody_answers_nothing_is_written(here: Path) -> None:
    result = fix(answers="")
    assert room() == ROOM
    assert result.exit_code == 1
    assert "2 errors." in result.stdout


def test_where_there_is_no_mend_it_says_so(here: Path) -> None:
    write("protocols/room.yaml", BOTH)
    assert "There is no finding that a mend was found for.\n" in fix().stdout


@pytest.mark.parametrize("name", ["needs-not-met:set-out", "needs-not-met:room/set-out:side-table=1"])
def test_a_mend_is_picked_by_name(here: Path, name: str) -> None:
    result = fix("--pick", name)
    assert room() == SET_OUT
    assert result.exit_code == 1
    assert "  +        after: [wipe]\n" in result.stderr


def test_several_are_picked_at_once_and_json_stays_json(here: Path) -> None:
    result = fix("--format", "json", "--pick", "needs-not-met:set-out", "--pick", "needs-not-met:sit")
    assert json.loads(result.stdout)["findings"] == []
    assert room() == BOTH


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("set-out", "is no pick"),
        ("needs-not-met:wipe", "There is no finding"),
        ("needs-not-met:set-out=2", "=1 do 'wipe' before 'set-out'"),
        ("field-broken:set-out", "There is no finding"),
    ],
)
def test_a_pick_that_fits_nothing_ends_with_2_before_anything_is_written(here: Path, name: str, told: str) -> None:
    result = fix("--pick", "needs-not-met:sit", "--pick", name)
    assert result.exit_code == 2
    assert told in result.stderr
    assert room() == ROOM


def test_a_pick_that_may_mean_several_findings_names_them(here: Path) -> None:
    write("protocols/other.yaml", ROOM)
    result = fix("--pick", "needs-not-met:sit")
    assert result.exit_code == 2
    assert "needs-not-met:other/sit:stool, or needs-not-met:room/sit:stool" in result.stderr


def test_what_an_earlier_pick_mended_is_passed_over(here: Path) -> None:
    result = fix("--pick", "needs-not-met:sit", "--pick", "needs-not-met:room/sit:stool")
    assert "mended already" in result.stderr
    assert room() == SIT


def test_pick_without_fix_and_questions_in_json_are_wrong_usage(here: Path) -> None:
    done = CliRunner().invoke(main, ["check", "--pick", "needs-not-met:sit"])
    assert (done.exit_code, "goes with --fix" in done.stderr) == (2, True)
    assert fix("--format", "json").exit_code == 2


@pytest.mark.parametrize("mode", [0o640, 0o600, 0o664])
def test_the_mode_stays_and_nothing_is_left_lying_about(here: Path, mode: int) -> None:
    Path("protocols/room.yaml").chmod(mode)
    fix("--pick", "needs-not-met:sit")
    assert stat.S_IMODE(Path("protocols/room.yaml").stat().st_mode) == mode
    assert sorted(path.name for path in Path("protocols").iterdir()) == ["clinic.yaml", "room.yaml"]


def test_line_ends_and_a_byte_order_mark_stay(here: Path) -> None:
    write("protocols/room.yaml", b"\xef\xbb\xbf" + ROOM.replace("\n", "\r\n").encode())
    fix("--pick", "needs-not-met:set-out")
    assert Path("protocols/room.yaml").read_bytes() == b"\xef\xbb\xbf" + SET_OUT.replace("\n", "\r\n").encode()


def test_a_link_is_not_written_through(here: Path) -> None:
    Path("protocols/room.yaml").rename("protocols/.kept")
    Path("protocols/room.yaml").symlink_to(".kept")
    result = fix("--pick", "needs-not-met:sit")
    assert result.exit_code == 2
    assert "cannot be written" in result.stderr
    assert Path("protocols/.kept").read_text() == ROOM
    assert Path("protocols/room.yaml").is_symlink()


def test_a_wait_of_a_step_in_a_part_is_written_at_the_use(here: Path) -> None:
    write("protocols/room.yaml", USES)
    write("protocols/parts/setting-out.yaml", PART)
    result = fix("--pick", "fact-missing:out.lay=1")
    assert result.exit_code == 0
    assert room() == USES.replace("as: out,", "as: out, after: [wipe],")
    assert Path("protocols/parts/setting-out.yaml").read_text() == PART


def test_a_wait_that_only_the_hand_can_write_says_why(here: Path) -> None:
    loop = USES.replace("- {id: wipe, role: circulating,", "- {id: wipe, role: circulating, after: [out.look],")
    write("protocols/room.yaml", loop)
    looks = PART.replace(
        "{id: lay, role: who, do: Lay.", "{id: look, role: who, do: Look.}\n  - {id: lay, role: who, do: Lay."
    )
    write("protocols/parts/setting-out.yaml", looks.rsplit("  - ", 1)[0])
    result = fix(answers="1\n")
    assert (
        "1  do 'wipe' before 'out.lay' (only by hand: written there it would bring order-loop in 'room')"
        in result.stdout
    )
    assert room() == loop


def test_several_sets_are_asked_about_one_after_the_other(here: Path) -> None:
    write("second/clinic.yaml", CLINIC)
    write("second/room.yaml", ROOM)
    assert fix("protocols", "second", answers="\n\n1\n1\n").exit_code == 1
    assert (room(), Path("second/room.yaml").read_text()) == (ROOM, BOTH)


@pytest.mark.parametrize("folder", [".", "protocols/", "./protocols", "protocols/room.yaml"])
def test_the_file_is_found_however_the_set_is_named(here: Path, folder: str, monkeypatch: pytest.MonkeyPatch) -> None:
    if folder == ".":
        monkeypatch.chdir("protocols")
    assert fix(folder, "--pick", "needs-not-met:sit").exit_code == 1
    monkeypatch.chdir(here)
    assert room() == SIT
