"""A review for other programs."""

from __future__ import annotations

import json
from typing import Any

from ..reports.as_json import finding_entry
from .as_markdown import Pictures
from .model import Change, Duty, Review, Reviewed
from .sharing import shared_changes
from .telling import duty


def json_review(review: Review, pictures: Pictures | None = None) -> str:
    """The whole review as one JSON object in ASCII."""
    shared, _ = shared_changes(review.protocols)
    found: dict[str, Any] = {
        "base": review.base,
        "head": review.head,
        "grade": _grade(review.grade),
        "protocols": [_protocol(one, pictures or {}) for one in review.protocols],
        "shared": [
            {
                "part": one.part,
                "step": one.step,
                "grade": one.grade.word,
                "places": [{"protocol": protocol, "step": step} for protocol, step in one.places],
            }
            for one in shared
        ],
        "clinic": [_change(change) for change in review.clinic],
        "appeared": [finding_entry(finding) for finding in (*review.unraised, *review.appeared)],
        "vanished": [finding_entry(finding) for finding in review.vanished],
    }
    return json.dumps(found, indent=2) + "\n"


def _protocol(one: Reviewed, pictures: Pictures) -> dict[str, Any]:
    return {
        "protocol": one.protocol,
        "title": one.title,
        "state": one.state,
        "grade": _grade(one.grade),
        "version": {
            "before": one.version.before,
            "after": one.version.after,
            "asked": one.version.asked,
            "raised": one.version.raised,
        },
        "changes": [_change(change) for change in one.changes],
        "roles": [_duty(each, one) for each in one.duties],
        "read_again": [each.role for each in one.duties if each.must_read],
        "phases": [
            {
                "phase": phase.id,
                "title": phase.title,
                "before": list(phase.before),
                "after": list(phase.after),
                "pictures": list(pictures.get((one.protocol, phase.id), (None, None))),
            }
            for phase in one.phases
        ],
    }


def _change(change: Change) -> dict[str, Any]:
    return {
        "what": change.what,
        "kind": change.kind,
        "name": change.name,
        "was": change.was,
        "grade": change.grade.word,
        "part": change.part,
        "path": change.path or None,
        "line": change.line if change.path else None,
        "own": list(change.own),
        "near": list(change.near),
        "details": [
            {
                "field": one.field,
                "grade": one.grade.word,
                "reason": one.reason,
                "lost": list(one.lost),
                "gained": list(one.gained),
            }
            for one in change.details
        ],
    }


def _duty(one: Duty, reviewed: Reviewed) -> dict[str, Any]:
    return {
        "role": one.role,
        "title": one.title,
        "must_read": one.must_read,
        "own": [change.name for change in one.own],
        "near": [change.name for change in one.near],
        "say": list(duty(one, reviewed)),
    }


def _grade(grade: Any) -> str | None:
    return None if grade is None else str(grade.word)
