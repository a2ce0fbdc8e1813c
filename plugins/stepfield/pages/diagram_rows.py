"""Where the steps of a phase stand: lanes are columns, time runs downwards, a step shared by lanes spans them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Placed:
    """A step in the grid: its row, the lanes that take part from left to right, and which of them is its owner's."""

    step: int
    row: int
    lanes: tuple[int, ...]
    owner: int

    @property
    def boxes(self) -> tuple[tuple[int, int], ...]:
        """The first and last lane of each of its boxes: lanes side by side share one."""
        runs: list[tuple[int, int]] = []
        for lane in self.lanes:
            if runs and runs[-1][1] == lane - 1:
                runs[-1] = (runs[-1][0], lane)
            else:
                runs.append((lane, lane))
        return tuple(runs)

    @property
    def body(self) -> tuple[int, int]:
        """The first and last lane of the owner's box: the text stands in it, and arrows leave and reach it."""
        return next((first, last) for first, last in self.boxes if first <= self.owner <= last)


def place(
    steps: Sequence[int], lanes_of: Mapping[int, tuple[int, ...]], before: Mapping[int, Iterable[int]]
) -> tuple[Placed, ...]:
    """Puts each step in the first row below everything it waits for.

    ``steps`` are in an allowed order, ``lanes_of`` gives each step's lanes (at least one, its owner's first),
    ``before`` the steps it directly waits for; those of other phases count for nothing. Nobody else's box stands
    between the boxes of one step.
    """
    free: dict[int, int] = {}
    row_of: dict[int, int] = {}
    found = []
    for step in steps:
        lanes = tuple(sorted(lanes_of[step]))
        span = range(lanes[0], lanes[-1] + 1)
        row = max(
            [
                0,
                *(free.get(lane, 0) for lane in span),
                *(row_of[other] + 1 for other in before[step] if other in row_of),
            ]
        )
        row_of[step] = row
        free.update(dict.fromkeys(span, row + 1))
        found.append(Placed(step, row, lanes, lanes_of[step][0]))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Stretch:
    """A line that runs beside others, from ``start`` to ``end``; lines of one ``group`` may share a track."""

    start: float
    end: float
    group: object


def tracks(stretches: Sequence[Stretch]) -> tuple[dict[object, int], int]:
    """A track for each group of lines such that no two groups overlap on one track; and how many tracks that takes."""
    extents: dict[object, tuple[float, float]] = {}
    for stretch in stretches:
        low, high = min(stretch.start, stretch.end), max(stretch.start, stretch.end)
        known = extents.get(stretch.group, (low, high))
        extents[stretch.group] = (min(low, known[0]), max(high, known[1]))
    taken: list[float] = []
    given: dict[object, int] = {}
    for group, (low, high) in sorted(extents.items(), key=lambda entry: (entry[1], str(entry[0]))):
        track = next((number for number, end in enumerate(taken) if end < low), len(taken))
        if track == len(taken):
            taken.append(high)
        taken[track] = high
        given[group] = track
    return given, len(taken)
