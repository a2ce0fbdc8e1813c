"""A finished page, and a finished site: plain data that any site generator can take."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from .frame import Frame
from .templating import render

HEAVY = 260_000
"""From so many bytes on, a page is lighter without its picture; the theme adds its own to them."""


@dataclass(frozen=True, slots=True)
class Heading:
    """A place on a page that its table of contents leads to; level 1 is the page's title."""

    text: str
    anchor: str
    level: int


@dataclass(frozen=True, slots=True)
class Page:
    """One finished page.

    ``address`` ends in .html and is relative to the site; ``written_in`` is the file it was drawn from. ``kind`` is
    home, role, team, picture, part, differs, problems, language, rules or about. ``search_weight`` is how much its hits
    count beside those of other pages; 0 keeps it out of the search.
    """

    address: str
    kind: str
    title: str
    html: str
    headings: tuple[Heading, ...]
    in_menu: bool
    search_weight: float
    written_in: str | None = None


@dataclass(frozen=True, slots=True)
class Asset:
    """A file that pages load."""

    address: str
    content: bytes


@dataclass(frozen=True, slots=True)
class Site:
    """All pages, in the order of the menu, and all assets; ``url`` is where it is published, empty if not known."""

    pages: tuple[Page, ...]
    assets: tuple[Asset, ...]
    url: str = ""


def finished(  # noqa: PLR0913 - one argument for each thing a page has
    kind: str,
    address: str,
    title: str,
    frame: Frame,
    values: Mapping[str, object],
    headings: tuple[tuple[str, str], ...],
    *,
    in_menu: bool = True,
    weight: float = 1.0,
    title_shown: str | None = None,
    written_in: str | None = None,
) -> Page:
    """A page filled from the template of its kind."""
    html = render(f"{kind}.html", frame.speech, frame=frame, title=title_shown or title, **values)
    places = (Heading(title_shown or title, "sf_top", 1), *(Heading(text, anchor, 2) for text, anchor in headings))
    return Page(address, kind, title, html, places, in_menu, weight, written_in)
