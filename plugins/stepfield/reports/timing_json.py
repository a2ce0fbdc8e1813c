"""How long a protocol takes, for other programs: one JSON object; all times in seconds."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

from ..language.model import Protocol
from ..planning.plan import Between
from ..planning.schedule import Schedule, waiting_for
from ..planning.simulation import Spread
from ..planning.standing import Standing
from ..planning.timing import Timing


def timing_json(protocol: Protocol, timing: Timing, written: Timing | None = None) -> str:
    """The times of one scenario in ASCII; ``written`` are those without what was asked to be otherwise."""
    names = [step.id.value for step in protocol.steps]
    found: dict[str, Any] = {
        "protocol": protocol.id,
        "scenario": dict(timing.scenario),
        "unit": "s",
        "judged": "time only; asepsis is judged by `stepfield check`",
        "total": {
            "usual": _number(timing.usual.total),
            "slow": _number(timing.slow.total),
            "as_written": _number(written.usual.total) if written is not None else None,
            "mean": _number(timing.mean),
            "deviation": _number(timing.deviation),
            "drawn": _spread(timing.drawn.total) if timing.drawn is not None else None,
        },
        "draws": timing.drawn.runs if timing.drawn is not None else 0,
        "critical_path": _named(names, timing.usual.critical),
        "people": _people(timing),
        "steps": _steps(protocol, timing.usual),
        "standing": [_standing(names, one, timing) for one in timing.standing],
        "between": [_between(names, one, seconds, timing) for one, seconds in waiting_for(timing.plan, timing.usual)],
        "without_duration": _named(names, timing.usual.unknown),
        "waits_left_out": [{"step": names[one.step], "for": names[one.of]} for one in timing.plan.left_out],
        "two_people_needed": [
            {"step": names[number], "person": person.id.value, "roles": [role.value for role in person.roles]}
            for number, person in timing.torn
        ],
    }
    return json.dumps(found, indent=2) + "\n"


def _people(timing: Timing) -> list[dict[str, Any]]:
    roles = {person.id.value: [role.value for role in person.roles] for person in timing.people}
    return [
        {"who": who, "roles": roles.get(who, [who]), "busy": _number(busy), "idle": _number(timing.usual.idle[who])}
        for who, busy in timing.usual.busy.items()
    ]


def _steps(protocol: Protocol, usual: Schedule) -> list[dict[str, Any]]:
    rows = sorted(usual.rows, key=lambda one: (one.starts, one.step))
    return [
        {
            "step": step.id.value,
            "role": step.role.value if step.role is not None else None,
            "with": [helper.value for helper in step.helpers],
            "starts": _number(one.starts),
            "ends": _number(one.ends),
            "latest_start": _number(one.latest_start),
            "slack": _number(one.slack),
            "critical": one.critical,
        }
        for one, step in ((one, protocol.steps[one.step]) for one in rows)
    ]


def _standing(names: list[str], one: Standing, timing: Timing) -> dict[str, Any]:
    starts = {row.step: row.starts for row in timing.usual.rows}
    ends = {row.step: row.ends for row in timing.usual.rows}
    in_all = one.in_all(starts, ends)
    return {
        "kind": one.kind,
        "subject": one.subject,
        "opened_by": names[one.since],
        "first_used_by": names[min(one.uses, key=lambda number: (starts[number], number))],
        "before_use": _number(one.before_use(starts, ends)),
        "in_all": _number(in_all) if in_all is not None else None,
        "drawn": _spread(timing.drawn.standing[one]) if timing.drawn is not None else None,
    }


def _between(names: list[str], one: Between, seconds: float, timing: Timing) -> dict[str, Any]:
    is_wait = one in timing.plan.waits
    return {
        "kind": "wait" if is_wait else "limit",
        "step": names[one.step],
        "of": names[one.of],
        "asked": _number(one.seconds),
        "usual": _number(seconds),
        "kept": one not in timing.usual.missed,
        "kept_in_draws": timing.drawn.kept[one] if timing.drawn is not None and not is_wait else None,
    }


def _spread(one: Spread) -> dict[str, Any]:
    return {
        "mean": _number(one.mean),
        "deviation": _number(one.deviation),
        "below": {str(share): _number(seconds) for share, seconds in one.below.items()},
    }


def _named(names: list[str], steps: Iterable[int]) -> list[str]:
    return [names[number] for number in steps]


def _number(seconds: float) -> float:
    """To the hundredth: durations say no more."""
    return round(seconds, 2)
