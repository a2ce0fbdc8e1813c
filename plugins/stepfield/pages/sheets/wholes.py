"""The whole protocol on paper: who does what, after which steps, phase by phase."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ..addresses import Links
from ..reading import Reading
from ..steps import phase_views
from ..views import PhaseView
from ..whole import Row, rows_of


@dataclass(frozen=True, slots=True)
class Placed:
    """A step in its order: ``after`` are the numbers of the steps of its phase that come directly before it."""

    row: Row
    after: tuple[int, ...]


def whole_values(reading: Reading, address: str) -> dict[str, object]:
    """What the template of the whole protocol asks for."""
    return {
        "purpose": reading.protocol.purpose,
        "choices": reading.protocol.choices,
        "ordered": not reading.examined.order.loops,
        "phases": tuple(_phases(reading, Links(address))),
    }


def _phases(reading: Reading, links: Links) -> Iterator[tuple[PhaseView, tuple[Placed, ...]]]:
    for view in phase_views(reading, links, None):
        yield view, tuple(Placed(row, _after(row)) for row in rows_of(reading, view))


def _after(row: Row) -> tuple[int, ...]:
    """What a row tells of by numbers and what its sentences tell of, together: paper has room for the numbers only."""
    return tuple(sorted({*(int(link.text) for link in row.after), *(wait.number for wait in row.step.waits)}))
