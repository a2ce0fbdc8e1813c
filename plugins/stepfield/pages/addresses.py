"""Where each page of the site is, and how one leads to another: relatively, so that the site works from a folder."""

from __future__ import annotations

import posixpath
from functools import lru_cache

HOME = "index.html"
PROBLEMS = "problems.html"
LANGUAGE = "language.html"
RULES = "rules.html"
ABOUT = "about.html"
CHANGES = "changes.html"
EVIDENCE = "evidence.html"
EVIDENCE_TABLE = "evidence.csv"
DATES = "dates.html"
CALENDAR = "dates.ics"
PEOPLE = "people.html"
DIFFERS = "differs.html"
SCREENS = "screens/index.html"
PRINT = "print/index.html"
ASSETS = "assets/stepfield"


def team_page(protocol: str) -> str:
    """The page of a whole protocol."""
    return f"protocols/{protocol}.html"


def picture_page(protocol: str) -> str:
    """The page of a whole protocol's picture, where that is too heavy for the page itself; no role can be called so."""
    return f"protocols/{protocol}/whole_picture.html"


def part_page(protocol: str, role: str) -> str:
    """The page of one role's part in a protocol."""
    return f"protocols/{protocol}/{role}.html"


def role_page(role: str) -> str:
    """The page that lists the protocols in which a role takes part."""
    return f"roles/{role}.html"


class Links:
    """Links as they are written on one page."""

    def __init__(self, page: str) -> None:
        self.page = page

    def to(self, page: str, place: str = "") -> str:
        """The link from this page to another, or to a place on it."""
        if page == self.page and place:
            return f"#{place}"
        path = _path(page, posixpath.dirname(self.page) or ".")
        return f"{path}#{place}" if place else path


@lru_cache(maxsize=4096)
def _path(page: str, folder: str) -> str:
    return posixpath.relpath(page, folder)
