"""The flow of a protocol as a picture: lanes for the roles, ISO 5807 shapes for what happens in them.

Terminal (rounded) for start and end, process (rectangle), predefined process (rectangle with double sides) for steps of
a shared part, decision (rhombus) for a question, parallel mode (double bar) where all lanes begin or end together.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ..asepsis import bits
from .diagram_layout import (
    BAR,
    GAP,
    HEAD,
    SIZE,
    TERMINAL,
    Box,
    Content,
    Layout,
    Line,
    Picture,
    Shape,
    Words,
    box_parts,
    columns,
    room_for,
    sizes_for,
)
from .diagram_routes import Routing, route
from .diagram_rows import Placed, place
from .diagram_text import fitted
from .reading import Reading
from .words import in_words, one_of, split


@dataclass(frozen=True, slots=True)
class Band:
    """One phase in the picture of the whole; ``picture`` is None where its steps can't be drawn."""

    number: int
    title: str
    picture: Picture | None


@dataclass(frozen=True, slots=True)
class Whole:
    """All phases below each other, in the same lanes; ``heads`` are the lanes' titles, drawn once."""

    width: float
    heads: Picture
    bands: tuple[Band, ...]


@dataclass(frozen=True, slots=True)
class _Ends:
    """The words of the terminals of one phase: None where the protocol neither starts nor ends."""

    start: str | None
    end: str | None


@dataclass(frozen=True, slots=True)
class _Plan:
    """One phase with its steps in rows and its lines in tracks, before anything has coordinates."""

    placed: tuple[Placed, ...]
    routing: Routing
    contents: Mapping[int, Content]


class _Planner:
    """Plans the phases of one protocol; what concerns its whole order is worked out once."""

    def __init__(self, reading: Reading, lanes: Sequence[str]) -> None:
        self.reading, self.order = reading, reading.examined.order
        self.column = {role: number for number, role in enumerate(lanes)}
        self.titles = [reading.role(role) for role in lanes]
        self.sorted = () if self.order.loops else tuple(self.order.sorted_steps())
        self.ancestors = () if self.order.loops else self.order.ancestors()
        self.last = len(reading.protocol.phases) - 1

    def plan(self, phase: int) -> _Plan | None:
        """One phase, by number from 0; None where it has no order to draw or a step has nobody to do it."""
        steps = [step for step in self.sorted if self.order.phase_of[step] == phase]
        lanes_of = {step: self._lanes(step) for step in steps}
        if not steps or not all(lanes_of.values()):
            return None
        before = {step: self._near(step, phase) for step in steps}
        placed = place(steps, lanes_of, before)
        grid = {at.step: at for at in placed}
        links = [
            (other, step) for step in steps for other in before[step] if not set(lanes_of[other]) & set(lanes_of[step])
        ]
        routing = route(grid, links, _repeats(self.reading, grid), len(self.titles))
        contents = {step: _content(self.reading, step) for step in steps}
        return _Plan(placed, routing, contents)

    def picture(self, plan: _Plan, phase: int, room: Mapping[int, int] | None, top: float) -> Picture:
        """A planned phase with coordinates, from ``top`` down, its gutters as wide as ``room`` says."""
        layout = Layout(self.titles, plan.placed, plan.contents, plan.routing, room)
        say = self.reading.speech.say
        ends = _Ends(say("Start") if phase == 0 else None, say("End") if phase == self.last else None)
        return _picture(layout, ends, top)

    def _lanes(self, step: int) -> tuple[int, ...]:
        """The lanes of all who take part, the owner's first."""
        people = self.reading.people(self.reading.steps[step])
        return tuple(self.column[role] for role in people if role in self.column)

    def _near(self, step: int, phase: int) -> tuple[int, ...]:
        """The steps of the same phase directly before one, without those that come before another of them anyway."""
        near = [other for other in bits(self.order.before[step]) if self.order.phase_of[other] == phase]
        return tuple(other for other in near if not any(self.ancestors[between] >> other & 1 for between in near))


def phase_picture(reading: Reading, phase: int, lanes: Sequence[str]) -> Picture | None:
    """The diagram of one phase (by number from 0) with a lane for each role.

    None where steps wait for each other in a loop or have nobody to do them, because then there is no order to draw.
    """
    planner = _Planner(reading, lanes)
    plan = planner.plan(phase)
    if plan is None:
        return None
    room = room_for([plan.routing])
    found, heads = planner.picture(plan, phase, room, HEAD + 14), _heads(planner.titles, room)
    return Picture(found.width, found.height, heads.shapes + found.shapes, found.lines, heads.words + found.words)


def whole_picture(reading: Reading, lanes: Sequence[str]) -> Whole | None:
    """The diagram of all phases with a lane for each role; None where there is no phase that can be drawn."""
    planner = _Planner(reading, lanes)
    plans = [planner.plan(number) for number in range(planner.last + 1)]
    room = room_for(plan.routing for plan in plans if plan is not None)
    bands = tuple(
        Band(number + 1, phase.title, planner.picture(plan, number, room, 12) if plan is not None else None)
        for number, (phase, plan) in enumerate(zip(reading.protocol.phases, plans, strict=True))
    )
    if all(band.picture is None for band in bands):
        return None
    heads = _heads(planner.titles, room)
    return Whole(heads.width, heads, bands)


def _repeats(reading: Reading, grid: dict[int, Placed]) -> list[tuple[int, int]]:
    found = []
    for step, at in grid.items():
        repeat = reading.steps[step].repeat
        start = reading.index.get(repeat.start.value) if repeat is not None else None
        if start is not None and start in grid and set(grid[start].lanes) & set(at.lanes):
            found.append((step, start))
    return found


def _content(reading: Reading, number: int) -> Content:
    step = reading.steps[number]
    back = step.repeat.answer.value if step.repeat is not None else ""
    answers = [answer.value for answer in step.asks.answers] if step.asks is not None else []
    going_on = [in_words(answer) for answer in answers if answer != back]
    conditions = "; ".join(reading.conditions(step))
    return Content(
        number=number + 1,
        text=split(step.do.value)[0],
        only_if=reading.speech.say("Only if %(condition)s", condition=conditions) if conditions else "",
        question=step.asks.question.value if step.asks is not None else None,
        on=one_of(going_on, reading.speech) if going_on else "",
        back=in_words(back),
        warns=bool(step.cautions),
        shared_part=step.part is not None,
        local=step.id.value in reading.local.steps,
        joins=reading.speech.say("takes part"),
    )


def _picture(layout: Layout, ends: _Ends, top: float) -> Picture:
    shapes: list[Shape] = []
    lines: list[Line] = []
    words: list[Words] = []
    middle = layout.width / 2
    if ends.start is not None:
        shapes.append(Shape("terminal", middle - 50, top, 100, TERMINAL))
        words.append(Words(middle, top + TERMINAL / 2 + 5, ends.start, "text", "middle"))
        lines.append(Line(((middle, top + TERMINAL), (middle, top + TERMINAL + GAP)), "lane"))
        top += TERMINAL + GAP
    lines += _bar(layout, top)
    bottom = layout.stack(top + BAR) + GAP
    for box in sorted(layout.boxes.values(), key=lambda each: each.at.step):
        more_shapes, more_lines, more_words = box_parts(box)
        shapes, lines, words = shapes + more_shapes, lines + more_lines, words + more_words
    lines += _lanes(layout, top + BAR, bottom)
    lines += [layout.line(line) for line in layout.routing.routes]
    lines += _bar(layout, bottom)
    height = bottom + BAR + 4
    if ends.end is not None:
        lines.append(Line(((middle, bottom + BAR), (middle, bottom + BAR + GAP)), "lane"))
        shapes.append(Shape("terminal", middle - 50, bottom + BAR + GAP, 100, TERMINAL))
        words.append(Words(middle, bottom + BAR + GAP + TERMINAL / 2 + 5, ends.end, "text", "middle"))
        height = bottom + BAR + GAP + TERMINAL + 4
    return Picture(layout.width, height, tuple(shapes), tuple(lines), tuple(words), layout.cuts())


def _heads(titles: Sequence[str], room: Mapping[int, int]) -> Picture:
    """The titles of the lanes, side by side as the lanes stand."""
    box = sizes_for(len(titles)).box
    lefts, width = columns(len(titles), room)
    shapes = [Shape("head", left, 2, box, HEAD) for left in lefts]
    words = [
        Words(left + box / 2, HEAD / 2 + 7, fitted(title, box - 16, SIZE + 1), "lane", "middle")
        for left, title in zip(lefts, titles, strict=True)
    ]
    return Picture(width, HEAD + 4, tuple(shapes), (), tuple(words))


def _bar(layout: Layout, y: float) -> list[Line]:
    return [Line(((4, at), (layout.width - 4, at)), "bar", arrow=False) for at in (y, y + BAR)]


def _lanes(layout: Layout, top: float, bottom: float) -> list[Line]:
    """The way of each role from one of its steps to the next."""
    lines = []
    for lane in range(len(layout.lanes)):
        x, y = layout.centre(lane), top
        own = sorted((box for box in layout.boxes.values() if lane in box.at.lanes), key=lambda box: box.at.row)
        for box in own:
            lines.append(Line(((x, y), (x, box.top)), "lane"))
            y = _leaves(box, x)
        lines.append(Line(((x, y), (x, bottom)), "lane" if own else "idle", arrow=bool(own)))
    return lines


def _leaves(box: Box, x: float) -> float:
    """Where a lane's line leaves a box: at its lower edge, beside the question where that is narrower."""
    if box.content.question is None or abs(x - box.middle) < 1:
        return box.bottom
    return box.top + box.rect
