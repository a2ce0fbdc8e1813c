"""Many clinics side by side for other programs: as JSON, and as a table for spreadsheets."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any

from .as_csv import table
from .as_json import entry_of
from .fleet import Common, Family, Fleet, Row


def json_fleet(fleet: Fleet) -> str:
    """All clinics of a fleet as one JSON object in ASCII."""
    found = {
        "percent": fleet.percent,
        "baselines": [_family(family) for family in fleet.families],
        "not_compared": [{"folder": one.folder, "why": one.why} for one in fleet.others],
    }
    return json.dumps(found, indent=2) + "\n"


def csv_fleet(fleet: Fleet) -> str:
    """The table who deviates where: a line a place, a column a folder.

    A cell is empty where a clinic follows the shared text, "does not have it" where it lacks the protocol, and "not
    compared" where nothing is known of the folder.
    """
    columns = [one.folder for family in fleet.families for one in family.members]
    others = [one.folder for one in fleet.others]
    heads = ("baseline", "protocol", "kind", "name", "field", "shared", "common", *columns, *others)
    return table(heads, (line for family in fleet.families for line in _lines(family, columns, others)))


def _lines(family: Family, columns: list[str], others: list[str]) -> Iterator[Mapping[str, object]]:
    versions = {one.folder: one.drift.version for one in family.members if one.drift is not None}
    yield {"baseline": family.baseline, "kind": "version", **versions}
    common = {(one.protocol, one.kind, one.name, field) for one in family.common for field, _, _ in one.fields}
    foreign = dict.fromkeys((one for one in columns if one not in versions), "another baseline")
    for row in family.rows:
        protocol, kind, name, field = row.place
        yield {
            "baseline": family.baseline,
            "protocol": protocol,
            "kind": kind,
            "name": name,
            "field": field,
            "shared": row.before,
            "common": "yes" if row.place in common else "no",
            **foreign,
            **dict.fromkeys(others, "not compared"),
            **dict.fromkeys(row.away, "does not have it"),
            **{folder: _cell(row, folder) for folder in row.cells},
        }


def _cell(row: Row, folder: str) -> str:
    cell = row.cells[folder]
    grade = f"{cell.grade}, expired" if cell.expired else cell.grade
    return f"{grade}: {cell.value}" if cell.value else grade


def _family(family: Family) -> dict[str, Any]:
    return {
        "baseline": family.baseline,
        "clinics": [
            {"folder": one.folder, **(entry_of(one.drift) if one.drift is not None else {})} for one in family.members
        ],
        "deviations": [_row(row) for row in family.rows],
        "common": [_common(one) for one in family.common],
    }


def _row(row: Row) -> dict[str, Any]:
    protocol, kind, name, field = row.place
    return {
        "protocol": protocol or None,
        "kind": kind,
        "name": name or None,
        "field": field or None,
        "before": row.before or None,
        "clinics": {
            folder: {"grade": cell.grade, "after": cell.value or None, "expired": cell.expired}
            for folder, cell in sorted(row.cells.items())
        },
        "without": sorted(row.away),
    }


def _common(one: Common) -> dict[str, Any]:
    return {
        "protocol": one.protocol or None,
        "kind": one.kind,
        "name": one.name or None,
        "fields": [{"field": field or None, "before": before, "after": after} for field, before, after in one.fields],
        "grade": one.grade,
        "folders": list(one.folders),
        "of": one.of,
        "because": list(one.reasons),
    }
