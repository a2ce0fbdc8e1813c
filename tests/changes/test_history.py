"""Reviews of scripted git histories: what is read, and that nothing is run, touched or lost."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from stepfield.changes import HistoryError, taken_from

from .sets import FILES, changed

GIT = ["git", "-c", "user.name=A. Nurse", "-c", "user.email=nurse@quillhaven.example", "-c", "init.defaultBranch=main"]
CHECK = "import sys; from stepfield.command import main; main()"


def git(folder: Path, *words: str) -> None:
    clean = {name: value for name, value in os.environ.items() if not name.startswith("GIT_")}
    subprocess.run([*GIT, *words], cwd=folder, check=True, capture_output=True, env=clean)


def write(folder: Path, files: dict[str, str]) -> None:
    for name, text in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")


def commit(folder: Path, files: dict[str, str], name: str) -> None:
    write(folder, files)
    git(folder, "add", "-A")
    git(folder, "commit", "-q", "-m", name)
    git(folder, "tag", name)


@pytest.fixture
def clinic(tmp_path: Path) -> Path:
    """Three versions: the first, one with a wording change, one with a looser need."""
    folder = tmp_path / "clinic"
    folder.mkdir()
    git(folder, "init", "-q")
    commit(folder, FILES, "first")
    commit(folder, changed(("Wipe the whole trolley", "Wipe all of the trolley"), ("1.2.3", "1.2.4")), "second")
    commit(folder, changed(("{prep-trolley: disinfected, scrub", "{prep-trolley: clean, scrub")), "third")
    return folder


def run(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", CHECK, "review", *words], cwd=folder, capture_output=True, text=True, check=False
    )


def test_two_tags_are_compared_and_the_work_tree_is_neither_read_nor_touched(clinic: Path) -> None:
    (clinic / "protocols" / "dressing.yaml").write_text("broken: [", encoding="utf-8")
    before = {path: path.read_bytes() for path in clinic.rglob("*") if path.is_file() and ".git" not in path.parts}
    index = (clinic / ".git" / "index").read_bytes()
    done = run(clinic, "first", "second", "--format", "json")
    assert done.returncode == 0, done.stdout + done.stderr
    (protocol,) = json.loads(done.stdout)["protocols"]
    assert (protocol["grade"], protocol["version"]["raised"], protocol["read_again"]) == ("wording", True, [])
    assert before == {path: path.read_bytes() for path in before}
    assert (clinic / ".git" / "index").read_bytes() == index


def test_the_work_tree_is_compared_where_no_second_name_is_given(clinic: Path) -> None:
    done = run(clinic, "second")
    assert done.returncode == 1
    assert "version-not-raised" in done.stdout
    assert "Must read it again: Scrub nurse" in done.stdout
    assert run(clinic, "third").stdout.splitlines()[1] == "Nothing changed that anybody works by."


def test_folders_are_compared_without_git(tmp_path: Path) -> None:
    write(tmp_path / "old", FILES)
    write(tmp_path / "new", changed(("takes: 1 min", "takes: 2 min"), ("1.2.3", "1.3.0")))
    done = run(tmp_path, "old/protocols", "new/protocols", "--format", "json")
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["grade"] == "working"


def test_pictures_are_written_beside_the_review(clinic: Path) -> None:
    done = run(clinic, "second", "--format", "markdown", "--pictures", "out/pictures", "--output", "out/review.md")
    assert (done.returncode, done.stderr) == (1, "")
    text = (clinic / "out" / "review.md").read_text(encoding="utf-8")
    for side in ("before", "after"):
        assert f"(<pictures/dressing-work-{side}.svg>)" in text
        assert (
            (clinic / "out" / "pictures" / f"dressing-work-{side}.svg").read_text(encoding="utf-8").startswith("<svg")
        )


@pytest.mark.parametrize("ref", ["--output=x", "-h", "--upload-pack=touch x", "", "no such\nbranch"])
def test_a_name_that_no_commit_can_have_is_refused_before_git_sees_it(clinic: Path, ref: str) -> None:
    with pytest.raises(HistoryError, match=r"looks like an option|can name no"):
        taken_from(clinic / "protocols", ref)
    done = run(clinic, "--", ref)
    assert done.returncode == 2
    assert sorted(path.name for path in clinic.iterdir()) == [".git", "protocols"]


def test_a_missing_name_is_told_with_what_to_do(clinic: Path, tmp_path: Path) -> None:
    done = run(clinic, "nowhere")
    assert done.returncode == 2
    assert "there is no commit, branch or tag 'nowhere' in this clone" in " ".join(done.stderr.split())
    git(tmp_path, "clone", "-q", "--depth", "1", clinic.as_uri(), "shallow")
    done = run(tmp_path / "shallow", "HEAD~2")
    assert done.returncode == 2
    assert "git fetch --unshallow" in " ".join(done.stderr.split())


def test_a_repository_without_history_and_a_folder_without_git_are_told(tmp_path: Path) -> None:
    write(tmp_path, FILES)
    assert "does not lie in a git repository" in " ".join(run(tmp_path, "HEAD").stderr.split())
    git(tmp_path, "init", "-q")
    assert "has no history yet" in " ".join(run(tmp_path, "HEAD").stderr.split())


def test_a_commit_without_the_folder_is_told(clinic: Path) -> None:
    done = run(clinic, "first", "--protocols", "elsewhere")
    assert done.returncode == 2
    done = run(clinic, "first", "second", "--protocols", "elsewhere")
    assert "there is no clinic.yaml" in " ".join(done.stderr.split())


def test_links_and_huge_files_in_a_tree_are_refused_and_said(clinic: Path) -> None:
    (clinic / "protocols" / "out.yaml").symlink_to("/etc/hostname")
    (clinic / "protocols" / "huge.yaml").write_text("#" * (2 << 20), encoding="utf-8")
    git(clinic, "add", "-A")
    git(clinic, "commit", "-q", "-m", "odd")
    taken = taken_from(clinic / "protocols", "HEAD")
    assert sorted(problem.span.path.rpartition("/")[2] for problem in taken.refused) == ["huge.yaml", "out.yaml"]
    assert not any(path.endswith(("huge.yaml", "out.yaml")) for path in taken.files)


def test_nothing_configured_runs_and_the_environment_leads_nowhere(
    clinic: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    program = tmp_path / "program"
    program.write_text(f"#!/bin/sh\ntouch {tmp_path}/ran\ncat\n", encoding="utf-8")
    program.chmod(0o755)
    for name in (
        "core.pager",
        "core.fsmonitor",
        "core.sshCommand",
        "filter.x.smudge",
        "filter.x.clean",
        "diff.external",
    ):
        git(clinic, "config", name, str(program))
    (clinic / ".gitattributes").write_text("*.yaml filter=x\n", encoding="utf-8")
    monkeypatch.setenv("GIT_DIR", str(tmp_path / "nowhere"))
    monkeypatch.setenv("GIT_EXTERNAL_DIFF", str(program))
    assert "protocols/dressing.yaml" in {
        path.removeprefix(f"{clinic}/") for path in taken_from(clinic / "protocols", "first").files
    }
    assert not (tmp_path / "ran").exists()
