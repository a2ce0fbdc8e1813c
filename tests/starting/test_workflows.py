"""The workflow files and hooks of a new clinic: read as their forges read them, their commands run as they stand."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml

from stepfield import __version__
from stepfield.starting import new_clinic
from tests.docs.blocks import install_command

ROOT = Path(__file__).parents[2]
FILES = new_clinic("Quillhaven")
GITHUB, GITLAB = ".github/workflows/protocols.yml", ".gitlab-ci.yml"
INSTALL = "python -m pip install -r requirements.txt"
WIPE = "Wipe the work table with the disinfectant"


@pytest.fixture(name="clone")
def clone_of_a_clinic(tmp_path: Path) -> Path:
    """A clone of a clinic's repository on a branch of its own, as a forge checks it out."""
    home = tmp_path / "home"
    for path, text in FILES.items():
        (home / path).parent.mkdir(parents=True, exist_ok=True)
        (home / path).write_text(text, encoding="utf-8")
    git(home, "init", "--quiet", "--initial-branch", "main")
    commit(home)
    git(tmp_path, "clone", "--quiet", str(home), "clone")
    clone = tmp_path / "clone"
    git(clone, "switch", "--quiet", "--create", "wording")
    return clone


def git(folder: Path, *words: str) -> None:
    who = {"GIT_CONFIG_GLOBAL": os.devnull, "GIT_CONFIG_SYSTEM": os.devnull}
    for part in ("AUTHOR", "COMMITTER"):
        who |= {f"GIT_{part}_NAME": "Lead", f"GIT_{part}_EMAIL": "lead@quillhaven.example"}
    subprocess.run(["git", *words], cwd=folder, env={**os.environ, **who}, check=True, capture_output=True)


def commit(folder: Path) -> None:
    git(folder, "add", "--all")
    git(folder, "commit", "--quiet", "--message", "A change")


def reworded(clone: Path, version: str = "0.1.1") -> None:
    file = clone / "protocols/first-protocol.yaml"
    text = file.read_text(encoding="utf-8")
    text = text.replace(WIPE, "Wipe the whole work table with the disinfectant")
    file.write_text(text.replace("version: 0.1.0", f"version: {version}"), encoding="utf-8")
    commit(clone)


def broken(clone: Path) -> None:
    file = clone / "protocols/first-protocol.yaml"
    lines = file.read_text(encoding="utf-8").splitlines(keepends=True)
    file.write_text("".join(line for line in lines if "after:" not in line), encoding="utf-8")
    commit(clone)


def github_steps() -> Iterator[dict[str, Any]]:
    (job,) = yaml.safe_load(FILES[GITHUB])["jobs"].values()
    yield from job["steps"]


def ran(clone: Path, script: str, **variables: str) -> subprocess.CompletedProcess[str]:
    """A script of a workflow in the forge's shell, which stops at the first command that fails."""
    shutil.rmtree(clone.parent / "bin", ignore_errors=True)
    environment = {**install_command(clone.parent / "bin"), **variables}
    words = ["bash", "--noprofile", "--norc", "-e", "-o", "pipefail", "-c", script]
    return subprocess.run(words, cwd=clone, env=environment, capture_output=True, text=True, check=False, timeout=120)


def test_what_is_installed_is_written_down() -> None:
    assert FILES["requirements.txt"].splitlines()[-1] == f"stepfield=={__version__}"
    assert INSTALL in [step.get("run") for step in github_steps()]
    jobs = yaml.safe_load(FILES[GITLAB])
    assert all(INSTALL in jobs[name]["script"] for name in ("check", "review"))


def test_nothing_in_a_command_is_filled_in_from_outside() -> None:
    """The name of a branch is chosen by whoever asks for the change: it goes in as a variable, never into the text."""
    assert [step["run"] for step in github_steps() if "${{" in step.get("run", "")] == []
    assert yaml.safe_load(FILES[GITHUB])["permissions"] == {"contents": "read"}


def test_the_commands_of_the_first_forge_run_and_tell_what_changes(clone: Path) -> None:
    reworded(clone)
    summary = clone.parent / "summary.md"
    for step in github_steps():
        if step.get("run", INSTALL) != INSTALL:
            variables = {"BASE": "origin/main", "GITHUB_STEP_SUMMARY": str(summary)}
            done = ran(clone, step["run"], **variables)
            assert done.returncode == 0, (step, done.stdout, done.stderr)
    assert "whole" in summary.read_text(encoding="utf-8")
    uploaded = next(step["with"]["path"] for step in github_steps() if "upload-artifact" in step.get("uses", ""))
    assert (clone / uploaded / "index.html").is_file()


def test_the_commands_of_the_second_forge_run_and_leave_what_is_kept(clone: Path) -> None:
    reworded(clone)
    jobs = yaml.safe_load(FILES[GITLAB])
    for name in ("check", "review", "pages"):
        script = "\n".join(line for line in jobs[name]["script"] if line != INSTALL)
        done = ran(clone, script, CI_DEFAULT_BRANCH="main")
        assert done.returncode == 0, (name, done.stdout, done.stderr)
        for path in jobs[name]["artifacts"]["paths"]:
            assert (clone / path).exists(), path
    assert json.loads((clone / "quality.json").read_text(encoding="utf-8")) == []
    assert (clone / "public/index.html").is_file()


def test_a_change_that_breaks_something_ends_red(clone: Path) -> None:
    broken(clone)
    checks = [step["run"] for step in github_steps() if step.get("run", "").startswith("stepfield check")]
    assert [ran(clone, check).returncode for check in checks] == [1]
    script = "\n".join(line for line in yaml.safe_load(FILES[GITLAB])["check"]["script"] if line != INSTALL)
    assert ran(clone, script).returncode == 1
    (told,) = json.loads((clone / "quality.json").read_text(encoding="utf-8"))
    assert told["check_name"] == "needs-not-met"


def test_the_hook_before_a_commit_runs_for_protocols_and_parts(clone: Path) -> None:
    (hook,) = yaml.safe_load(FILES[".pre-commit-config.yaml"])["repos"][0]["hooks"]
    (offered,) = yaml.safe_load((ROOT / ".pre-commit-hooks.yaml").read_text(encoding="utf-8"))
    for key in ("id", "name", "entry", "files", "pass_filenames"):
        assert hook[key] == offered[key]
    for path, wanted in (("protocols/a.yaml", True), ("protocols/parts/b.yaml", True), ("mkdocs.yml", False)):
        assert bool(re.search(hook["files"], path)) is wanted
    assert ran(clone, hook["entry"]).returncode == 0
    broken(clone)
    assert ran(clone, hook["entry"]).returncode == 1
