"""A picture as SVG: numbers are formatted here, text goes through the escaping template."""

from __future__ import annotations

from dataclasses import dataclass

from .diagram_layout import Line, Picture, Shape
from .templating import render

_ARROW = 8.0


@dataclass(frozen=True, slots=True)
class Drawn:
    """A path to draw; ``look`` chooses its style."""

    look: str
    path: str


def svg(picture: Picture, name: str, title: str, description: str) -> str:
    """The picture as one SVG element; ``name`` must be its own on the page: title and description are found by it."""
    edges = [Drawn(shape.kind, outline(shape)) for shape in picture.shapes]
    lines = [Drawn(line.look, path(line.points)) for line in picture.lines]
    heads = [Drawn(line.look, arrow(line)) for line in picture.lines if line.arrow and len(line.points) > 1]
    signs = [
        (number(shape.x + shape.width / 2), number(shape.y + 14.5)) for shape in picture.shapes if shape.kind == "sign"
    ]
    words = [(number(word.x), number(word.y), word) for word in picture.words]
    return render(
        "picture.svg",
        width=number(picture.width),
        height=number(picture.height),
        name=name,
        title=title,
        description=description,
        shapes=edges,
        lines=lines,
        heads=heads,
        signs=signs,
        words=words,
    )


def number(value: float) -> str:
    """A coordinate, to the tenth."""
    return f"{value:.1f}".removesuffix(".0")


def path(points: tuple[tuple[float, float], ...]) -> str:
    """A line through points."""
    return "M" + "L".join(f"{number(x)} {number(y)}" for x, y in points)


def arrow(line: Line) -> str:
    """The head at the end of a line."""
    (x0, y0), (x, y) = line.points[-2:]
    length = max(abs(x - x0), abs(y - y0)) or 1.0
    dx, dy = (x - x0) / length * _ARROW, (y - y0) / length * _ARROW
    return path(((x, y), (x - dx - dy / 2, y - dy + dx / 2), (x - dx + dy / 2, y - dy - dx / 2))) + "Z"


def outline(shape: Shape) -> str:
    """The edge of a shape."""
    x, y, w, h = shape.x, shape.y, shape.width, shape.height
    if shape.kind == "decision":
        return path(((x + w / 2, y), (x + w, y + h / 2), (x + w / 2, y + h), (x, y + h / 2))) + "Z"
    if shape.kind == "sign":
        return path(((x + w / 2, y), (x + w, y + h), (x, y + h))) + "Z"
    if shape.kind == "local":  # a house: what is so in this house alone
        return path(((x + w / 2, y), (x + w, y + h * 0.45), (x + w, y + h), (x, y + h), (x, y + h * 0.45))) + "Z"
    if shape.kind == "terminal":
        r = number(h / 2)
        start, end = number(x + h / 2), number(x + w - h / 2)
        top, bottom = number(y), number(y + h)
        return f"M{start} {top}L{end} {top}A{r} {r} 0 0 1 {end} {bottom}L{start} {bottom}A{r} {r} 0 0 1 {start} {top}Z"
    box = path(((x, y), (x + w, y), (x + w, y + h), (x, y + h))) + "Z"
    if shape.kind == "part":
        return box + path(((x + 5, y), (x + 5, y + h))) + path(((x + w - 5, y), (x + w - 5, y + h)))
    return box
