"""A set is read from a folder, and findings show its files as the caller wants."""

from __future__ import annotations

from pathlib import Path

import pytest

from stepfield.language import read_set
from tests.language.small import FILES, build


def laid_out(folder: Path) -> Path:
    """The small set on disk."""
    for path, text in FILES.items():
        file = folder / path.removeprefix("protocols/")
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, "utf-8")
    return folder


def test_reading_a_folder_is_building_from_its_files(tmp_path: Path) -> None:
    assert read_set(laid_out(tmp_path), shown_as="protocols") == build()


def test_files_are_shown_below_the_folder_as_given(tmp_path: Path) -> None:
    assert set(read_set(laid_out(tmp_path)).sources) == {
        f"{tmp_path.as_posix()}/{path.removeprefix('protocols/')}" for path in FILES
    }


@pytest.mark.parametrize("shown", [".", ""])
def test_the_current_folder_is_not_shown(tmp_path: Path, shown: str) -> None:
    found = read_set(laid_out(tmp_path), shown_as=shown)
    assert "clinic.yaml" in found.sources
    assert "parts/hand-scrub.yaml" in found.sources
    assert found.problems == ()


@pytest.mark.parametrize("name", ["x.yml", "x.YAML", "x.yaml.txt", "other/x.yaml", "parts/deep.yml"])
def test_what_looks_like_a_protocol_but_would_not_be_read_is_told(tmp_path: Path, name: str) -> None:
    laid_out(tmp_path)
    (tmp_path / name).parent.mkdir(exist_ok=True)
    (tmp_path / name).write_text(FILES["protocols/release.yaml"], "utf-8")
    (problem,) = read_set(tmp_path, shown_as="p").problems
    assert (problem.rule, problem.span.path) == ("bad-shape", f"p/{name}")


@pytest.mark.parametrize("name", ["README.md", ".hidden.yaml", ".git/x.yaml", "notes/plan.txt", "release.yaml~"])
def test_other_files_are_passed_over(tmp_path: Path, name: str) -> None:
    laid_out(tmp_path)
    (tmp_path / name).parent.mkdir(exist_ok=True)
    (tmp_path / name).write_text("[", "utf-8")
    assert read_set(tmp_path).problems == ()


def test_no_folder_is_an_error_of_the_caller(tmp_path: Path) -> None:
    with pytest.raises(NotADirectoryError):
        read_set(tmp_path / "nowhere")
    (tmp_path / "file").write_text("x")
    with pytest.raises(NotADirectoryError):
        read_set(tmp_path / "file")


def test_an_empty_folder_lacks_its_clinic(tmp_path: Path) -> None:
    (problem,) = read_set(tmp_path, shown_as="p").problems
    assert (problem.rule, problem.span.path) == ("bad-shape", "p/clinic.yaml")


def test_no_part_is_told_as_unused_while_a_file_that_may_use_it_is_refused(tmp_path: Path) -> None:
    home = laid_out(tmp_path / "set")
    (home / "parts" / "wash.yaml").write_text(FILES["protocols/parts/hand-scrub.yaml"], "utf-8")
    assert [problem.subject for problem in read_set(home).problems] == ["wash"]
    (tmp_path / "outside.yaml").write_text("kind: protocol\n", "utf-8")
    (home / "other.yaml").symlink_to(tmp_path / "outside.yaml")
    assert [problem.subject for problem in read_set(home).problems] == ["other"]
