"""The plot: time above, memory below, one column for each number that grows. Plain SVG, written by hand."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from itertools import groupby
from xml.sax.saxutils import escape

from .contest import Outcome

Value = Callable[[Outcome], float]
WIDTH, HEIGHT, LEFT, TOP, GAP, BAND = 230, 170, 64, 64, 24, 58
"""Of one panel, and around it."""
TIMES: list[tuple[str, Value]] = [
    ("ours", lambda one: one.ours),
    ("ours, every order (to 50,000 states)", lambda one: one.unreduced.read + one.unreduced.prove),
    ("SPIN, with its preparation", lambda one: one.theirs),
    ("SPIN, search alone", lambda one: one.spin.search),
]
MEMORIES: list[tuple[str, Value]] = [
    ("ours", lambda one: one.reduced.megabytes),
    ("ours, every order (to 50,000 states)", lambda one: one.unreduced.megabytes),
    ("SPIN, with its preparation", lambda one: one.spin.megabytes),
]
DASHES = {
    "ours": "",
    "ours, every order (to 50,000 states)": "2 4",
    "SPIN, with its preparation": "8 4",
    "SPIN, search alone": "10 3 2 3",
}
STYLE = """
text { font: 12px sans-serif; fill: #1b1b1b } .big { font-size: 15px; font-weight: bold } .axis, .grid { fill: none }
.axis { stroke: #1b1b1b } .grid { stroke: #d5d5d5 } path.line { fill: none; stroke-width: 2 } rect.paper { fill: #fff }
.s0 { stroke: #005a9c } .s1 { stroke: #6b9fc7 } .s2 { stroke: #b23c17 } .s3 { stroke: #d38a2c }
""".strip()


def svg(measured: list[Outcome]) -> str:
    """The picture, from the cases in which one number grows."""
    groups = [
        (group.removeprefix("growing "), list(those))
        for group, those in groupby(measured, key=lambda one: one.case.group)
        if group.startswith("growing ")
    ]
    width = LEFT + len(groups) * (WIDTH + GAP) + GAP
    height = TOP + 2 * (HEIGHT + BAND) + 8
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" height="{height}"',
        ' role="img" aria-labelledby="title what">',
        '<title id="title">Time and memory as protocols grow</title>',
        f'<desc id="what">{escape(_told(groups))}</desc>',
        f"<style>{STYLE}</style>",
        f'<rect class="paper" width="{width}" height="{height}"/>',
        *_legend(),
    ]
    for row, (unit, series) in enumerate((("seconds", TIMES), ("megabytes", MEMORIES))):
        top = TOP + row * (HEIGHT + BAND)
        values = [value(one) for _, those in groups for one in those for _, value in series]
        scale = _Scale(min(values), max(values), top)
        lines += _left_axis(scale, unit, width)
        for column, (axis, those) in enumerate(groups):
            lines += _panel(LEFT + column * (WIDTH + GAP), axis, those, series, scale)
    return "\n".join([*lines, "</svg>"]) + "\n"


class _Scale:
    """A logarithmic scale over whole powers of ten."""

    def __init__(self, least: float, most: float, top: int) -> None:
        self.first, self.last, self.top = math.floor(math.log10(least)), math.ceil(math.log10(most)), top

    def at(self, value: float) -> float:
        share = (math.log10(value) - self.first) / (self.last - self.first)
        return self.top + HEIGHT * (1 - share)


def _told(groups: list[tuple[str, list[Outcome]]]) -> str:
    parts = []
    for axis, those in groups:
        first, last = those[0], those[-1]
        parts.append(
            f"{axis} from {first.case.along} to {last.case.along}: ours {first.ours:.2f} to {last.ours:.2f} seconds, "
            f"SPIN with its preparation {first.theirs:.2f} to {last.theirs:.2f} seconds."
        )
    return " ".join(parts) + " The same figures stand in the tables of results.md."


def _legend() -> Iterator[str]:
    at = LEFT
    yield f'<text class="big" x="{LEFT}" y="22">Time and memory as protocols grow (logarithmic)</text>'
    for number, (name, dash) in enumerate(DASHES.items()):
        yield f'<path class="line s{number}" stroke-dasharray="{dash}" d="M{at} 42h34"/>'
        yield f'<text x="{at + 42}" y="46">{escape(name)}</text>'
        at += 64 + 7 * len(name)


def _left_axis(scale: _Scale, unit: str, width: int) -> Iterator[str]:
    for power in range(scale.first, scale.last + 1):
        y = scale.at(10.0**power)
        yield f'<path class="grid" d="M{LEFT} {y:.1f}H{width - 2 * GAP}"/>'
        yield f'<text x="{LEFT - 8}" y="{y + 4:.1f}" text-anchor="end">{10.0**power:g}</text>'
    middle = scale.top + HEIGHT / 2
    yield f'<text x="16" y="{middle}" transform="rotate(-90 16 {middle})" text-anchor="middle">{unit}</text>'


def _panel(left: int, axis: str, those: list[Outcome], series: list[tuple[str, Value]], scale: _Scale) -> Iterator[str]:
    least, most = those[0].case.along, those[-1].case.along
    places = [left + 8 + (WIDTH - 16) * (one.case.along - least) / max(1, most - least) for one in those]
    bottom = scale.top + HEIGHT
    yield f'<path class="axis" d="M{left} {scale.top}V{bottom}H{left + WIDTH}"/>'
    for place, one in zip(places, those, strict=True):
        yield f'<text x="{place:.1f}" y="{bottom + 16}" text-anchor="middle">{one.case.along}</text>'
    yield f'<text x="{left + WIDTH / 2}" y="{bottom + 34}" text-anchor="middle">{escape(axis)}</text>'
    for number, (name, value) in enumerate(series):
        points = [f"{place:.1f} {scale.at(value(one)):.1f}" for place, one in zip(places, those, strict=True)]
        yield f'<path class="line s{number}" stroke-dasharray="{DASHES[name]}" d="M{"L".join(points)}"/>'
