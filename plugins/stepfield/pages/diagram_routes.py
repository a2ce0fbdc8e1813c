"""How the lines of a diagram run: which gutter between lanes each takes, and on which track of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from .diagram_rows import Placed, Stretch, tracks


@dataclass(frozen=True, slots=True)
class Route:
    """A line from one step to another, before it has coordinates.

    It leaves step ``source`` into the first of ``gutters`` and reaches ``target`` from the last (gutter *g* lies left
    of lane *g*); it crosses from each to the next in a gap between rows: ``gaps`` are the rows right below. ``back``
    marks a repeat, which runs upwards.
    """

    source: int
    target: int
    gutters: tuple[int, ...]
    gaps: tuple[int, ...]
    back: bool = False

    @property
    def groups(self) -> tuple[object, ...]:
        """For each gutter on the way, what names the line there: lines of one name may share a track.

        Lines from one step part on their way; only the last gutter is each one's own, so that one sees which comes in.
        """
        kind = "back" if self.back else "out"
        trunks = tuple((kind, self.source, gutter) for gutter in self.gutters)
        return trunks if len(trunks) == 1 else (*trunks[:-1], ("in", self.source, self.target))


@dataclass(frozen=True, slots=True)
class Routing:
    """All lines of a phase with their tracks: by gutter, and by the row above which a line crosses."""

    routes: tuple[Route, ...]
    gutters: Mapping[int, tuple[Mapping[object, int], int]]
    gaps: Mapping[int, tuple[Mapping[object, int], int]]


def route(
    placed: Mapping[int, Placed], links: Sequence[tuple[int, int]], repeats: Sequence[tuple[int, int]], lanes: int
) -> Routing:
    """Finds a way between so many lanes for every link (earlier, later) and every repeat (asking, gone back to)."""
    free = _free(placed.values(), lanes)
    forward = [_forward(placed[source], placed[target], free) for source, target in links]
    routes = forward + [_backward(placed[asking], placed[start], forward, free) for asking, start in repeats]
    upright: dict[int, list[Stretch]] = {}
    across: dict[int, list[Stretch]] = {}
    for line in routes:
        heights = [placed[line.source].row + 0.6, *(gap - 0.1 for gap in line.gaps), placed[line.target].row + 0.3]
        for gutter, (start, end), group in zip(line.gutters, pairwise(heights), line.groups, strict=True):
            upright.setdefault(gutter, []).append(Stretch(start, end, group))
        for gap, (here, there), group in zip(line.gaps, pairwise(line.gutters), line.groups[1:], strict=True):
            across.setdefault(gap, []).append(Stretch(here, there, group))
    return Routing(
        tuple(routes),
        {gutter: tracks(stretches) for gutter, stretches in upright.items()},
        {row: tracks(stretches) for row, stretches in across.items()},
    )


def _free(placed: Iterable[Placed], lanes: int) -> list[set[int]]:
    """For each row the gutters that no box stands in; those left and right of all lanes always are."""
    free: list[set[int]] = []
    for at in placed:
        while len(free) <= at.row:
            free.append(set(range(lanes + 1)))
        for first, last in at.boxes:
            free[at.row] -= set(range(first + 1, last + 1))
    return free


def _forward(source: Placed, target: Placed, free: Sequence[set[int]]) -> Route:
    (first, last), (target_first, target_last) = source.body, target.body
    out, into = (last + 1, target_first) if last < target_first else (first, target_last + 1)
    return _way(source, target, out, into, free)


def _backward(asking: Placed, start: Placed, forward: Sequence[Route], free: Sequence[set[int]]) -> Route:
    """Repeats run left of the lane, or right of it where the left side is taken and the right one free."""
    (left, last), (start_left, start_last) = asking.body, start.body
    exits = {line.gutters[0] for line in forward if line.source == asking.step}
    right = left in exits and last + 1 not in exits and start_last == last
    out = last + 1 if right else left
    into = out if out in (start_left, start_last + 1) else start_left
    return _way(asking, start, out, into, free)


def _way(source: Placed, target: Placed, out: int, into: int, free: Sequence[set[int]]) -> Route:
    """The way with the fewest turns: it keeps to a gutter until a box stands there, then takes the one free longest.

    Of those equally long free it takes the one least out of its way. There always is one, at the edge of the picture.
    """
    back = target.row <= source.row
    rows = range(source.row - 1, target.row - 1, -1) if back else range(source.row + 1, target.row + 1)
    ahead = [free[row] if row != target.row else {into} for row in rows]
    gutters, gaps = [out], []
    for number, row in enumerate(rows):
        if gutters[-1] not in ahead[number]:
            gutters.append(_turn(gutters[-1], into, ahead[number:]))
            gaps.append(row + 1 if back else row)
    return Route(source.step, target.step, tuple(gutters), tuple(gaps), back)


def _turn(here: int, into: int, ahead: Sequence[set[int]]) -> int:
    """The gutter to cross to, from the gutters that are free in each of the rows ahead."""

    def merit(gutter: int) -> tuple[int, int, int]:
        reach = next((number for number, free in enumerate(ahead) if gutter not in free), len(ahead))
        return -reach, abs(gutter - here) + abs(gutter - into), gutter

    return min(ahead[0], key=merit)
