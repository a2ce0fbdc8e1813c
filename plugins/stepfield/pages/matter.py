"""The settings that stand before a page's text, for generators that read them there."""

from __future__ import annotations

import html
import json
import re
from typing import Any

from .page import Page, Site

_WIDE = ("home", "role", "team", "picture", "part")
"""Kinds of page that need the room of the menu for themselves."""
MOST_IN_MENU = 24
"""So many protocols are listed in the menu; every page of a site would carry the list of more."""


def source(page: Page) -> str:
    """The name under which a page stands among hand-written ones."""
    return page.address.removesuffix(".html") + ".md"


def front_matter(page: Page) -> str:
    """Title, place and weight in the search, as YAML between two lines of dashes.

    JSON is YAML, once every sign is escaped that YAML would read differently. Themes write titles into their pages as
    they are, so here they are escaped for HTML.
    """
    values = {
        "title": html.escape(page.title),
        "hide": ["navigation", "toc"] if page.kind in _WIDE else [],
        "search": {"boost": page.search_weight} if page.search_weight else {"exclude": True},
    }
    text = json.dumps(values, ensure_ascii=False)
    text = re.sub("[\x7f-\uffff]", lambda sign: f"\\u{ord(sign.group()):04x}", text)
    return f"---\n{text}\n---\n"


def contents_entries(page: Page) -> list[dict[str, Any]]:
    """The table of contents of a page, as Markdown readers hand it over: the title, with all places below it."""
    first, *rest = [
        {"level": heading.level, "id": heading.anchor, "name": html.escape(heading.text), "children": []}
        for heading in page.headings
    ]
    return [{**first, "children": rest}]


def in_menu(site: Site) -> tuple[Page, ...]:
    """The pages of the menu, which stands on every page: without the protocols where they are too many to choose from.

    They are chosen on the home page and on the pages of the roles.
    """
    listed = tuple(page for page in site.pages if page.in_menu)
    few = sum(page.kind == "team" for page in listed) <= MOST_IN_MENU
    return tuple(page for page in listed if few or page.kind != "team")
