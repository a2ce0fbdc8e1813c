"""A finished page as a tree of its elements. Only for what our own templates write: every element is closed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser

_VOID = frozenset(
    {"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"}
)


@dataclass(slots=True)
class Element:
    """An element of a page: what stands in it are elements and text, in order."""

    tag: str
    said: dict[str, str]
    parts: list[Element | str] = field(default_factory=list)

    @property
    def looks(self) -> list[str]:
        """Its classes."""
        return self.said.get("class", "").split()

    @property
    def elements(self) -> Iterator[Element]:
        """The elements right inside."""
        return (part for part in self.parts if isinstance(part, Element))

    def all(self) -> Iterator[Element]:
        """Every element inside, in the order of the page."""
        for part in self.elements:
            yield part
            yield from part.all()

    @property
    def text(self) -> str:
        """All text inside, with single spaces."""
        return " ".join("".join(self._texts()).split())

    def _texts(self) -> Iterator[str]:
        for part in self.parts:
            if isinstance(part, str):
                yield part
            else:
                yield from part._texts()


def tree_of(html: str) -> Element:
    """The tree of a page; its root has no tag."""
    reader = _Reader()
    reader.feed(html)
    reader.close()
    return reader.open[0]


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.open = [Element("", {})]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        element = Element(tag, {name: value or "" for name, value in attrs})
        self.open[-1].parts.append(element)
        if tag not in _VOID:
            self.open.append(element)

    def handle_endtag(self, tag: str) -> None:
        if tag in (element.tag for element in self.open[1:]):
            while self.open.pop().tag != tag:
                pass

    def handle_data(self, data: str) -> None:
        self.open[-1].parts.append(data)
