"""From steps in a grid to a picture with coordinates. Everything is worked out from numbers and the width table."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from .diagram_routes import Route, Routing
from .diagram_rows import Placed
from .diagram_text import fitted, wrapped

MARGIN, TRACK = 14.0, 10.0
SIZE, SMALL, LEADING = 13.0, 11.5, 16.0
HEAD, BAR, TERMINAL, GAP = 34.0, 6.0, 34.0, 26.0
NUMBER_ROOM, SIGN_ROOM, PAD = 34.0, 26.0, 9.0


@dataclass(frozen=True, slots=True)
class Sizes:
    """How wide a lane's boxes are, how high a question is, and how many lines of a step and of a question they hold."""

    box: float
    diamond: float
    lines: int
    question_lines: int

    @property
    def question_room(self) -> float:
        """How wide a question's text may be: at its first and last line the rhombus is half as wide as the box."""
        return self.box * 0.52


def sizes_for(lanes: int) -> Sizes:
    """The more lanes there are, the narrower: so that many can be read on one sheet."""
    if lanes <= 3:
        return Sizes(290.0, 92.0, 4, 3)
    return Sizes(230.0 if lanes == 4 else 195.0, 120.0, 6, 4)


@dataclass(frozen=True, slots=True)
class Content:
    """What stands in the box of a step, before it is broken into lines."""

    number: int
    text: str
    only_if: str
    question: str | None
    on: str
    """The answers that go on, as a label; empty without a question."""
    back: str
    """The answer that repeats, as a label; empty where none does."""
    warns: bool
    shared_part: bool
    joins: str
    """What stands in a box of its own in the lane of a helper."""
    local: bool = False
    """Whether it differs from the shared protocol."""


@dataclass(frozen=True, slots=True)
class Words:
    """One line of text; ``anchor`` is start, middle or end. ``step`` is the step (by number) whose box it stands in."""

    x: float
    y: float
    text: str
    look: str
    anchor: str = "start"
    step: int | None = None


@dataclass(frozen=True, slots=True)
class Shape:
    """A closed shape in its box: terminal, process, part, decision, head, sign or local; ``step`` is whose it is."""

    kind: str
    x: float
    y: float
    width: float
    height: float
    step: int | None = None


@dataclass(frozen=True, slots=True)
class Line:
    """A line through points; ``look`` is lane, after, back, bar or with. ``arrow`` gives the last point a head."""

    points: tuple[tuple[float, float], ...]
    look: str
    arrow: bool = True


@dataclass(frozen=True, slots=True)
class Picture:
    """A finished diagram, as data. At the heights ``cuts`` it may be cut in two without cutting a box."""

    width: float
    height: float
    shapes: tuple[Shape, ...]
    lines: tuple[Line, ...]
    words: tuple[Words, ...]
    cuts: tuple[float, ...] = ()


class Box:
    """The box of one step: its place, its lines, and the points where arrows meet it.

    It stands in neighbouring lanes as one; where a lane between takes no part, the lanes beyond have a box of their
    own, and ``body`` is the owner's, with the text. ``middle`` is the middle of its middle lane (of the gutter between
    the two middle ones), so that the way of a lane passes beside a question or leaves from its tip.
    """

    def __init__(self, at: Placed, content: Content, lefts: Sequence[float], sizes: Sizes) -> None:
        self.at, self.content, self.sizes = at, content, sizes
        self.runs = [(lefts[first], lefts[last] + sizes.box) for first, last in at.boxes]
        first, last = at.body
        self.body = lefts[first], lefts[last] + sizes.box
        self.middle = (lefts[(first + last) // 2] + lefts[(first + last + 1) // 2] + sizes.box) / 2
        self.indent = NUMBER_ROOM if content.number < 100 else NUMBER_ROOM + 10
        room = self.body[1] - self.body[0] - self.indent - PAD - SIGN_ROOM * (content.warns + content.local)
        self.conditions = wrapped(content.only_if, room, SMALL, 2) if content.only_if else ()
        self.lines = wrapped(content.text, room, SIZE, sizes.lines)
        self.rect = max(42.0, 2 * PAD + LEADING * (len(self.conditions) + len(self.lines)))
        self.height = self.rect + (GAP - 8 + sizes.diamond if content.question is not None else 0)
        self.top = 0.0

    @property
    def bottom(self) -> float:
        """The lower edge, of the question if there is one."""
        return self.top + self.height

    @property
    def exit_y(self) -> float:
        """Where arrows leave at the side: the corner of the question, or low on the box."""
        return self.bottom - self.sizes.diamond / 2 if self.content.question is not None else self.top + self.rect - 12

    def entry_y(self, count: int) -> float:
        """Where an arrow comes in from the side, after so many others."""
        return self.top + min(13.0 + 9 * count, self.rect - 6)

    def side(self, gutter: int) -> float:
        """The edge that faces a gutter."""
        left, right = self.body
        return left if gutter <= self.at.owner else right

    def exit_x(self, gutter: int) -> float:
        """Where arrows towards a gutter leave: at the edge, or at the corner of the question."""
        if self.content.question is None:
            return self.side(gutter)
        return self.middle + (self.sizes.box / 2 if gutter > self.at.owner else -self.sizes.box / 2)


class Layout:
    """Columns, rows and boxes of one phase. ``room`` tells for how many tracks a gutter is wide, if not for its own."""

    def __init__(
        self,
        lanes: Sequence[str],
        placed: Sequence[Placed],
        contents: Mapping[int, Content],
        routing: Routing,
        room: Mapping[int, int] | None = None,
    ) -> None:
        self.lanes, self.routing, self.sizes = lanes, routing, sizes_for(len(lanes))
        self.room = room if room is not None else room_for([routing])
        self.lefts, self.width = columns(len(lanes), self.room)
        self.entries: Counter[tuple[int, int]] = Counter()
        self.boxes = {at.step: Box(at, contents[at.step], self.lefts, self.sizes) for at in placed}

    def gutter_width(self, gutter: int) -> float:
        """How wide a gutter must be for its tracks."""
        return _gutter_width(gutter, len(self.lanes), self.room)

    def track_x(self, gutter: int, group: object) -> float:
        """The place of a track in its gutter."""
        given, count = self.routing.gutters[gutter]
        start = (
            self.lefts[gutter] - self.gutter_width(gutter)
            if gutter < len(self.lanes)
            else self.lefts[-1] + self.sizes.box
        )
        return start + self.gutter_width(gutter) / 2 + (given[group] - (count - 1) / 2) * TRACK

    def stack(self, top: float) -> float:
        """Gives every row its height, from ``top`` down; the lower edge of the last one."""
        rows: dict[int, list[Box]] = {}
        for box in self.boxes.values():
            rows.setdefault(box.at.row, []).append(box)
        self.gap_tops: dict[int, float] = {}
        for row in sorted(rows):
            self.gap_tops[row] = top
            top += GAP + TRACK * self.routing.gaps.get(row, ({}, 0))[1]
            for box in rows[row]:
                box.top = top
            top += max(box.height for box in rows[row])
        return top

    def cuts(self) -> tuple[float, ...]:
        """Heights between two rows, below the labels of the upper one and above the lines that run across."""
        return tuple(top + 7 for row, top in sorted(self.gap_tops.items()) if row)

    def centre(self, lane: int) -> float:
        """The middle of a lane."""
        return self.lefts[lane] + self.sizes.box / 2

    def line(self, route: Route) -> Line:
        """The points of a route."""
        source, target = self.boxes[route.source], self.boxes[route.target]
        xs = [self.track_x(gutter, group) for gutter, group in zip(route.gutters, route.groups, strict=True)]
        across = [self._gap_y(row, group) for row, group in zip(route.gaps, route.groups[1:], strict=True)]
        ys = [source.exit_y, *across, self._entry_y(target, route.gutters[-1])]
        points = [(source.exit_x(route.gutters[0]), ys[0])]
        for x, (start, end) in zip(xs, pairwise(ys), strict=True):
            points += [(x, start), (x, end)]
        points.append((target.side(route.gutters[-1]), ys[-1]))
        return Line(tuple(points), "back" if route.back else "after")

    def _entry_y(self, target: Box, gutter: int) -> float:
        """Where the next arrow from a gutter comes in: at a height of its own, even where boxes face each other."""
        place = (target.at.row, gutter)
        self.entries[place] += 1
        return target.entry_y(self.entries[place] - 1)

    def _gap_y(self, row: int, group: object) -> float:
        """The height at which lines of a group cross above a row."""
        given, _ = self.routing.gaps[row]
        return self.gap_tops[row] + 8 + given[group] * TRACK


def columns(lanes: int, room: Mapping[int, int]) -> tuple[list[float], float]:
    """The left edges of so many lanes, with gutters wide enough for their tracks; and how wide all is."""
    lefts, x = [], 0.0
    for lane in range(lanes):
        x += _gutter_width(lane, lanes, room)
        lefts.append(x)
        x += sizes_for(lanes).box
    return lefts, x + _gutter_width(lanes, lanes, room)


def _gutter_width(gutter: int, lanes: int, room: Mapping[int, int]) -> float:
    count = room.get(gutter, 0)
    return (MARGIN if gutter in (0, lanes) else 2 * MARGIN) + TRACK * count + (8 if count else 0)


def room_for(routings: Iterable[Routing]) -> dict[int, int]:
    """How many tracks each gutter needs so that all of these routings find room in it."""
    room: dict[int, int] = {}
    for routing in routings:
        for gutter, (_, count) in routing.gutters.items():
            room[gutter] = max(count, room.get(gutter, 0))
    return room


def box_parts(box: Box) -> tuple[list[Shape], list[Line], list[Words]]:
    """The shapes, lines and words of one step's box."""
    content, (left, right) = box.content, box.body
    kind = "part" if content.shared_part else "process"
    shapes = [Shape(kind, one, box.top, other - one, box.rect) for one, other in box.runs]
    words = [
        Words(one + box.indent - 7, box.top + PAD + 11, str(content.number), "number", "end") for one, _ in box.runs
    ]
    lines = [
        Line(((end, y), (start, y)), "with", arrow=False)
        for (_, end), (start, _) in zip(box.runs, box.runs[1:], strict=False)
        for y in (box.top + box.rect / 2 - 2, box.top + box.rect / 2 + 2)
    ]
    y = box.top + PAD + 11
    for text in box.conditions:
        words.append(Words(left + box.indent, y, text, "only"))
        y += LEADING
    for text in box.lines:
        words.append(Words(left + box.indent, y, text, "text"))
        y += LEADING
    if content.warns:
        shapes.append(Shape("sign", right - SIGN_ROOM + 2, box.top + 5, 19, 17))
    if content.local:
        x = right - SIGN_ROOM * (2 if content.warns else 1) + 2
        shapes.append(Shape("local", x, box.top + 4, 19, 19))
        words.append(Words(x + 9.5, box.top + 19.5, "≠", "local", "middle"))
    words += [
        Words(
            one + box.indent, box.top + PAD + 11, fitted(content.joins, box.sizes.box - box.indent - PAD, SMALL), "only"
        )
        for one, _ in box.runs
        if one != left
    ]
    if content.question is not None:
        _question(box, content.question, shapes, lines, words)
    step = box.at.step
    return [replace(one, step=step) for one in shapes], lines, [replace(one, step=step) for one in words]


def _question(box: Box, question: str, shapes: list[Shape], lines: list[Line], words: list[Words]) -> None:
    sizes = box.sizes
    middle, top, width = box.middle, box.bottom - sizes.diamond, sizes.box
    lines.append(Line(((middle, box.top + box.rect), (middle, top)), "lane"))
    shapes.append(Shape("decision", middle - width / 2, top, width, sizes.diamond))
    text = wrapped(question, sizes.question_room, SMALL, sizes.question_lines)
    y = box.exit_y + 4 - (len(text) - 1) * 7
    for number, line in enumerate(text):
        words.append(Words(middle, y + 14 * number, line, "small", "middle"))
    if box.content.back:
        words.append(
            Words(middle - width / 2 + 1, box.exit_y - 24, fitted(box.content.back, width / 3, SMALL), "answer")
        )
    words.append(Words(middle + 34, box.bottom + 3, fitted(box.content.on, width / 2 - 34, SMALL), "answer"))
