"""The flow of one phase as a picture: lanes for the roles, ISO 5807 shapes for what happens in them.

Terminal (rounded) for start and end, process (rectangle), predefined process (rectangle with double sides) for steps of
a shared part, decision (rhombus) for a question, parallel mode (double bar) where all lanes begin or end together.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ..asepsis import bits
from .diagram_layout import BAR, GAP, HEAD, SIZE, TERMINAL, Box, Content, Layout, Line, Picture, Shape, Words, box_parts
from .diagram_routes import route
from .diagram_rows import Placed, place
from .diagram_text import fitted
from .reading import Reading
from .words import in_words, one_of, split


@dataclass(frozen=True, slots=True)
class _Ends:
    is_first: bool
    is_last: bool


def phase_picture(reading: Reading, phase: int, lanes: Sequence[str]) -> Picture | None:
    """The diagram of one phase (by number from 0) with a lane for each role.

    None where steps wait for each other in a loop or have nobody to do them, because then there is no order to draw.
    """
    order = reading.examined.order
    if order.loops:
        return None
    column = {role: number for number, role in enumerate(lanes)}
    steps = [step for step in order.sorted_steps() if order.phase_of[step] == phase]
    lanes_of = {
        step: tuple(sorted(column[role] for role in reading.people(reading.steps[step]) if role in column))
        for step in steps
    }
    if not steps or not all(lanes_of.values()):
        return None
    ancestors = order.ancestors()
    before = {step: _near(step, phase, order.before, order.phase_of, ancestors) for step in steps}
    placed = place(steps, lanes_of, before)
    grid = {at.step: at for at in placed}
    links = [
        (other, step) for step in steps for other in before[step] if not set(lanes_of[other]) & set(lanes_of[step])
    ]
    routing = route(grid, links, _repeats(reading, grid))
    contents = {step: _content(reading, step, lanes_of[step], column) for step in steps}
    titles = [reading.role(role) for role in lanes]
    layout = Layout(titles, placed, contents, routing)
    return _picture(layout, _Ends(phase == 0, phase == len(reading.protocol.phases) - 1))


def _near(
    step: int, phase: int, before: Sequence[int], phase_of: Sequence[int], ancestors: Sequence[int]
) -> tuple[int, ...]:
    """The steps of the same phase directly before one, without those that come before another of them anyway."""
    near = [other for other in bits(before[step]) if phase_of[other] == phase]
    return tuple(other for other in near if not any(ancestors[between] >> other & 1 for between in near))


def _repeats(reading: Reading, grid: dict[int, Placed]) -> list[tuple[int, int]]:
    found = []
    for step, at in grid.items():
        repeat = reading.steps[step].repeat
        start = reading.index.get(repeat.start.value) if repeat is not None else None
        if start is not None and start in grid and set(grid[start].lanes) & set(at.lanes):
            found.append((step, start))
    return found


def _content(reading: Reading, number: int, lanes: tuple[int, ...], column: Mapping[str, int]) -> Content:
    step = reading.steps[number]
    back = step.repeat.answer.value if step.repeat is not None else ""
    answers = [answer.value for answer in step.asks.answers] if step.asks is not None else []
    going_on = [in_words(answer) for answer in answers if answer != back]
    return Content(
        number=number + 1,
        lane=column.get(step.role.value, lanes[0]) if step.role is not None else lanes[0],
        text=split(step.do.value)[0],
        only_if="; ".join(reading.conditions(step)),
        question=step.asks.question.value if step.asks is not None else None,
        on=one_of(going_on) if going_on else "",
        back=in_words(back),
        warns=bool(step.cautions),
        shared_part=step.part is not None,
    )


def _picture(layout: Layout, ends: _Ends) -> Picture:
    shapes, lines, words = _heads(layout)
    top = HEAD + 14
    middle = layout.width / 2
    if ends.is_first:
        shapes.append(Shape("terminal", middle - 50, top, 100, TERMINAL))
        words.append(Words(middle, top + TERMINAL / 2 + 5, "Start", "text", "middle"))
        lines.append(Line(((middle, top + TERMINAL), (middle, top + TERMINAL + GAP)), "lane"))
        top += TERMINAL + GAP
    lines += _bar(layout, top)
    bottom = layout.stack(top + BAR) + GAP
    for box in layout.boxes.values():
        more_shapes, more_lines, more_words = box_parts(box)
        shapes, lines, words = shapes + more_shapes, lines + more_lines, words + more_words
    lines += _lanes(layout, top + BAR, bottom)
    lines += [layout.line(line) for line in layout.routing.routes]
    lines += _bar(layout, bottom)
    height = bottom + BAR + 4
    if ends.is_last:
        lines.append(Line(((middle, bottom + BAR), (middle, bottom + BAR + GAP)), "lane"))
        shapes.append(Shape("terminal", middle - 50, bottom + BAR + GAP, 100, TERMINAL))
        words.append(Words(middle, bottom + BAR + GAP + TERMINAL / 2 + 5, "End", "text", "middle"))
        height = bottom + BAR + GAP + TERMINAL + 4
    return Picture(layout.width, height, tuple(shapes), tuple(lines), tuple(words))


def _heads(layout: Layout) -> tuple[list[Shape], list[Line], list[Words]]:
    shapes, words = [], []
    for left, title in zip(layout.lefts, layout.lanes, strict=True):
        width = layout.centre(0) - layout.lefts[0]
        shapes.append(Shape("head", left, 2, 2 * width, HEAD))
        words.append(Words(left + width, HEAD / 2 + 7, fitted(title, 2 * width - 16, SIZE + 1), "lane", "middle"))
    return shapes, [], words


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
