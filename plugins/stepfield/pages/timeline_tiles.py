"""The timeline of a protocol, drawn in tiles: a lane for each role, minutes from left to right.

A tile is a phase, or a stretch of one that is too long for a phone. All tiles have one scale and lanes of one height,
so side by side they are one picture, and below one another each can be read as it is.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil

from ..planning.schedule import Schedule, Timed
from .diagram_text import fitted, width

WIDEST, LONGEST = 306.0, 4800.0
"""How wide a tile may be, so that a phone shows it in full size, and all tiles of a long case together; CSS pixels."""
PER_MINUTE = 24.0
"""Pixels a minute takes at most: a step of half a minute still has room for its number."""
EDGE, NARROWEST = 8.0, 110.0
AXIS, TITLE, BAR, BELOW = 18.0, 17.0, 24.0, 12.0
"""Heights of the line of minutes, of the title of a lane, of a bar, and of one line of numbers below a bar."""
_DIGIT, _SIZE, _TITLE_SIZE, _MOST_BELOW = 5.8, 10.0, 11.0, 3
_LOOKS = ("grid", "tick", "wait", "free", "critical")
_TICKS = (1, 5, 10, 15, 30, 60, 120, 240, 480, 720, 1440)
Paths = dict[str, list[str]]
"""Pieces of paths by their look."""


@dataclass(frozen=True, slots=True)
class Word:
    """Text at a place; ``look`` chooses its style."""

    x: int
    y: int
    text: str
    look: str


@dataclass(frozen=True, slots=True)
class Tile:
    """One tile: its phase (by index), the stretch it shows in seconds, its size, paths by their look, and text.

    ``part`` of ``parts`` tells which stretch of its phase it is.
    """

    phase: int
    part: int
    parts: int
    starts: float
    ends: float
    width: int
    height: int
    paths: tuple[tuple[str, str], ...]
    words: tuple[Word, ...]


@dataclass(frozen=True, slots=True)
class Lane:
    """A role: what it is called, and its steps on the clock, with the words for each."""

    title: str
    rows: tuple[tuple[Timed, str], ...]
    waits: tuple[tuple[float, float, str], ...]
    """Waits that it has to keep: from when to when, in seconds, and how long that is in words."""


def tiles(found: Schedule, phase_of: Sequence[int], lanes: Sequence[Lane]) -> Iterator[Tile]:
    """The tiles of a scenario, in order; phases in which nothing is done have none."""
    spans: dict[int, tuple[float, float]] = {}
    for row in found.rows:
        first, last = spans.get(phase_of[row.step], (row.starts, row.ends))
        spans[phase_of[row.step]] = (min(first, row.starts), max(last, row.ends))
    scale = min(PER_MINUTE, LONGEST / max(1.0, found.total / 60)) / 60
    drawing = _Drawing(lanes, phase_of, scale)
    for phase, (first, last) in sorted(spans.items()):
        parts = max(1, ceil((last - first) * scale / WIDEST - 1e-6))
        length = (last - first) / parts
        for part in range(parts):
            yield drawing.tile(phase, part, parts, first + part * length, first + (part + 1) * length)


class _Drawing:
    def __init__(self, lanes: Sequence[Lane], phase_of: Sequence[int], scale: float) -> None:
        self.lanes, self.scale = lanes, scale
        self.titles = [width(lane.title, _TITLE_SIZE) for lane in lanes]
        minute = next((one for one in _TICKS if one * 60 * scale >= 40), _TICKS[-1])
        self.tick, self.short = minute * 60.0, 60.0 if scale * 60 >= 8 else minute * 60.0
        self.rows = [_by_phase(lane, phase_of) for lane in lanes]
        below = max((self._deepest(lane) for lane in lanes), default=0)
        self.lane_height = TITLE + BAR + BELOW * below + 6

    def tile(self, phase: int, part: int, parts: int, starts: float, ends: float) -> Tile:
        """One stretch of a phase."""
        room = max(NARROWEST, (ends - starts) * self.scale + 2 * EDGE)
        height = AXIS + self.lane_height * len(self.lanes)
        paths: Paths = {}
        words: list[Word] = []
        self._axis(starts, ends, room, height, paths, words)
        for index, lane in enumerate(self.lanes):
            top = AXIS + index * self.lane_height
            words.append(Word(round(EDGE), round(top + 12), self._title(index, room - 2 * EDGE), "lane"))
            for first, last, said in lane.waits:
                if first < ends and last > starts:
                    self._wait(max(first, starts), min(last, ends), said, starts, top, paths, words)
            here = [one for one in self.rows[index].get(phase, ()) if _is_here(one[0], starts, ends, part == parts - 1)]
            self._bars(here, starts, ends, top, paths, words)
        return Tile(
            phase, part + 1, parts, starts, ends, round(room), round(height),
            tuple((look, "".join(paths[look])) for look in _LOOKS if look in paths),
            tuple(words),
        )  # fmt: skip

    def _title(self, index: int, room: float) -> str:
        title = self.lanes[index].title
        return title if self.titles[index] <= room else fitted(title, room, _TITLE_SIZE)

    def _axis(self, starts: float, ends: float, room: float, height: float, paths: Paths, words: list[Word]) -> None:
        base, right = AXIS - 4, room - EDGE
        line = [f"M{round(EDGE)} {round(base)}H{round(right)}"]
        at = ceil(starts / self.short - 1e-6) * self.short
        while at <= ends + 1e-6:
            line.append(f"M{round(self._x(at, starts))} {round(base)}v4")
            at += self.short
        rows = [
            f"M{round(EDGE)} {round(AXIS + index * self.lane_height)}H{round(right)}"
            for index in range(len(self.lanes))
        ]
        paths["tick"] = line
        paths["grid"] = rows
        at = ceil(starts / self.tick - 1e-6) * self.tick
        while at <= ends + 1e-6:
            x = self._x(at, starts)
            rows.append(f"M{round(x)} {round(base)}V{round(height)}")
            words.append(Word(round(min(max(x, EDGE + 4), right)), 10, f"{at / 60:.0f}", "minute"))
            at += self.tick

    def _wait(
        self, first: float, last: float, said: str, starts: float, top: float, paths: Paths, words: list[Word]
    ) -> None:
        x, end = self._x(first, starts), self._x(last, starts)
        y = top + TITLE
        paths.setdefault("wait", []).append(
            f"M{round(x + 1)} {round(y + 6)}H{round(end - 1)}V{round(y + BAR - 6)}H{round(x + 1)}Z"
        )
        if end - x >= 40:
            words.append(Word(round((x + end) / 2), round(y + 16), fitted(f"❚❚ {said}", end - x - 4, _SIZE), "wait"))

    def _bars(
        self,
        here: Sequence[tuple[Timed, str]],
        starts: float,
        ends: float,
        top: float,
        paths: Paths,
        words: list[Word],
    ) -> None:
        taken = [-1.0] * _MOST_BELOW
        for row, text in here:
            x, end = self._x(max(row.starts, starts), starts), self._x(min(row.ends, ends), starts)
            paths.setdefault("critical" if row.critical else "free", []).append(
                _outline(x, end, top + TITLE, row.critical)
            )
            name, wide = str(row.step + 1), _wide(row)
            if end - x >= wide:
                line = name
                if end - x >= 64:
                    line = fitted(f"{name} {text}", end - x - 14, _SIZE)
                    words.append(Word(round(x + 5), round(top + TITLE + 16), line, "text"))
                else:
                    words.append(Word(round((x + end) / 2), round(top + TITLE + 16), line, "number"))
                continue
            level = _free_level(taken, (x + end) / 2, wide)
            if level is not None:
                words.append(Word(round((x + end) / 2), round(top + TITLE + BAR + 10 + BELOW * level), name, "number"))

    def _deepest(self, lane: Lane) -> int:
        """How many lines of numbers a lane needs below its bars."""
        taken, deepest = [-1e9] * _MOST_BELOW, 0
        for row, _ in lane.rows:
            x, end, wide = row.starts * self.scale, row.ends * self.scale, _wide(row)
            if end - x < wide:
                level = _free_level(taken, (x + end) / 2, wide)
                deepest = max(deepest, 0 if level is None else level + 1)
        return deepest

    def _x(self, at: float, starts: float) -> float:
        return EDGE + (at - starts) * self.scale


def _by_phase(lane: Lane, phase_of: Sequence[int]) -> dict[int, list[tuple[Timed, str]]]:
    found: dict[int, list[tuple[Timed, str]]] = {}
    for row in lane.rows:
        found.setdefault(phase_of[row[0].step], []).append(row)
    return found


def _is_here(row: Timed, starts: float, ends: float, is_last: bool) -> bool:
    """Whether a step is seen in a stretch of its phase; one that takes no time is seen once."""
    if row.ends > row.starts:
        return row.starts < ends - 1e-6 and row.ends > starts + 1e-6
    return starts <= row.starts < ends or (is_last and row.starts >= ends)


def _wide(row: Timed) -> float:
    """The room that the number of a step takes in its box, whose point it must not cover."""
    return _DIGIT * len(str(row.step + 1)) + (6 if row.critical else 0)


def _free_level(taken: list[float], middle: float, wide: float) -> int | None:
    """The first line below the bars with room for a number around a place; None if there is none."""
    for level, until in enumerate(taken):
        if middle - wide / 2 >= until:
            taken[level] = middle + wide / 2 + 3
            return level
    return None


def _outline(x: float, end: float, y: float, critical: bool) -> str:
    """A step: a box; one that can't be put off ends in a point; one that takes no time is a rhombus."""
    if end - x < 1:
        return f"M{round(x)} {round(y + 4)}l6 8l-6 8l-6 -8Z"
    if not critical:
        return f"M{round(x)} {round(y + 3)}H{round(end)}v{round(BAR - 6)}H{round(x)}Z"
    point = min(5.0, (end - x) / 2)
    return (
        f"M{round(x)} {round(y)}H{round(end - point)}L{round(end)} {round(y + BAR / 2)}"
        f"L{round(end - point)} {round(y + BAR)}H{round(x)}Z"
    )
