"""`make site` with stand-ins for the two programs it runs: what a build that fails, or succeeds, leaves behind."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
WORKS = '#!/bin/sh\nwhile [ $# -gt 1 ]; do shift; done\nmkdir -p "$1" && echo new > "$1/index.html"\n'
BREAKS = '#!/bin/sh\nwhile [ $# -gt 1 ]; do shift; done\nmkdir -p "$1" && echo half > "$1/index.html"; exit 1\n'
FINE, FINDINGS = "#!/bin/sh\nexit 0\n", "#!/bin/sh\nexit 1\n"


def make_site(folder: Path, *, check: str, build: str) -> int:
    """Runs the target with its folders elsewhere; gives the exit code."""
    programs = folder / "venv" / "bin"
    programs.mkdir(parents=True)
    for name, text in (("stepfield", check), ("mkdocs", build)):
        (programs / name).write_text(text, encoding="utf-8")
        (programs / name).chmod(0o755)
    for stamp in (".made", ".site-ready"):
        (folder / "venv" / stamp).touch()
    places = [f"{name}={folder / name.lower()}" for name in ("VENV", "CACHE", "SITE")]
    return subprocess.run(["make", "site", *places], cwd=ROOT, capture_output=True, check=False).returncode


def last_good_site(folder: Path) -> Path:
    (folder / "site").mkdir()
    (folder / "site" / "index.html").write_text("last good\n", encoding="utf-8")
    (folder / "site" / "gone.html").write_text("a page that is no more\n", encoding="utf-8")
    return folder / "site"


@pytest.mark.parametrize(("check", "build"), [(FINDINGS, WORKS), (FINE, BREAKS)], ids=["findings", "broken build"])
def test_a_failed_build_leaves_the_last_good_site(tmp_path: Path, check: str, build: str) -> None:
    site = last_good_site(tmp_path)
    assert make_site(tmp_path, check=check, build=build) != 0
    assert (site / "index.html").read_text(encoding="utf-8") == "last good\n"
    assert (site / "gone.html").exists()


def test_a_build_that_works_takes_its_place_whole(tmp_path: Path) -> None:
    site = last_good_site(tmp_path)
    assert make_site(tmp_path, check=FINE, build=WORKS) == 0
    assert [path.name for path in site.iterdir()] == ["index.html"]
    assert (site / "index.html").read_text(encoding="utf-8") == "new\n"
    assert list((tmp_path / "cache").iterdir()) == []


def test_the_first_build_needs_no_earlier_one(tmp_path: Path) -> None:
    assert make_site(tmp_path, check=FINE, build=WORKS) == 0
    assert (tmp_path / "site" / "index.html").exists()
