"""Teams as plain data for programs, and back."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import Any

from ..planning.slipping import Slipping
from ..planning.teams import AtOnce, Judged, Late, Reason, Teams, Verdict

_KINDS: dict[str, Any] = {"at-once": AtOnce, "asepsis": Slipping, "time": Late}


def teams_entry(teams: Teams) -> dict[str, Any]:
    """The teams as plain data: lists, mappings, texts and numbers; times in seconds."""
    return {
        "roles": list(teams.roles),
        "smallest": teams.smallest,
        "settled": teams.settled,
        "teams": [_team_entry(one) for one in teams.judged],
        "foreseen": list(teams.foreseen),
        "all_scenarios": teams.all_scenarios,
        "without_duration": teams.unknown,
        "solver": teams.solver,
    }


def teams_json(protocol: str, teams: Teams) -> str:
    """The teams of a protocol as JSON."""
    return json.dumps({"protocol": protocol, **teams_entry(teams)}, ensure_ascii=False, indent=2) + "\n"


def teams_from(entry: dict[str, Any]) -> Teams:
    """The teams, from what ``teams_entry`` made of them. Raises KeyError, TypeError or ValueError if it did not."""
    return Teams(
        roles=tuple(entry["roles"]),
        judged=tuple(
            Judged(tuple(tuple(own) for own in one["people"]), tuple(_verdict_from(each) for each in one["scenarios"]))
            for one in entry["teams"]
        ),
        foreseen=tuple(entry["foreseen"]),
        all_scenarios=entry["all_scenarios"],
        unknown=entry["without_duration"],
        solver=entry["solver"],
    )


def _team_entry(one: Judged) -> dict[str, Any]:
    times = {"seconds": {"least": one.least, "most": one.most}} if one.possible else {}
    return {
        "people": [list(own) for own in one.people],
        "size": len(one.people),
        "possible": one.possible,
        **times,
        "every_order": one.always,
        "scenarios": [_verdict_entry(verdict) for verdict in one.verdicts],
    }


def _verdict_entry(verdict: Verdict) -> dict[str, Any]:
    reasons = [{"kind": _kind(reason), **asdict(reason)} for reason in verdict.reasons]
    return {**asdict(verdict), "settled": dict(verdict.settled), "reasons": reasons}


def _kind(reason: Reason) -> str:
    return next(kind for kind, shape in _KINDS.items() if isinstance(reason, shape))


def _verdict_from(entry: dict[str, Any]) -> Verdict:
    reasons = tuple(_reason_from(dict(reason)) for reason in entry["reasons"])
    return Verdict(**{**entry, "reasons": reasons, "order": tuple(entry["order"])})


def _reason_from(entry: dict[str, Any]) -> Reason:
    shape = _KINDS[entry.pop("kind")]
    made: Reason = shape(**{name: tuple(value) if isinstance(value, list) else value for name, value in entry.items()})
    return made
