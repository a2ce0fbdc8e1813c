"""A picture as SVG: numbers are formatted here, text goes through the escaping template."""

from __future__ import annotations

from dataclasses import dataclass

from .diagram_layout import Line, Picture, Shape
from .templating import render

_ARROW = 8.0


@dataclass(frozen=True, slots=True)
class _Drawn:
    look: str
    path: str


def svg(picture: Picture, name: str, title: str, description: str) -> str:
    """The picture as one SVG element; ``name`` must be its own on the page: title and description are found by it."""
    paths = [_Drawn(shape.kind, _outline(shape)) for shape in picture.shapes]
    lines = [_Drawn(line.look, _path(line.points)) for line in picture.lines]
    heads = [_Drawn(line.look, _head(line)) for line in picture.lines if line.arrow and len(line.points) > 1]
    signs = [
        (_number(shape.x + shape.width / 2), _number(shape.y + 14.5))
        for shape in picture.shapes
        if shape.kind == "sign"
    ]
    words = [(_number(word.x), _number(word.y), word) for word in picture.words]
    return render(
        "picture.svg",
        width=_number(picture.width),
        height=_number(picture.height),
        name=name,
        title=title,
        description=description,
        shapes=paths,
        lines=lines,
        heads=heads,
        signs=signs,
        words=words,
    )


def _number(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


def _path(points: tuple[tuple[float, float], ...]) -> str:
    return "M" + "L".join(f"{_number(x)} {_number(y)}" for x, y in points)


def _head(line: Line) -> str:
    (x0, y0), (x, y) = line.points[-2:]
    length = max(abs(x - x0), abs(y - y0)) or 1.0
    dx, dy = (x - x0) / length * _ARROW, (y - y0) / length * _ARROW
    return _path(((x, y), (x - dx - dy / 2, y - dy + dx / 2), (x - dx + dy / 2, y - dy - dx / 2))) + "Z"


def _outline(shape: Shape) -> str:
    x, y, w, h = shape.x, shape.y, shape.width, shape.height
    if shape.kind == "decision":
        return _path(((x + w / 2, y), (x + w, y + h / 2), (x + w / 2, y + h), (x, y + h / 2))) + "Z"
    if shape.kind == "sign":
        return _path(((x + w / 2, y), (x + w, y + h), (x, y + h))) + "Z"
    if shape.kind == "terminal":
        r = _number(h / 2)
        start, end = _number(x + h / 2), _number(x + w - h / 2)
        top, bottom = _number(y), _number(y + h)
        return f"M{start} {top}L{end} {top}A{r} {r} 0 0 1 {end} {bottom}L{start} {bottom}A{r} {r} 0 0 1 {start} {top}Z"
    box = _path(((x, y), (x + w, y), (x + w, y + h), (x, y + h))) + "Z"
    if shape.kind == "part":
        return box + _path(((x + 5, y), (x + 5, y + h))) + _path(((x + w - 5, y), (x + w - 5, y + h)))
    return box
