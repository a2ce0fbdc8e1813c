"""Who approved which version of a protocol, and when: every approval that the history of its file has."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from pathlib import Path

from ..language.files import place_of
from ..language.model import Protocol
from ..language.yaml_nodes import Plain
from ..language.yaml_reader import read_yaml
from .history import texts_over_time


@dataclass(frozen=True, slots=True)
class Approved:
    """One version that called itself approved; ``since`` is the day of the commit in which it first did."""

    protocol: str
    version: str
    by: str
    date: datetime.date
    review_by: datetime.date | None
    since: datetime.date

    def is_of(self, protocol: Protocol) -> bool:
        """Whether this is the approval that the protocol has now."""
        now = protocol.approved
        version = protocol.version.value
        return now is not None and (version, now.by, now.date) == (self.version, self.by, self.date)


def approvals_of(folder: Path) -> tuple[Approved, ...]:
    """Every approval in the history of a set's protocols, the newest first.

    A text that cannot be read, or does not say who approved it and when, is passed over. Raises HistoryError if there
    is no git or no history.
    """
    found: dict[tuple[str, str, str, datetime.date], Approved] = {}
    for day, name, data in texts_over_time(folder):
        if place_of(name, "").kind == "protocol":
            one = _approved(name.removesuffix(".yaml"), data, day)
            if one is not None:
                found.setdefault((one.protocol, one.version, one.by, one.date), one)
    return tuple(sorted(found.values(), key=lambda one: (one.since, one.date, one.version, one.protocol), reverse=True))


def _approved(protocol: str, data: bytes, since: datetime.date) -> Approved | None:
    document = read_yaml(data, protocol).document
    plain = document.plain() if document is not None else None
    if not isinstance(plain, dict) or plain.get("status") != "approved":
        return None
    approval = plain.get("approved")
    if not isinstance(approval, dict):
        return None
    date, by = _day(approval.get("date")), approval.get("by")
    if date is None or not isinstance(by, str):
        return None
    return Approved(protocol, str(plain.get("version", "")), by.strip(), date, _day(plain.get("review_by")), since)


def _day(value: Plain) -> datetime.date | None:
    try:
        return datetime.date.fromisoformat(value) if isinstance(value, str) else None
    except ValueError:
        return None
