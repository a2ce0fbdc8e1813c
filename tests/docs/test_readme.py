"""The README is acted on word for word: its files are written, its commands run, its output compared."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest

from tests.docs.blocks import blocks_of, commands_of, differs, install_command, patched, run

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_walk_through_does_what_it_says(tmp_path: Path) -> None:
    environment = install_command(tmp_path / "bin")
    folder = tmp_path / "work"
    folder.mkdir()
    last, ran = folder, 0
    for block in blocks_of(README):
        if block.language == "yaml":
            last = folder / block.body.splitlines()[0].removeprefix("# ")
            last.parent.mkdir(parents=True, exist_ok=True)
            last.write_text(block.body, encoding="utf-8")
        elif block.language == "diff":
            last.write_text(patched(last.read_text(encoding="utf-8"), block), encoding="utf-8")
        elif block.language == "console":
            expected = int(next((word[5:] for word in block.info if word.startswith("exit=")), "0"))
            here = folder  # each block begins there
            for command in commands_of(block):
                if command.words[0] == "cd":
                    here = here / command.words[1]
                    continue
                done = run(command, here, environment)
                told = f"README line {block.line}, {' '.join(command.words)}\n{done.stdout}{done.stderr}"
                assert done.returncode == expected, told
                assert differs(command.shown, done.stdout) is None, f"{differs(command.shown, done.stdout)}\n{told}"
                ran += 1
    assert ran >= 6
    page = (folder / "site" / "protocols" / "lay-trolley" / "nurse.html").read_text(encoding="utf-8")
    words = " ".join(re.sub(r"<[^>]*>", " ", page).split())
    assert "Wipe the work table" in (folder / "ferngate-dressing-clinic/site/protocols/wound-dressing.html").read_text(
        encoding="utf-8"
    )
    assert words.index("Wait until the assistant has opened the dressing pack") < words.index("Spread the cover")


def test_the_walk_through_shows_a_finding_and_its_mend() -> None:
    info = [block.info for block in blocks_of(README)]
    assert ("console", "exit=1") in info
    assert info.index(("console", "exit=1")) < info.index(("diff",))


@pytest.mark.parametrize("target", sorted(set(re.findall(r"`?make ([a-z]+)", README))))
def test_every_make_target_named_is_there(target: str) -> None:
    done = subprocess.run(["make", "-n", target], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("target", ["site", "test"])
def test_the_two_commands_are_named(target: str) -> None:
    assert f"make {target}" in README


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md", "CHANGELOG.md"])
def test_every_relative_link_leads_somewhere(page: str) -> None:
    text = (ROOT / page).read_text(encoding="utf-8")
    links = [link.split("#")[0] for link in re.findall(r"\]\(([^)\s]+)\)", text) if "://" not in link]
    assert [link for link in links if link and not (ROOT / link).exists()] == []


def test_every_path_the_developers_page_names_is_there() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    named = set(re.findall(r"`((?:plugins|schema|protocols|site_demo|tests|\.ci)/[\w./-]*)`", text))
    assert len(named) > 10
    assert sorted(path for path in named if not (ROOT / path).exists()) == []
