"""The calendar file, read by another library and held to RFC 5545's rules on lines and texts."""

from __future__ import annotations

import datetime

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from icalendar import Calendar

from stepfield.reports.calendar import AllDay, calendar

DAY = datetime.date(2026, 10, 1)
DRAWN = datetime.date(2026, 7, 1)


def entry(**more: object) -> AllDay:
    said: dict[str, object] = {
        "key": "review wrist-release",
        "day": DAY,
        "summary": "Review",
        "description": "Look at it.",
    }
    return AllDay(**{**said, "category": "Review", **more})  # type: ignore[arg-type]


def read(data: bytes) -> Calendar:
    found = Calendar.from_ical(data)
    assert isinstance(found, Calendar)
    return found


def test_another_reader_finds_every_entry_with_its_day_and_nothing_wrong() -> None:
    moved = entry(key="acceptance x", day=datetime.date(2028, 2, 29), summary="Other")
    data = calendar([entry(), moved], "Quillhaven Day Surgery", DRAWN)
    found = read(data)
    assert (found["VERSION"], found["PRODID"], found["NAME"]) == (
        "2.0", "-//Stepfield//Dates of protocols//EN", "Quillhaven Day Surgery",
    )  # fmt: skip
    assert found.errors == []
    first, second = found.walk("VEVENT")
    assert [one.errors for one in (first, second)] == [[], []]
    assert (first.decoded("DTSTART"), first.decoded("DTEND")) == (DAY, datetime.date(2026, 10, 2))
    assert second.decoded("DTEND") == datetime.date(2028, 3, 1)
    assert first.decoded("DTSTAMP") == datetime.datetime(2026, 7, 1, tzinfo=datetime.UTC)
    assert str(first["SUMMARY"]) == "Review"
    assert first["UID"] != second["UID"]


def test_an_entry_that_moves_keeps_its_name_and_those_of_another_clinic_have_others() -> None:
    def name(clinic: str, day: datetime.date) -> str:
        (one,) = read(calendar([entry(day=day)], clinic, DRAWN)).walk("VEVENT")
        return str(one["UID"])

    later = DAY + datetime.timedelta(days=30)
    assert name("Quillhaven", DAY) == name("Quillhaven", later)
    assert name("Quillhaven", DAY) != name("Larkmere", DAY)


def test_the_same_entries_give_the_same_bytes() -> None:
    assert calendar([entry()], "A", DRAWN) == calendar([entry()], "A", DRAWN)


def test_a_calendar_without_entries_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one"):
        calendar([], "A", DRAWN)


TEXTS = st.text(
    st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]) | st.sampled_from('\n,;\\:"'), max_size=300
)


@given(TEXTS, TEXTS)
@example("a" * 74 + "é" * 80, "BEGIN:VEVENT\nEND:VCALENDAR")
@example("\\n", ";,:\\")
@example("𝄞" * 60, "\r\nX-EVIL:1")
def test_every_text_comes_back_and_no_line_is_too_long_or_cuts_a_character(summary: str, description: str) -> None:
    data = calendar([entry(summary=summary, description=description)], summary or "x", DRAWN)
    lines = data.split(b"\r\n")
    assert lines[-1] == b""
    for line in lines:
        assert len(line) <= 75
        line.decode("utf-8")
        assert b"\n" not in line
        assert b"\r" not in line
    (one,) = read(data).walk("VEVENT")
    assert one.errors == []
    assert str(one["DESCRIPTION"]) == shown(description)
    assert str(one["SUMMARY"]) == shown(summary)


def shown(text: str) -> str:
    """What a text comes to: signs that cannot be printed are blanks, line ends stay."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    return "\n".join("".join(sign if sign.isprintable() else " " for sign in line) for line in lines)
