"""What the search has to read of a page: all but what is marked as left out, which is most of it.

Searches read pages tag by tag, slowly; a picture or a table's margin that they would pass over is cut out beforehand.
"""

from __future__ import annotations

import re

_LEFT_OUT = re.compile(r"<(?!h[1-6]\b)([a-z]+)\b[^>]*\sdata-search-exclude\b[^>]*>")
"""A tag that begins what is left out; headings stay, because what follows them belongs to them."""
_IN_A_LINE = re.compile(r"</?(?:span|strong|em|a|q)\b[^>]*>")
"""Tags within a line, which make no difference to what is found."""
_AROUND = re.compile(r"</?(?:div|section|table|tbody|tr|td|dl|dt|dd|details)\b[^>]*>")
"""Tags that hold paragraphs and headings together, which are all that a search keeps; they part words."""


def for_search(html: str) -> str:
    """A finished page of ours without what the search passes over.

    Only for what our own templates write: every tag closed, no ``>`` in an attribute.
    """
    kept, place = [], 0
    while found := _LEFT_OUT.search(html, place):
        kept.append(html[place : found.start()])
        place = element_end(html, found.group(1), found.end())
    kept.append(html[place:])
    return _AROUND.sub("\n", _IN_A_LINE.sub("", "".join(kept)))


def element_end(html: str, tag: str, place: int) -> int:
    """Where an element ends whose first tag ends at a place."""
    depth = 1
    for found in re.compile(rf"<(/?){tag}\b[^>]*>").finditer(html, place):
        depth += -1 if found.group(1) else 1
        if depth == 0:
            return found.end()
    return len(html)
