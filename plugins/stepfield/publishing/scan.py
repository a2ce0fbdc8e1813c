"""What a published page names: its own places, where its links lead, and what a browser loads with it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser

_RELATIONS = frozenset({"alternate", "author", "canonical", "help", "license", "me", "next", "prev", "search", "tag"})
"""Relations of a link in a page's head that a browser follows only if asked to."""
_LOADING = {
    "action": ("form",),
    "background": ("body", "table", "td", "th"),
    "data": ("object",),
    "formaction": ("button", "input"),
    "poster": ("video",),
    "src": ("audio", "embed", "frame", "iframe", "img", "input", "script", "source", "track", "video"),
    "href": ("image", "feimage", "use", "pattern", "lineargradient", "radialgradient", "textpath", "mpath", "base"),
    "ping": ("a", "area"),
}
"""Attributes by which a tag makes a browser ask for something."""
_IN_CSS = re.compile(
    r"""url\(\s*(?:"([^"]*)"|'([^']*)'|([^)"'\s]*))\s*\)|@import\s+(?:"([^"]*)"|'([^']*)')""", re.IGNORECASE
)
_END = re.compile(r"</html\s*>\s*(?:<!--[^>]*-->\s*)*\Z", re.IGNORECASE)
_COMMENT = re.compile(r"/\*.*?\*/", re.DOTALL)


@dataclass(slots=True)
class Named:
    """What a file names: ``places`` are its anchors; ``links`` wait for a reader; ``loads`` happen by themselves."""

    places: set[str] = field(default_factory=set)
    links: list[str] = field(default_factory=list)
    loads: list[str] = field(default_factory=list)
    builds: set[str] = field(default_factory=set)
    whole: bool = True


def named_in_page(text: str) -> Named:
    """What an HTML page or an SVG picture names. ``whole`` is false where an HTML page breaks off."""
    reader = _Reader()
    reader.feed(text)
    reader.close()
    reader.found.whole = "<html" not in text[:2000].lower() or _END.search(text) is not None
    return reader.found


def named_in_style(text: str) -> Iterator[str]:
    """What a style sheet loads."""
    for found in _IN_CSS.finditer(_COMMENT.sub(" ", text)):
        yield next((value for value in found.groups() if value is not None), "")


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.found = Named()
        self.style = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = {name.removeprefix("xlink:"): value or "" for name, value in attrs}
        self.style = tag == "style"
        if "id" in said:
            self.found.places.add(said["id"])
        if tag == "a" and "name" in said:
            self.found.places.add(said["name"])
        if "style" in said:
            self.found.loads += named_in_style(said["style"])
        if tag in ("a", "area") and "href" in said:
            self.found.links.append(said["href"])
        if tag == "html" and "data-build" in said:
            self.found.builds.add(said["data-build"])
        self.found.loads += _loaded(tag, said)

    def handle_endtag(self, tag: str) -> None:
        self.style = self.style and tag != "style"

    def handle_data(self, data: str) -> None:
        if self.style:
            self.found.loads += named_in_style(data)


def _loaded(tag: str, said: dict[str, str]) -> Iterator[str]:
    for name, tags in _LOADING.items():
        if tag in tags and name in said:
            yield said[name]
    for part in said.get("srcset", "").split(",") + said.get("imagesrcset", "").split(","):
        if part.strip():
            yield part.split()[0]
    if tag == "link" and "href" in said and not set(said.get("rel", "").lower().split()) <= _RELATIONS:
        yield said["href"]
    if tag == "meta" and said.get("http-equiv", "").lower() == "refresh":
        yield said.get("content", "").partition("=")[2].strip("'\" ")
    if tag == "iframe" and "srcdoc" in said:
        yield from named_in_page(said["srcdoc"]).loads
