"""Threats T6 and T7 of the table: names and links that would lead out of the folder, or clash in it."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from stepfield.language import Problem, build_set, read_set
from tests.language.small import CLINIC, FILES, PART, PROTOCOL, build, changed
from tests.language.test_load import laid_out

# T6: names that would leave the folder or clash in it --------------------------------------------------------

BAD_NAMES = [
    *("../x", "..", ".", "/etc/passwd", "a/b", "a\\b", "..\\x", "C:x", "a:b", "a|b", "a*b", "a?b", 'a"b', "a<b", "a>b"),
    *("a b", " a", "a ", "a.", "a..", ".a", "-a", "1a", "A", "Ab", "aB", "a_b", "a.b", "é", "ä", "aé", "a\u0301", "ａ"),
    *(
        "аb",
        "ı",
        "ſ",
        "K",
        "a\u200bb",
        "a\u202eb",
        "a\nb",
        "a\tb",
        "a\0b",
        "a\x1bb",
        "",
        "a" * 41,
        "~",
        "~a",
        "$a",
        "%2e%2e",
    ),
    *("con", "prn", "aux", "nul", "com1", "com9", "lpt1", "lpt9", "a'b", "a`b", "a;b", "a&b", "a#b", "a\u2215b"),
]


def is_refused(problems: tuple[Problem, ...]) -> bool:
    return any(problem.rule in ("bad-shape", "bad-yaml") for problem in problems)


@pytest.mark.parametrize("name", BAD_NAMES)
def test_t6_no_bad_name_becomes_a_file_name(name: str) -> None:
    """As a protocol's or a part's file, or as a role, each of which has pages named after it."""
    assert len(BAD_NAMES) >= 60
    files = {path: text.encode() for path, text in FILES.items()}
    for path in (f"protocols/{name}.yaml", f"protocols/parts/{name}.yaml"):
        text = FILES[PART if "parts" in path else PROTOCOL].encode()
        found = build_set({**files, path: text})
        assert is_refused(found.problems)
        assert [protocol.id for protocol in found.protocols] == ["release"]
    roles = json.dumps({"clinic": "C", "roles": {name: {}, "surgeon": {}, "scrub": {}, "circulating": {}}})
    assert is_refused(build_set({**files, CLINIC: roles.encode()}).problems)


@pytest.mark.parametrize(
    "name", [name for name in BAD_NAMES if name not in ("con", "prn", "aux", "nul") and name[:3] not in ("com", "lpt")]
)
def test_t6_no_bad_name_becomes_a_name_inside_a_protocol(name: str) -> None:
    for old in ("as: scrub-wash", "id: cover-trolley", "phase: room", "use: hand-scrub"):
        key = old.partition(":")[0]
        problems = build(changed(old, f"{key}: {json.dumps(name)}")).problems
        assert any(problem.rule in ("bad-shape", "bad-yaml", "unknown-name") for problem in problems)


def test_t6_names_that_differ_in_case_only_cannot_be() -> None:
    found = build_set(
        {path: text.encode() for path, text in FILES.items()} | {"protocols/Release.yaml": b"kind: protocol"}
    )
    assert [protocol.id for protocol in found.protocols] == ["release"]
    assert is_refused(found.problems)


# T7: links, devices, huge folders ----------------------------------------------------------------------------


@pytest.fixture(name="outside")
def fixture_outside(tmp_path: Path) -> Path:
    """A file that is none of the set's business; its text must never be shown."""
    secret = tmp_path / "outside" / "secret.yaml"
    secret.parent.mkdir()
    secret.write_text("kind: secret-word\n", "utf-8")
    return secret


def refused(folder: Path, name: str) -> None:
    found = read_set(folder, shown_as="p")
    mine = [problem for problem in found.problems if problem.span.path == f"p/{name}"]
    assert [problem.rule for problem in mine] == ["bad-shape"]
    assert f"p/{name}" not in found.sources
    assert "secret-word" not in str(found)


@pytest.mark.parametrize("name", ["x.yaml", "parts/x.yaml", "tailoring.yaml", "clinic.yaml"])
def test_t7_a_link_that_leads_out_is_refused(tmp_path: Path, outside: Path, name: str) -> None:
    folder = laid_out(tmp_path / "protocols")
    (folder / name).unlink(missing_ok=True)
    (folder / name).symlink_to(outside)
    refused(folder, name)


def test_t7_a_relative_link_and_a_chain_of_links_that_lead_out_are_refused(tmp_path: Path, outside: Path) -> None:
    folder = laid_out(tmp_path / "protocols")
    (folder / "x.yaml").symlink_to(Path("..") / "outside" / "secret.yaml")
    refused(folder, "x.yaml")
    (folder / "y.yaml").symlink_to(folder / "x.yaml")
    refused(folder, "y.yaml")
    assert outside.exists()


def test_t7_a_linked_folder_of_parts_is_refused(tmp_path: Path, outside: Path) -> None:
    folder = laid_out(tmp_path / "protocols")
    for file in (folder / "parts").iterdir():
        file.unlink()
    (folder / "parts").rmdir()
    (folder / "parts").symlink_to(outside.parent)
    refused(folder, "parts")


def test_t7_a_link_inside_the_folder_is_followed(tmp_path: Path) -> None:
    folder = laid_out(tmp_path / "protocols")
    (folder / "release.yaml").rename(folder / "release.txt")
    (folder / "release.yaml").symlink_to("release.txt")
    assert read_set(folder).problems == ()


def test_t7_links_that_lead_nowhere_or_in_a_ring_are_refused(tmp_path: Path) -> None:
    folder = laid_out(tmp_path / "protocols")
    (folder / "x.yaml").symlink_to("nowhere")
    refused(folder, "x.yaml")
    (folder / "y.yaml").symlink_to("y.yaml")
    refused(folder, "y.yaml")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_t7_a_pipe_and_a_folder_in_a_file_s_place_are_refused_without_waiting(tmp_path: Path) -> None:
    folder = laid_out(tmp_path / "protocols")
    os.mkfifo(folder / "x.yaml")
    refused(folder, "x.yaml")
    (folder / "y.yaml").mkdir()
    refused(folder, "y.yaml")


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="this system has no such devices")
def test_t7_a_link_to_a_device_is_refused(tmp_path: Path) -> None:
    folder = laid_out(tmp_path / "protocols")
    (folder / "x.yaml").symlink_to("/dev/zero")
    refused(folder, "x.yaml")


def test_t7_a_folder_in_a_ring_is_not_walked_for_ever(tmp_path: Path) -> None:
    folder = laid_out(tmp_path / "protocols")
    (folder / "again").symlink_to(folder)
    assert read_set(folder).problems == ()
