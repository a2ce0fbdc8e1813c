"""The picture of a whole protocol as SVG, and windows on it: parts of it small enough for a sheet or a phone.

The windows draw nothing anew, they show what the whole has drawn; so a page carries each step's box once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from .diagram import Band, Whole
from .diagram_layout import HEAD, Picture, Shape, Words
from .diagram_svg import Drawn, arrow, number, outline, path
from .diagram_text import fitted
from .templating import render

BAND_HEAD, HEADS, TITLE = 38.0, HEAD + 8, 16.0
SHEET_WIDTH, SHEET_HEIGHT = 1010.0, 560.0
"""What a sheet of A4 across has room for beside its margins, a heading and its foot, in CSS pixels (1/96 inch)."""


@dataclass(frozen=True, slots=True)
class Node:
    """The box of one step as a link: where it leads, who does the step, its shapes, signs and lines of text."""

    href: str
    who: str
    shapes: tuple[Drawn, ...]
    signs: tuple[tuple[str, str], ...]
    words: tuple[tuple[str, str, Words], ...]


@dataclass(frozen=True, slots=True)
class Drawing:
    """Lines and their heads (one path of each look), shapes, words; ``nodes`` in the order of the steps."""

    lines: tuple[tuple[str, str], ...]
    heads: tuple[tuple[str, str], ...]
    shapes: tuple[Drawn, ...]
    words: tuple[tuple[str, str, Words], ...]
    nodes: tuple[Node, ...]


@dataclass(frozen=True, slots=True)
class _Band:
    number: int
    top: str
    height: str
    title: str
    label: str
    drawing: Drawing | None


def windows(band: Band, width: float) -> tuple[tuple[float, float], ...]:
    """The stretches of a phase's picture, from height to height, that each fit a sheet; no box is cut."""
    if band.picture is None:
        return ()
    most = SHEET_HEIGHT * max(1.0, width / SHEET_WIDTH) - HEADS
    found, start, last = [], 0.0, 0.0
    for cut in (*band.picture.cuts, band.picture.height):
        if cut - start > most and last > start:
            found.append((start, last))
            start = last
        last = cut
    return (*found, (start, band.picture.height))


def whole_svg(
    whole: Whole,
    title: str,
    text: str,
    band_name: Callable[[int, str], str],
    link: Callable[[int], tuple[str, str]],
    refused: str,
) -> str:
    """The whole as one SVG element, which may stand on a page once.

    ``band_name`` says a phase's number and title in words, ``link`` gives for a step (by number) where it leads and
    who does it; ``refused`` stands in the band of a phase that can't be drawn.
    """
    y, bands = 0.0, []
    for band in whole.bands:
        height = BAND_HEAD + (HEADS + band.picture.height if band.picture is not None else BAND_HEAD) + 10
        name = band_name(band.number, band.title)
        drawn = drawing(band.picture, link) if band.picture is not None else None
        title_line = fitted(name, whole.width - 40, TITLE)
        bands.append(_Band(band.number, number(y), number(height), title_line, name, drawn))
        y += height
    return render(
        "whole.svg",
        width=number(whole.width),
        height=number(y),
        title=title,
        description=text,
        heads=drawing(whole.heads, link),
        bands=bands,
        inner=number(BAND_HEAD + HEADS),
        heads_top=number(BAND_HEAD),
        refused=fitted(refused, whole.width - 40, 13),
    )


def window_svg(whole: Whole, band: Band, window: tuple[float, float]) -> str:
    """A window on one phase of the whole that stands on the same page, with the lanes' titles above it."""
    top, bottom = window
    return render(
        "window.svg",
        width=number(whole.width),
        height=number(HEADS + bottom - top),
        band=band.number,
        heads_height=number(HEADS),
        top=number(top),
        inner=number(bottom - top),
    )


def drawing(picture: Picture, link: Callable[[int], tuple[str, str]]) -> Drawing:
    """A picture taken apart: what belongs to a step goes into its node, the rest lies under the nodes."""
    return Drawing(
        lines=_joined((line.look, path(line.points)) for line in picture.lines),
        heads=_joined((line.look, arrow(line)) for line in picture.lines if line.arrow and len(line.points) > 1),
        shapes=tuple(Drawn(shape.kind, outline(shape)) for shape in picture.shapes if shape.step is None),
        words=tuple(_placed(word) for word in picture.words if word.step is None),
        nodes=tuple(_node(*part, *link(step)) for step, part in sorted(_by_step(picture).items())),
    )


def _joined(paths: Iterable[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
    """All paths of one look as one, the looks in the order in which they first come."""
    found: dict[str, list[str]] = {}
    for look, one in paths:
        found.setdefault(look, []).append(one)
    return tuple((look, "".join(ones)) for look, ones in found.items())


def _by_step(picture: Picture) -> dict[int, tuple[list[Shape], list[Words]]]:
    parts: dict[int, tuple[list[Shape], list[Words]]] = {}
    for shape in picture.shapes:
        if shape.step is not None:
            parts.setdefault(shape.step, ([], []))[0].append(shape)
    for word in picture.words:
        if word.step is not None:
            parts.setdefault(word.step, ([], []))[1].append(word)
    return parts


def _node(shapes: list[Shape], words: list[Words], href: str, who: str) -> Node:
    return Node(
        href=href,
        who=who,
        shapes=tuple(Drawn(shape.kind, outline(shape)) for shape in shapes),
        signs=tuple(
            (number(shape.x + shape.width / 2), number(shape.y + 14.5)) for shape in shapes if shape.kind == "sign"
        ),
        words=tuple(_placed(word) for word in words),
    )


def _placed(word: Words) -> tuple[str, str, Words]:
    return number(word.x), number(word.y), word
