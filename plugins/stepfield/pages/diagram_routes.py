"""How the lines of a diagram run: which gutter between lanes each takes, and on which track of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from .diagram_rows import Placed, Stretch, tracks


@dataclass(frozen=True, slots=True)
class Route:
    """A line from one step to another, before it has coordinates.

    It leaves step ``source`` towards gutter ``out`` and reaches ``target`` from gutter ``into`` (gutter *g* lies left
    of lane *g*); where these differ it crosses between them in the gap above the target's row. ``back`` marks a repeat,
    which runs upwards.
    """

    source: int
    target: int
    out: int
    into: int
    back: bool = False

    @property
    def trunk(self) -> object:
        """Lines with the same trunk may share a track."""
        return ("back" if self.back else "out", self.source, self.out)

    @property
    def branch(self) -> object:
        """The track into the target, where it is not the trunk itself."""
        return self.trunk if self.out == self.into else ("in", self.source, self.target)


@dataclass(frozen=True, slots=True)
class Routing:
    """All lines of a phase with their tracks: by gutter, and by the row above which a line crosses."""

    routes: tuple[Route, ...]
    gutters: Mapping[int, tuple[Mapping[object, int], int]]
    gaps: Mapping[int, tuple[Mapping[object, int], int]]


def route(
    placed: Mapping[int, Placed], links: Sequence[tuple[int, int]], repeats: Sequence[tuple[int, int]]
) -> Routing:
    """Finds a way for every link (earlier, later) and every repeat (asking step, step gone back to)."""
    forward = [_forward(placed[source], placed[target]) for source, target in links]
    routes = forward + [_backward(placed[asking], placed[start], forward) for asking, start in repeats]
    upright: dict[int, list[Stretch]] = {}
    across: dict[int, list[Stretch]] = {}
    for line in routes:
        top, bottom = placed[line.source].row + 0.6, placed[line.target].row + 0.3
        if line.out == line.into:
            upright.setdefault(line.out, []).append(Stretch(top, bottom, line.trunk))
            continue
        gap = placed[line.target].row - 0.1
        upright.setdefault(line.out, []).append(Stretch(top, gap, line.trunk))
        upright.setdefault(line.into, []).append(Stretch(gap, bottom, line.branch))
        across.setdefault(placed[line.target].row, []).append(Stretch(line.out, line.into, line.branch))
    return Routing(
        tuple(routes),
        {gutter: tracks(stretches) for gutter, stretches in upright.items()},
        {row: tracks(stretches) for row, stretches in across.items()},
    )


def _forward(source: Placed, target: Placed) -> Route:
    if source.last < target.first:
        return Route(source.step, target.step, source.last + 1, target.first)
    if source.first > target.last:
        return Route(source.step, target.step, source.first, target.last + 1)
    inner = source if source.last - source.first < target.last - target.first else target
    return Route(source.step, target.step, inner.last + 1, inner.last + 1)


def _backward(asking: Placed, start: Placed, forward: Sequence[Route]) -> Route:
    """Repeats run left of the lane, or right of it where the left side is taken and the right one free."""
    exits = {line.out for line in forward if line.source == asking.step}
    right = asking.first in exits and asking.last + 1 not in exits and start.last == asking.last
    gutter = asking.last + 1 if right else asking.first
    into = gutter if gutter in (start.first, start.last + 1) else start.first
    return Route(asking.step, start.step, gutter, into, back=True)
