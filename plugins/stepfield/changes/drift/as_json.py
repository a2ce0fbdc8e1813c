"""A clinic beside its baseline for other programs, as JSON; dates are days such as 2026-11-02."""

from __future__ import annotations

import datetime
import json
from typing import Any

from .model import Difference, Drift, ProtocolDrift


def json_drift(drift: Drift) -> str:
    """All that is different in one clinic, as one JSON object in ASCII."""
    return json.dumps(entry_of(drift), indent=2) + "\n"


def entry_of(drift: Drift) -> dict[str, Any]:
    """One clinic as plain data."""
    return {
        "clinic": drift.clinic,
        "baseline": {"name": drift.baseline, "version": drift.version},
        "today": drift.today.isoformat(),
        "known": drift.unread is None,
        "protocols": [_protocol(one) for one in drift.protocols],
        "things": [_difference(one) for one in drift.things],
        "roles": [{"role": one.role, "before": one.before, "after": one.after} for one in drift.renamed],
        "missed": [{"message": one.message, "path": one.path, "line": one.line} for one in drift.missed],
    }


def _protocol(one: ProtocolDrift) -> dict[str, Any]:
    return {
        "protocol": one.id,
        "title": one.title,
        "state": one.state,
        "changes": [_difference(each) for each in one.differences],
        "settled": [
            {
                "choice": each.choice,
                "option": each.option,
                "title": each.title,
                "option_title": each.option_title,
                "never_done": [name for name, _ in each.never],
            }
            for each in one.settled
        ],
        "things": [each.name for each in one.things],
    }


def _difference(one: Difference) -> dict[str, Any]:
    return {
        "kind": one.kind,
        "name": one.name,
        "title": one.title,
        "grade": one.effect.word,
        "grades": [{"field": each.field, "grade": each.effect.word, "reason": each.reason} for each in one.grades],
        "fields": [{"field": each.name, "before": each.before, "after": each.after} for each in one.fields],
        "told": list(one.told),
        "because": one.agreement.because or None,
        "agreed": None
        if not one.agreement.by and one.agreement.on is None
        else {"by": one.agreement.by, "date": _day(one.agreement.on)},
        "until": _day(one.agreement.until),
        "days_left": one.agreement.days_left,
        "expired": one.agreement.expired,
        "roles": sorted(one.roles),
        "path": one.path,
        "line": one.line,
    }


def _day(day: datetime.date | None) -> str | None:
    return None if day is None else day.isoformat()
