"""The built demonstration site: complete, linked, quiet, and the same to the byte each time."""

from __future__ import annotations

import hashlib
import os
import posixpath
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from stepfield.language import read_set
from stepfield.pages.offline import loads_from_elsewhere
from tests.site.building import ROOT, build_demo, pages_of
from tests.site.small import Seen

MOST_BYTES = 300_000


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return build_demo(tmp_path_factory.mktemp("demo") / "site")


@pytest.fixture(scope="module")
def pages(site: Path) -> dict[str, str]:
    return pages_of(site)


def test_every_protocol_has_a_page_for_the_team_and_for_each_role(pages: dict[str, str]) -> None:
    for protocol in read_set(ROOT / "protocols").protocols:
        assert f"protocols/{protocol.id}.html" in pages
        for role in protocol.team:
            assert f"protocols/{protocol.id}/{role}.html" in pages
            assert f"roles/{role}.html" in pages


def test_no_page_loads_anything_from_elsewhere(pages: dict[str, str]) -> None:
    for address, html in pages.items():
        assert loads_from_elsewhere(html) == (), address


def test_no_style_sheet_of_ours_or_the_themes_loads_anything_from_elsewhere(site: Path) -> None:
    for path in site.rglob("*.css"):
        text = path.read_text(encoding="utf-8")
        assert not re.search(r"(?:url\(\s*|@import\s*)[\"']?\s*(?:https?:)?//", text), path.name


def test_no_script_of_ours_asks_anybody(site: Path) -> None:
    for path in (site / "assets" / "stepfield").glob("*.js"):
        text = path.read_text(encoding="utf-8")
        assert "http" not in re.sub(r"^//.*$", "", text, flags=re.MULTILINE), path.name
        assert not re.search(r"\b(?:fetch|XMLHttpRequest|import)\s*\(|EventSource|WebSocket|sendBeacon", text), (
            path.name
        )


def test_the_shim_carries_its_licence(site: Path) -> None:
    assert "Permission is hereby granted" in (site / "assets/stepfield/iframe-worker.LICENSE.txt").read_text("utf-8")


def test_every_link_leads_to_a_page_and_a_place_that_exist(site: Path, pages: dict[str, str]) -> None:
    ids = {address: set(Seen(html).ids) for address, html in pages.items()}
    count = 0
    for address, html in pages.items():
        if address == "404.html":
            continue  # its links are absolute, because it stands in for pages anywhere
        for tag, attrs in Seen(html).tags:
            target = attrs.get("href") or ""
            if tag != "a" or not target or re.match(r"[a-z]+:", target):
                continue
            path, _, place = target.partition("#")
            path = posixpath.normpath(posixpath.join(posixpath.dirname(address), path)) if path else address
            path = "index.html" if path == "." else path
            assert path in pages or (site / path).is_file(), (address, target)
            assert not place or place in ids[path] or place.startswith("__"), (address, target)
            count += 1
    assert count > 500


def test_no_page_uses_an_id_twice(pages: dict[str, str]) -> None:
    for address, html in pages.items():
        found = Seen(html).ids
        assert sorted(found) == sorted(set(found)), address


def test_no_page_is_heavy(pages: dict[str, str]) -> None:
    for address, html in pages.items():
        assert len(html.encode()) < MOST_BYTES, address


def test_a_page_says_nothing_of_the_machine_it_was_built_on(site: Path, pages: dict[str, str]) -> None:
    for address, html in pages.items():
        assert str(site.parent) not in html, address
        assert str(ROOT) not in html, address


def command(folder: Path, site: Path, seed: str) -> dict[str, str]:
    """Builds the site by the command in a process of its own; gives the digest of every file."""
    environment = {
        **os.environ,
        "PYTHONHASHSEED": seed,
        "SOURCE_DATE_EPOCH": "1793577600",
        "NO_MKDOCS_2_WARNING": "1",
        "PYTHONPATH": str(ROOT / "plugins"),
    }
    subprocess.run(
        [sys.executable, "-m", "mkdocs", "build", "--quiet", "--strict", "--site-dir", str(site)],
        cwd=folder,
        env=environment,
        check=True,
    )
    files = sorted(path for path in site.rglob("*") if path.is_file())
    return {path.relative_to(site).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def test_two_builds_are_the_same_to_the_byte(tmp_path: Path) -> None:
    for name in ("mkdocs.yml", "protocols", "site_demo"):
        source = ROOT / name
        (shutil.copytree if source.is_dir() else shutil.copy)(source, tmp_path / name)
    first = command(tmp_path, tmp_path / "first", "1")
    second = command(tmp_path, tmp_path / "second", "2")
    assert first == second
    assert len(first) > 20
