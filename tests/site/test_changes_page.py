"""The page of what changed since the last approved version: from a kept copy, from a tag, and without either."""

from __future__ import annotations

import logging
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

from tests.site.building import build_small, pages_of, write_set
from tests.site.small import Seen, sample


def reworded() -> dict[str, Any]:
    """The sample with one step told otherwise."""
    protocol = sample()
    step = next(step for step in protocol["phases"][0]["steps"] if "do" in step)
    step["do"] = "Do it in quite another way."
    return protocol


def words(site: Path, page: str = "changes.html") -> str:
    return " ".join(Seen(pages_of(site)[page]).text.split())


def test_without_a_copy_it_says_that_nothing_is_compared(tmp_path: Path) -> None:
    write_set(tmp_path)
    site = build_small(tmp_path, strict=True)
    assert "Nothing is compared yet" in words(site)
    assert "Nothing is compared yet" in words(site, "index.html")


def test_a_kept_copy_tells_each_role_what_changes(tmp_path: Path) -> None:
    kept = write_set(tmp_path)
    shutil.copytree(kept, tmp_path / "approved")
    write_set(tmp_path, {"wrist": reworded()})
    site = build_small(tmp_path, strict=True)
    told = words(site)
    assert "Compared with: approved." in told
    assert "Do it in quite another way" in told
    assert "1 protocol changed" in words(site, "index.html")


def test_nothing_changed_is_said_too(tmp_path: Path) -> None:
    shutil.copytree(write_set(tmp_path), tmp_path / "approved")
    assert "Nothing changed that anybody works by." in words(build_small(tmp_path, strict=True))


def test_what_must_be_read_again_has_lines_to_sign(tmp_path: Path) -> None:
    shutil.copytree(write_set(tmp_path), tmp_path / "approved")
    protocol = sample()
    protocol["phases"][0]["steps"].pop(0)
    write_set(tmp_path, {"wrist": protocol})
    page = pages_of(build_small(tmp_path))["changes.html"]
    assert "Read it again" in page
    assert page.count('<table class="sf-news-sign">') == page.count('class="sf-news-must"')
    assert "Signature" in page


def test_the_newest_tag_is_compared_with(tmp_path: Path) -> None:
    write_set(tmp_path)
    for words_ in (
        ["init", "-q"],
        ["add", "protocols"],
        ["-c", "user.name=Q", "-c", "user.email=q@quillhaven.example", "commit", "-q", "-m", "first"],
        ["tag", "v1.0.0"],
    ):
        subprocess.run(["git", *words_], cwd=tmp_path, check=True)
    write_set(tmp_path, {"wrist": reworded()})
    told = words(build_small(tmp_path, strict=True, plugin={"changed_since": "newest-tag"}))
    assert "Compared with: v1.0.0." in told
    assert "Do it in quite another way" in told


@pytest.mark.parametrize("named", ["no-such-tag", "--output=x", "newest-tag"])
def test_what_can_not_be_had_is_a_warning_and_the_site_is_built(
    tmp_path: Path, named: str, caplog: pytest.LogCaptureFixture
) -> None:
    write_set(tmp_path)
    with caplog.at_level(logging.WARNING):
        site = build_small(tmp_path, plugin={"changed_since": named})
    assert any("stepfield.changed_since" in record.getMessage() for record in caplog.records)
    assert "Nothing is compared yet" in words(site)
