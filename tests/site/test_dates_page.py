"""The page of dates and its calendar: what is overdue, what comes, who approved what; git only where it is asked."""

from __future__ import annotations

import datetime
import logging
import subprocess
from pathlib import Path
from typing import Any

import pytest
from icalendar import Calendar

from stepfield.changes.approvals import Approved
from stepfield.pages import Site, build_site
from tests.site.building import build_small, pages_of, write_set
from tests.site.small import CHECK, Seen, checked, sample
from tests.site.test_evidence_page import words

TODAY = datetime.date(2026, 11, 2)
ACCEPTED = {
    "accepted": [
        {"rule": "unused-name", "protocol": "wrist", "subject": "swab", "reason": "On order", "by": "The lead",
         "until": "2026-11-02"},
        {"rule": "unused-name", "subject": "x", "reason": "Old", "by": "Board", "until": "2026-10-31"},
    ]
}  # fmt: skip


def approved(**more: Any) -> dict[str, Any]:
    said = {"version": "1.2.0", "status": "approved", "approved": {"by": "Board; and, board", "date": "2026-01-05"}}
    return {**sample(), **said, "review_by": "2027-01-05", **more}


def site_of(protocol: dict[str, Any], approvals: tuple[Approved, ...] | None = None, **files: Any) -> Site:
    report = checked({"wrist": protocol}, files={"parts/check": CHECK, **files})
    return build_site(report, "https://q.example/", approvals=approvals)


def told(site: Site) -> str:
    return words(next(one.html for one in site.pages if one.address == "dates.html"))


def calendar(site: Site) -> Calendar | None:
    data = next((one.content for one in site.assets if one.address == "dates.ics"), None)
    return None if data is None else Calendar.from_ical(data)  # type: ignore[return-value]


def test_what_is_overdue_stands_first_and_the_day_itself_is_in_time() -> None:
    text = told(site_of(approved(), accepted=ACCEPTED))
    overdue, coming = text.index("Overdue"), text.index("Coming")
    assert overdue < text.index("2026-10-31 overdue 2 days ago An accepted finding counts again") < coming
    assert coming < text.index("2026-11-02 today") < text.index("2027-01-05 in 64 days Review of a protocol")
    assert "On order." in text
    assert "protocols/accepted.yaml, line" in text


def test_the_calendar_has_each_day_and_another_reader_finds_what_it_is_about() -> None:
    found = calendar(site_of(approved(), accepted=ACCEPTED))
    assert found is not None
    days = {event.decoded("DTSTART"): str(event["SUMMARY"]) for event in found.walk("VEVENT")}
    assert days == {
        datetime.date(2026, 10, 31): "An accepted finding counts again: unused-name, x",
        datetime.date(2026, 11, 2): "An accepted finding counts again: Release of the wrist tunnel: unused-name, swab",
        datetime.date(2027, 1, 5): "Review of a protocol: Release of the wrist tunnel",
    }
    assert {event.decoded("DTSTAMP").date() for event in found.walk("VEVENT")} == {TODAY}
    assert {str(event["URL"]) for event in found.walk("VEVENT")} == {"https://q.example/dates.html"}
    assert str(found["NAME"]) == "Dates: Quillhaven Day Surgery"


def test_a_draft_has_no_date_to_keep_and_there_is_no_calendar() -> None:
    site = site_of(sample())
    assert "No day to keep is written in these files." in told(site)
    assert calendar(site) is None
    assert "dates.ics" not in next(one.html for one in site.pages if one.address == "dates.html")


def test_a_local_change_that_ends_is_listed() -> None:
    change = {"protocol": "wrist", "step": "wipe", "set": {"takes": "2 min"}, "because": "Slow cloths",
              "agreed": {"by": "Board", "date": "2026-01-01"}, "until": "2026-12-24"}  # fmt: skip
    tailoring = {"baseline": {"name": "Shared", "version": "1.0.0"}, "changes": [change]}
    text = told(site_of(approved(), tailoring=tailoring))
    assert (
        "2026-12-24 in 52 days A local change ends : Release of the wrist tunnel wipe Slow cloths. Board"
        in text.replace("ends:", "ends :")
    )


def test_the_record_says_who_approved_the_text_as_it_is_and_earlier_versions_only_from_the_history() -> None:
    assert "Board; and, board 2026-01-05 2027-01-05" in told(site_of(approved()))
    assert "setting approval_history" in told(site_of(approved()))
    day = datetime.date
    past = (
        Approved("wrist", "1.2.0", "Board; and, board", day(2026, 1, 5), day(2027, 1, 5), day(2026, 1, 6)),
        Approved("wrist", "1.1.0", "First board", day(2025, 1, 5), None, day(2025, 1, 7)),
        Approved("old-one", "3.0.0", "First board", day(2024, 1, 5), None, day(2024, 1, 7)),
    )
    text = told(site_of(approved(), past))
    assert "1.2.0 now (approved) Board; and, board 2026-01-05 2027-01-05 2026-01-06" in text
    assert "1.1.0 First board 2025-01-05 not set 2025-01-07" in text
    assert "old one 3.0.0 First board 2024-01-05" in text


def git(folder: Path, *words: str) -> None:
    who = ["git", "-c", "user.name=A. Nurse", "-c", "user.email=nurse@quillhaven.example"]
    subprocess.run([*who, *words], cwd=folder, check=True, capture_output=True)


def test_a_build_asks_git_only_where_the_settings_say_so(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    write_set(tmp_path, {"wrist": approved(version="1.0.0")})
    git(tmp_path, "init", "-q")
    git(tmp_path, "add", "-A")
    git(tmp_path, "commit", "-q", "-m", "first")
    write_set(tmp_path, {"wrist": approved()})
    plain = Seen(pages_of(build_small(tmp_path))["dates.html"]).text
    assert "1.0.0" not in plain
    asked = Seen(pages_of(build_small(tmp_path, plugin={"approval_history": True}))["dates.html"]).text
    assert "1.0.0" in asked
    assert not [one for one in caplog.records if "approval_history" in one.message]


def test_a_set_without_a_history_is_built_with_a_warning(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    write_set(tmp_path)
    caplog.set_level(logging.WARNING)
    build_small(tmp_path, plugin={"approval_history": True})
    assert [one for one in caplog.records if "approval_history" in one.message]
