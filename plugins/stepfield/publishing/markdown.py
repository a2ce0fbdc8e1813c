"""Writes a finished page as plain Markdown, such as every site generator reads: no extension but tables is needed.

Text of a protocol stays text: every sign that some dialect of Markdown would take as its own is written as a number.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from .tree import Element

_LEFT_OUT = frozenset({"svg", "script", "style", "button", "input", "select", "template", "colgroup"})
_BLOCKS = frozenset(
    {"address", "article", "aside", "blockquote", "details", "div", "dl", "dd", "dt", "figcaption", "figure", "footer"}
    | {"form", "h1", "h2", "h3", "h4", "h5", "h6", "header", "li", "main", "nav", "ol", "p", "pre", "section"}
    | {"summary", "table", "ul"}
)
_STRONG, _STRESSED = frozenset({"strong", "b", "summary"}), frozenset({"em", "i"})
_SIGNS = re.compile(r"[\\`*_{}\[\]<>|~$^&]|(?<=([=+:%!?\-@]))\1")
_FIRST = re.compile(r"^(\s*)([#+\-=:]|\d{1,9}(?=[.)](?:\s|$)))")


def escaped(text: str) -> str:
    """Text as Markdown in which nothing but the text is read, wherever it does not begin a line."""
    return _SIGNS.sub(lambda sign: f"&#{ord(sign.group())};", text)


def code(text: str) -> str:
    """Text as code within a line."""
    text = " ".join(text.split())
    most = max((len(run) for run in re.findall("`+", text)), default=0)
    fence = "`" * (most + 1)
    return f"{fence} {text} {fence}" if most or not text else f"{fence}{text}{fence}"


@dataclass(slots=True)
class Writer:
    """Writes one page. ``lead`` turns a link of the page into one of the Markdown file."""

    lead: Callable[[str], str]

    def page(self, root: Element) -> str:
        """The whole page."""
        return "\n\n".join(self.blocks(root)) + "\n"

    def blocks(self, element: Element) -> Iterator[str]:
        """The blocks inside an element; text between them is a paragraph."""
        run: list[Element | str] = []
        anchor = _anchor(element)
        if anchor and element.tag not in ("li", "dt", "td"):
            yield anchor
        for part in (*element.parts, None):
            if isinstance(part, Element) and (part.tag in _BLOCKS or _holds_blocks(part)):
                yield from self._paragraph(run)
                run = []
                if not _hidden(part):
                    yield from self._block(part)
            elif part is None:
                yield from self._paragraph(run)
            else:
                run.append(part)

    def _paragraph(self, parts: list[Element | str]) -> Iterator[str]:
        text = "".join(self._inline(part) for part in parts).strip()
        if text:
            yield _begun(text)

    def _block(self, element: Element) -> Iterator[str]:
        tag = element.tag
        if re.fullmatch("h[1-6]", tag):
            yield f"{'#' * int(tag[1])} {_anchor(element)}{self.inline(element)}"
        elif tag in ("p", "summary") and not _holds_blocks(element):
            text = self.inline(element)
            if text:
                yield _anchor(element) + (f"**{text}**" if tag == "summary" else _begun(text))
        elif tag == "pre":
            text = "".join(_raw(element)).strip("\n")
            yield "\n".join(f"    {line}" for line in text.split("\n"))
        elif tag in ("ol", "ul"):
            yield from self._list(element)
        elif tag == "dl":
            yield from self._terms(element)
        elif tag == "table":
            yield self._table(element)
        elif tag == "blockquote" or "sf-warning" in element.looks:
            text = "\n\n".join(self.blocks(element))
            yield "\n".join(f"> {line}".rstrip() for line in text.split("\n"))
        else:
            yield from self.blocks(element)

    def _list(self, element: Element) -> Iterator[str]:
        items = [item for item in element.elements if item.tag == "li" and not _hidden(item)]
        if any(any(child.tag in ("p", "div") for child in item.elements) for item in items):
            for item in items:  # a step: more than a list of any dialect holds
                yield from filter(None, (_anchor(item), *self.blocks(item)))
            return
        first = int(element.said.get("start") or 1)
        lines = []
        for number, item in enumerate(items, start=first):
            mark = f"{number}." if element.tag == "ol" else "-"
            text = "\n\n".join(self.blocks(item)) or "&#8203;"
            inner = text.replace("\n", "\n    ")
            lines.append(f"{mark:3} {_anchor(item)}{inner}")
        if lines:
            yield "\n".join(re.sub(r"(?m)^ +$", "", line) for line in lines)

    def _terms(self, element: Element) -> Iterator[str]:
        entries = list(_entries(element))
        if not any(_holds_blocks(said) for _, said in entries):
            lines = [f"- {_anchor(term)}**{self.inline(term)}**: {self.inline(said)}" for term, said in entries]
            yield "\n".join(lines)
            return
        for term, said in entries:
            yield f"{_anchor(term)}**{self.inline(term)}**"
            yield from self.blocks(said)

    def _table(self, element: Element) -> str:
        rows = [row for row in element.all() if row.tag == "tr"]
        cells = [[self._cell(cell) for cell in row.elements if cell.tag in ("td", "th")] for row in rows]
        cells = [row for row in cells if row]
        if not cells:
            return ""
        wide = max(map(len, cells))
        head, *rest = [[*row, *[""] * (wide - len(row))] for row in cells]
        return "\n".join(f"| {' | '.join(row)} |" for row in (head, ["---"] * wide, *rest))

    def _cell(self, cell: Element) -> str:
        return "<br>".join(self._cell_lines(cell))

    def _cell_lines(self, element: Element) -> Iterator[str]:
        """What stands in a cell, where no block can: one line for each."""
        run = ""
        for part in element.parts:
            if isinstance(part, Element) and (part.tag in _BLOCKS or _holds_blocks(part)):
                if run.strip():
                    yield run.strip()
                run = ""
                if _hidden(part):
                    continue
                if re.fullmatch("h[1-6]", part.tag):
                    yield f"{_anchor(part)}**{self.inline(part)}**"
                else:
                    mark = "• " if part.tag == "li" else ""
                    yield from (mark + line for line in self._cell_lines(part))
            else:
                run += self._inline(part)
        if run.strip():
            yield run.strip()

    def inline(self, element: Element) -> str:
        """What stands in a line."""
        return " ".join("".join(self._inline(part) for part in element.parts).split())

    def _inline(self, part: Element | str) -> str:
        if isinstance(part, str):
            return escaped(re.sub(r"\s+", " ", part))
        if _hidden(part):
            return ""
        text = "".join(self._inline(inner) for inner in part.parts)
        if part.tag == "br":
            return "<br>"
        if part.tag == "img":
            return f"![{escaped(part.said.get('alt', ''))}]({part.said.get('src', '')})"
        if part.tag == "code":
            return code("".join(_raw(part)))
        if part.tag in _STRONG or "sf-number" in part.looks:
            return _around(text, "**")
        if part.tag in _STRESSED:
            return _around(text, "*")
        if part.tag == "q":
            return f"“{text.strip()}”"
        if part.tag == "a" and "href" in part.said:
            return f"{_anchor(part)}[{text.strip()}]({self.lead(part.said['href'])}) "
        return _anchor(part) + text


def _entries(element: Element) -> Iterator[tuple[Element, Element]]:
    """The terms of a list of terms, each with what is said of it."""
    parts = [one for entry in element.elements for one in (entry.elements if entry.tag == "div" else (entry,))]
    return zip((one for one in parts if one.tag == "dt"), (one for one in parts if one.tag == "dd"), strict=False)


def _anchor(element: Element) -> str:
    name = element.said.get("id", "")
    return f'<a id="{name}"></a>' if name else ""


def _hidden(element: Element) -> bool:
    return element.tag in _LEFT_OUT or "hidden" in element.said or "sf-running" in element.looks


def _holds_blocks(element: Element) -> bool:
    return any(inner.tag in _BLOCKS for inner in element.all())


def _around(text: str, mark: str) -> str:
    """Marks text as stressed; white space at its edges stays outside, where the mark would not be read."""
    inner = text.strip()
    if not inner:
        return text
    before, after = text[: len(text) - len(text.lstrip())], text[len(text.rstrip()) :]
    return f"{before}{mark}{inner}{mark}{after}"


def _begun(text: str) -> str:
    """A line that begins with a sign of Markdown, written so that it is read as text."""
    return _FIRST.sub(lambda found: found[1] + "".join(f"&#{ord(sign)};" for sign in found[2]), text)


def _raw(element: Element) -> Iterator[str]:
    for part in element.parts:
        if isinstance(part, str):
            yield part
        else:
            yield from _raw(part)
