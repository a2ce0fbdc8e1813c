"""``stepfield adopt``: a new clinic with the files of another, byte by byte, that checks and builds at once."""

from __future__ import annotations

import datetime
import hashlib
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from stepfield.adopting import CannotAdoptError, adopted_clinic, source_in
from stepfield.checks import check_set
from stepfield.command import main
from stepfield.language import build_set, read_set
from stepfield.language.tailoring_fields import bare

DEMO = Path(__file__).parents[2] / "protocols"
TODAY = datetime.date(2026, 11, 2)
SMALL = {
    "clinic.yaml": "clinic: Quillhaven Day Surgery\nlanguage: de\nroles: {scrub: {title: 'O: nurse #1'}, 'true': {}}\n"
    "surfaces: {shelf: {title: Shelf, starts: clean}}\n",
    "room.yaml": "kind: protocol\ntitle: Room\nversion: 1.0.0\nowner: lead\nteam: [scrub]\n"
    "phases: [{phase: room, steps: [{use: wipe-down, as: first, with: {what: shelf}}]}]\n",
    "parts/wipe-down.yaml": "kind: part\ntitle: Wipe\nfor: {what: surface}\n"
    "steps: [{id: wipe, role: scrub, do: Wipe., makes: {what: clean}, takes: 3 min}]\r\n",
    "screens.yaml": "days: {}\n",
}


def written(folder: Path, files: dict[str, str]) -> Path:
    for path, text in files.items():
        target = folder / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(text.encode())
    return folder


def ran(*arguments: object) -> Result:
    return CliRunner().invoke(main, ["adopt", *map(str, arguments), "--clinic", "Harbour Lane"])


@pytest.fixture
def small(tmp_path: Path) -> Path:
    return written(tmp_path / "source", SMALL)


def test_the_shared_files_are_there_byte_by_byte_with_their_digests(small: Path, tmp_path: Path) -> None:
    result = ran(small, tmp_path / "new", "--version", "3.2.0")
    assert result.exit_code == 0, result.output
    assert "A check of it has no findings." in result.output
    protocols = tmp_path / "new/protocols"
    for path in ("room.yaml", "parts/wipe-down.yaml"):
        assert (protocols / path).read_bytes() == (small / path).read_bytes()
        digest = hashlib.sha256((small / path).read_bytes()).hexdigest()
        assert f"  {path}: sha256:{digest}\n" in (protocols / "upstream.yaml").read_text(encoding="utf-8")
    assert not (protocols / "screens.yaml").exists()
    assert sorted(one.name for one in tmp_path.iterdir()) == ["new", "source"]


def test_what_is_adopted_and_not_changed_says_what_it_said(small: Path, tmp_path: Path) -> None:
    ran(small, tmp_path / "new")
    before, after = read_set(small, "p"), read_set(tmp_path / "new/protocols", "p")
    assert [bare(one.phases) for one in after.protocols] == [bare(one.phases) for one in before.protocols]
    assert [bare(tuple(one.subjects.values())) for one in after.protocols] == [
        bare(tuple(one.subjects.values())) for one in before.protocols
    ]
    assert after.clinic is not None
    assert before.clinic is not None
    assert (after.clinic.name, after.clinic.language) == ("Harbour Lane", "de")
    assert bare(after.clinic.roles) == bare(before.clinic.roles)
    assert bare(after.clinic.surfaces) == bare(before.clinic.surfaces)
    assert after.problems == ()


def test_the_demonstration_set_is_adopted_and_builds_a_site(tmp_path: Path) -> None:
    source = source_in(DEMO, version="1.0.0")
    files = adopted_clinic(source, "Harbour Lane", TODAY)
    folder = tmp_path / "new"
    for path, data in files.items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_bytes(data)
    whole = build_set({path: data for path, data in files.items() if path.startswith("protocols/")})
    assert whole.problems == ()
    assert {one.id for one in whole.protocols} == {one.id for one in read_set(DEMO).protocols}
    done = subprocess.run(
        [sys.executable, "-m", "mkdocs", "build", "--strict", "--quiet"], cwd=folder, capture_output=True, check=False
    )
    assert done.returncode == 0, done.stderr.decode()


def test_an_edit_of_an_adopted_file_is_found_and_one_in_tailoring_is_carried_out(small: Path, tmp_path: Path) -> None:
    ran(small, tmp_path / "new")
    protocols = tmp_path / "new/protocols"
    entry = "\nchanges: [{protocol: room, step: first.wipe, set: {takes: 4 min}, expects: {takes: 3 min}}]\n"
    tailoring = protocols / "tailoring.yaml"
    tailoring.write_text(tailoring.read_text(encoding="utf-8") + entry, encoding="utf-8")
    whole = read_set(protocols)
    assert check_set(whole, TODAY).findings == ()
    takes = whole.protocols[0].steps[0].takes
    assert takes is not None
    assert takes.least == 240.0
    with (protocols / "parts/wipe-down.yaml").open("ab") as file:
        file.write(b"# mine\n")
    (one,) = check_set(read_set(protocols), TODAY).findings
    assert (one.rule, one.span.path) == ("baseline-edited", f"{protocols.as_posix()}/parts/wipe-down.yaml")


def test_other_line_ends_are_no_edit(small: Path, tmp_path: Path) -> None:
    ran(small, tmp_path / "new")
    path = tmp_path / "new/protocols/room.yaml"
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    assert check_set(read_set(path.parent), TODAY).findings == ()


def git(folder: Path, *words: str) -> str:
    safe = ["-c", "user.name=a", "-c", "user.email=a@example.org", "-c", "commit.gpgsign=false"]
    done = subprocess.run(["git", *safe, *words], cwd=folder, capture_output=True, check=True, text=True)
    return done.stdout.strip()


@pytest.mark.parametrize("inner", ["", "protocols"])
def test_a_set_is_adopted_as_it_stood_at_a_tag(tmp_path: Path, inner: str) -> None:
    source = tmp_path / "source"
    written(source / inner, SMALL)
    git(source, "init", "-q")
    git(source, "add", ".")
    git(source, "commit", "-q", "-m", "first")
    git(source, "tag", "v3.2.0")
    commit = git(source, "rev-parse", "HEAD")
    (source / inner / "room.yaml").write_text("kind: broken\n")
    result = ran(source, tmp_path / "new", "--ref", "v3.2.0")
    assert result.exit_code == 0, result.output
    upstream = (tmp_path / "new/protocols/upstream.yaml").read_text(encoding="utf-8")
    assert f'version: 3.2.0\nsource: "{source.as_posix()}"\ncommit: "{commit}"\n' in upstream
    assert (tmp_path / "new/protocols/room.yaml").read_bytes() == SMALL["room.yaml"].encode()


def test_without_a_version_the_content_gives_one(small: Path) -> None:
    first = source_in(small).version
    assert first == source_in(small).version
    assert first.startswith("0.0.0-files.")
    (small / "room.yaml").write_text(SMALL["room.yaml"] + "# more\n", encoding="utf-8")
    assert source_in(small).version != first


def tailored(folder: Path) -> None:
    (folder / "tailoring.yaml").write_text("baseline: {name: Q, version: 1.0.0}\n")


def linked(folder: Path) -> None:
    (folder / "other.yaml").symlink_to(Path(__file__))


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (tailored, "adopted from another"),
        (linked, "leads out of the protocol folder"),
        (lambda folder: (folder / "clinic.yaml").unlink(), "neither it nor its folder protocols"),
        (lambda folder: (folder / "room.yaml").unlink(), "no protocol in"),
        (lambda folder: (folder / "room.yaml").write_text("kind: protocol\nnewer: 1\n"), "cannot be read as meant"),
        (lambda folder: (folder / "room.yaml").write_bytes(b"\xff"), "cannot be read as meant"),
    ],
)
def test_what_cannot_be_adopted_is_refused_and_nothing_is_written(
    small: Path, tmp_path: Path, spoil: Callable[[Path], object], said: str
) -> None:
    spoil(small)
    with pytest.raises(CannotAdoptError, match=said):
        source_in(small)
    result = ran(small, tmp_path / "new")
    assert result.exit_code == 2
    assert "Traceback" not in result.output
    assert [one.name for one in tmp_path.iterdir()] == ["source"]


@pytest.mark.parametrize("more", [["--ref", "v1.0.0"], ["--ref", "-x"], ["--ref", ""], ["--version", "three"]])
def test_no_history_no_such_ref_and_no_version_are_told(small: Path, tmp_path: Path, more: list[str]) -> None:
    result = ran(small, tmp_path / "new", *more)
    assert result.exit_code == 2, result.output
    assert "nothing was written" in result.output
    assert not (tmp_path / "new").exists()


def test_a_folder_that_is_not_empty_is_left_alone(small: Path, tmp_path: Path) -> None:
    (tmp_path / "new").mkdir()
    assert ran(small, tmp_path / "new").exit_code == 0
    before = sorted((tmp_path / "new").rglob("*"))
    assert ran(small, tmp_path / "new").exit_code == 2
    assert ran(small, small / "new").exit_code == 2
    assert ran(tmp_path / "nowhere", tmp_path / "other").exit_code == 2
    assert sorted((tmp_path / "new").rglob("*")) == before


def test_the_layout_of_adopted_files_is_left_alone(small: Path, tmp_path: Path) -> None:
    ran(small, tmp_path / "new")
    protocols = tmp_path / "new/protocols"
    before = {path: path.read_bytes() for path in protocols.rglob("*.yaml")}
    for arguments in ([protocols], [protocols / "room.yaml"]):
        assert CliRunner().invoke(main, ["format", *map(str, arguments)]).exit_code == 0
    after = {path: path.read_bytes() for path in before}
    assert [
        path.name for path in before if before[path] != after[path] and path.name in {"room.yaml", "wipe-down.yaml"}
    ] == []
    assert check_set(read_set(protocols), TODAY).findings == ()
