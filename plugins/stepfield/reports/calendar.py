"""Days as a calendar file by RFC 5545, for whichever calendar a clinic uses."""

from __future__ import annotations

import datetime
import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

LONGEST_LINE = 75
"""In octets, without the end of the line: RFC 5545, section 3.1."""
PRODUCT = "-//Stepfield//Dates of protocols//EN"


@dataclass(frozen=True, slots=True)
class AllDay:
    """An entry for a whole day. ``key`` names what it is about: an entry that moves to another day keeps it."""

    key: str
    day: datetime.date
    summary: str
    description: str
    category: str
    url: str = ""


def calendar(entries: Iterable[AllDay], name: str, drawn: datetime.date) -> bytes:
    """The calendar file; ``name`` is what it is called, ``drawn`` the day it was made on.

    The same entries always give the same bytes. Raises ValueError without entries: a calendar has at least one.
    """
    lines = [line for entry in entries for line in _event(entry, name, drawn)]
    if not lines:
        raise ValueError("a calendar file needs at least one entry")
    head = ["BEGIN:VCALENDAR", "VERSION:2.0", f"PRODID:{PRODUCT}", f"NAME:{_text(name)}", f"X-WR-CALNAME:{_text(name)}"]
    return b"".join(_folded(line) for line in (*head, *lines, "END:VCALENDAR"))


def _event(entry: AllDay, name: str, drawn: datetime.date) -> Iterator[str]:
    yield "BEGIN:VEVENT"
    yield f"UID:{hashlib.sha256(f'{name} {entry.key}'.encode()).hexdigest()[:32]}@stepfield.invalid"
    yield f"DTSTAMP:{_date(drawn)}T000000Z"
    yield f"DTSTART;VALUE=DATE:{_date(entry.day)}"
    if entry.day < datetime.date.max:
        yield f"DTEND;VALUE=DATE:{_date(entry.day + datetime.timedelta(days=1))}"
    yield f"SUMMARY:{_text(entry.summary)}"
    yield f"DESCRIPTION:{_text(entry.description)}"
    yield f"CATEGORIES:{_text(entry.category)}"
    if entry.url:
        yield f"URL:{entry.url}"
    yield "TRANSP:TRANSPARENT"
    yield "END:VEVENT"


def _date(day: datetime.date) -> str:
    return f"{day.year:04}{day.month:02}{day.day:02}"


def _text(text: str) -> str:
    """A TEXT value: section 3.3.11. Control characters, which it may not hold, become blanks."""
    escaped = text.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,")
    lines = escaped.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    return "\\n".join("".join(sign if sign.isprintable() else " " for sign in line) for line in lines)


def _folded(line: str) -> bytes:
    """A content line with its end, in pieces of at most 75 octets; no character is cut in two."""
    pieces: list[bytes] = []
    piece = b""
    for sign in line:
        octets = sign.encode()
        if len(piece) + len(octets) > LONGEST_LINE:
            pieces.append(piece)
            piece = b" "
        piece += octets
    return b"\r\n".join([*pieces, piece]) + b"\r\n"
