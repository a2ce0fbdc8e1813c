"""The day a site is judged on."""

from __future__ import annotations

import datetime


def day_of(given: object, epoch: str | None) -> datetime.date:
    """The day given, or else that of SOURCE_DATE_EPOCH (``epoch``, in seconds), or today. Raises ValueError."""
    if isinstance(given, datetime.date):
        return given
    if given:
        return datetime.date.fromisoformat(str(given))
    if epoch:
        return datetime.datetime.fromtimestamp(int(epoch), datetime.UTC).date()
    return datetime.datetime.now().astimezone().date()
