"""Who approved which version, read from scripted git histories."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest

from stepfield.changes import HistoryError
from stepfield.changes.approvals import Approved, approvals_of

from .test_history import commit, git

HEAD = "kind: protocol\ntitle: Room\nteam: [scrub]\nowner: lead\n"
APPROVED = HEAD + "version: {v}\nstatus: approved\napproved: {{by: {by}, date: {day}}}\nreview_by: 2027-01-01\n"


def text(version: str, by: str = "Board", day: str = "2026-01-02") -> str:
    return APPROVED.format(v=version, by=by, day=day)


@pytest.fixture
def clinic(tmp_path: Path) -> Path:
    git(tmp_path, "init", "-q")
    return tmp_path


def told(found: tuple[Approved, ...]) -> list[tuple[str, str, str, str]]:
    return [(one.protocol, one.version, one.by, one.date.isoformat()) for one in found]


def test_every_version_that_called_itself_approved_is_listed_the_newest_first(clinic: Path) -> None:
    commit(clinic, {"protocols/room.yaml": HEAD + "version: 0.9.0\nstatus: draft\n"}, "draft")
    commit(clinic, {"protocols/room.yaml": text("1.0.0")}, "first")
    commit(clinic, {"protocols/room.yaml": text("1.0.0") + "# a comment\n"}, "no-change")
    commit(clinic, {"protocols/room.yaml": "broken: ["}, "broken")
    commit(clinic, {"protocols/room.yaml": text("2.0.0", "Another board", "2026-03-04")}, "second")
    commit(clinic, {"protocols/parts/room.yaml": text("7.0.0"), "protocols/clinic.yaml": text("8.0.0")}, "no-protocol")
    commit(clinic, {"protocols/other.yaml": text("1.0.0", day="2026-02-30")}, "no-such-day")
    found = approvals_of(clinic / "protocols")
    assert sorted(told(found)) == [
        ("room", "1.0.0", "Board", "2026-01-02"),
        ("room", "2.0.0", "Another board", "2026-03-04"),
    ]
    assert all(one.review_by == datetime.date(2027, 1, 1) for one in found)
    assert all(one.since >= datetime.date(2025, 1, 1) for one in found)


def test_a_protocol_that_is_gone_is_still_listed(clinic: Path) -> None:
    commit(clinic, {"protocols/room.yaml": text("1.0.0"), "protocols/x.txt": "x"}, "there")
    (clinic / "protocols/room.yaml").unlink()
    commit(clinic, {"protocols/x.txt": "y"}, "gone")
    assert told(approvals_of(clinic / "protocols")) == [("room", "1.0.0", "Board", "2026-01-02")]


def test_an_approval_that_came_with_a_merge_is_listed(clinic: Path) -> None:
    commit(clinic, {"protocols/room.yaml": text("1.0.0")}, "base")
    git(clinic, "checkout", "-q", "-b", "side")
    commit(clinic, {"protocols/room.yaml": text("1.1.0")}, "on-the-side")
    git(clinic, "checkout", "-q", "main")
    commit(clinic, {"notes.txt": "x"}, "meanwhile")
    git(clinic, "merge", "-q", "--no-ff", "-m", "merged", "side")
    assert sorted(told(approvals_of(clinic / "protocols")))[-1][1] == "1.1.0"
    assert len(approvals_of(clinic / "protocols")) == 2


def test_a_set_at_the_top_of_its_repository_is_read_as_well(clinic: Path) -> None:
    commit(clinic, {"room.yaml": text("1.0.0")}, "top")
    assert told(approvals_of(clinic)) == [("room", "1.0.0", "Board", "2026-01-02")]


def test_without_a_history_it_says_so(clinic: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    with pytest.raises(HistoryError):
        approvals_of(tmp_path_factory.mktemp("no-git"))
    with pytest.raises(HistoryError, match="no history yet"):
        approvals_of(clinic)
