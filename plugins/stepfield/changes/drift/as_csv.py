"""A clinic beside its baseline as a table for spreadsheets: a line for each field that differs."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping, Sequence

from .model import Difference, Drift

HEADS = (
    "clinic", "baseline", "version", "protocol", "kind", "name", "field", "before", "after", "grade", "reason",
    "because", "agreed_by", "agreed_on", "until", "days_left", "path", "line",
)  # fmt: skip
_FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""What a spreadsheet takes for the beginning of something to work out."""


def csv_drift(drift: Drift) -> str:
    """All that is different in one clinic, with a head line; what could not be read has a line of the kind missed."""
    return table(HEADS, _lines(drift))


def table(heads: Sequence[str], lines: Iterable[Mapping[str, object]]) -> str:
    """Lines as CSV as RFC 4180 has it. A text that a spreadsheet would work out has an apostrophe before it."""
    out = io.StringIO()
    writer = csv.DictWriter(out, heads)
    writer.writeheader()
    writer.writerows({head: _harmless(cell) for head, cell in line.items()} for line in lines)
    return out.getvalue()


def _harmless(cell: object) -> object:
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(_FORMULA) else cell


def _lines(drift: Drift) -> Iterator[Mapping[str, object]]:
    head = {"clinic": drift.clinic, "baseline": drift.baseline, "version": drift.version}
    for one in drift.differences:
        yield from ({**head, "protocol": one.protocol, **line} for line in _fields(one))
    for role in drift.renamed:
        names = {"before": role.before, "after": role.after}
        yield {**head, "kind": "role", "name": role.role, "field": "title", **names}
    for protocol in drift.protocols:
        here = {**head, "protocol": protocol.id}
        for choice in protocol.settled:
            yield {**here, "kind": "settled", "name": choice.choice, "after": choice.option}
        if protocol.state != "shared":
            yield {**here, "kind": protocol.state, "after": protocol.title}
    for missed in drift.missed:
        yield {**head, "kind": "missed", "after": missed.message, "path": missed.path, "line": missed.line}


def _fields(one: Difference) -> Iterator[Mapping[str, object]]:
    """A line for each field; for a whole step one."""
    agreement = one.agreement
    line = {
        "kind": one.kind,
        "name": one.name,
        "grade": one.effect.word,
        "reason": "; ".join(one.reasons),
        "because": agreement.because,
        "agreed_by": agreement.by,
        "agreed_on": agreement.on,
        "until": agreement.until,
        "days_left": agreement.days_left,
        "path": one.path,
        "line": one.line,
    }
    if one.is_whole:
        yield {**line, "before" if one.kind == "drop" else "after": "; ".join((one.title, *one.told))}
    for field in one.fields:
        yield {**line, "field": field.name, "before": field.before, "after": field.after}
