"""A drawn site as plain files that any site generator takes: Markdown, pictures and style sheets."""

from __future__ import annotations

import json
import posixpath
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from ..pages import Asset, Page, Site
from ..pages.addresses import ASSETS
from ..pages.matter import source
from ..pages.searching import element_end
from .contents import CONTENTS, Contents, text_of
from .markdown import Writer
from .tree import tree_of

PICTURES = "pictures"
_PICTURE = re.compile(r'<(svg)\b[^>]*\bclass="[^"]*\bsf-picture\b[^"]*"[^>]*>')
_PARTS_OF_PICTURES = re.compile(r"\.sf-(?:line|shape|arrow|word|band|node|picture)\b")


@dataclass(frozen=True, slots=True)
class Exported:
    """The files of an export by address, the pages among them as Markdown."""

    files: dict[str, bytes]
    pages: tuple[str, ...]


def exported(site: Site, contents: Contents) -> Exported:
    """Writes a drawn site as plain files.

    ``contents`` is put beside them, so that what another generator makes of them can be judged too.
    """
    files: dict[str, bytes] = {}
    written = {page.address: source(page) for page in site.pages}
    style = _picture_style(site)
    for page in site.pages:
        text, pictures = _page(page, written, style)
        files[written[page.address]] = text.encode()
        files |= pictures
    files |= {asset.address: asset.content for asset in site.assets if _goes_along(asset, site)}
    kept = tuple(address for address in contents.documents if address in files)
    files[CONTENTS] = text_of(Contents(contents.build, contents.protocols, contents.today, contents.pages, kept))
    return Exported(files, tuple(written.values()))


def _goes_along(asset: Asset, site: Site) -> bool:
    """Whether a file is of use without our pages: a script only if a finished page, such as a screen, loads it."""
    if not asset.address.endswith(".js") or not asset.address.startswith(f"{ASSETS}/"):
        return "LICENSE" not in asset.address
    name = posixpath.basename(asset.address).encode()
    return any(name in other.content for other in site.assets if other.address.endswith(".html"))


def write_export(folder: Path, found: Exported) -> None:
    """Puts the files of an export into a folder. Raises OSError where that cannot be done."""
    for address, content in found.files.items():
        path = folder / address
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)


def _page(page: Page, written: dict[str, str], style: str) -> tuple[str, dict[str, bytes]]:
    address = written[page.address]
    html, pictures = _without_pictures(page, address, style)
    head = f"---\ntitle: {json.dumps(page.title, ensure_ascii=True)}\n---\n\n"

    def lead(href: str) -> str:
        path, mark, place = href.partition("#")
        target = posixpath.normpath(posixpath.join(posixpath.dirname(page.address), path)) if path else ""
        if target in written:
            path = posixpath.relpath(written[target], posixpath.dirname(address) or ".")
        return f"{path}{mark}{place}"

    return head + Writer(lead).page(tree_of(html)), pictures


def _without_pictures(page: Page, address: str, style: str) -> tuple[str, dict[str, bytes]]:
    """The page with every picture as an image that lies beside it, and the images."""
    kept: list[str] = []
    pictures: dict[str, bytes] = {}
    place = 0
    while found := _PICTURE.search(page.html, place):
        kept.append(page.html[place : found.start()])
        place = element_end(page.html, "svg", found.end())
        drawn = page.html[found.start() : place]
        if not _stands_alone(drawn):
            continue
        name = f"{PICTURES}/{address.removesuffix('.md').replace('/', '-')}-{len(pictures) + 1}.svg"
        pictures[name] = _alone(drawn, found.end() - found.start(), style).encode()
        src = posixpath.relpath(name, posixpath.dirname(address) or ".")
        kept.append(f'<p><img src="{src}" alt="{_title(drawn)}"></p>')
    kept.append(page.html[place:])
    return "".join(kept), pictures


def _stands_alone(drawn: str) -> bool:
    """Whether a picture uses nothing of another one."""
    own = set(re.findall(r'\bid="([^"]*)"', drawn))
    return set(re.findall(r'<use\b[^>]*\bhref="#([^"]*)"', drawn)) <= own


def _alone(drawn: str, head: int, style: str) -> str:
    """A picture as a file of its own: with its style inside, and without links, which an image cannot follow."""
    first = drawn[:head]
    if "xmlns=" not in first:
        first = first.replace("<svg", '<svg xmlns="http://www.w3.org/2000/svg"', 1)
    rest = re.sub(r'(<a\b[^>]*?) href="[^"]*"', r"\1", drawn[head:])
    return f"{first}<style>{style}</style>{rest}\n"


def _title(drawn: str) -> str:
    found = re.search(r"<title\b[^>]*>(.*?)</title>", drawn, re.DOTALL)
    return found.group(1).strip().replace('"', "&quot;") if found else ""


def _picture_style(site: Site) -> str:
    """The rules of the style sheets that pictures are drawn with, light colours."""
    sheets = [asset.content.decode() for asset in site.assets if asset.address.endswith(".css")]
    return _style_of("\n".join(sheets))


@cache
def _style_of(text: str) -> str:
    text = re.sub(r"/\*.*?\*/", "", text, flags=re.DOTALL)
    rules = list(_rules(text))
    values = next((body for selector, body in rules if selector == ":root" and "--sf-" in body), "")
    kept = [f":root {{{values}}}", "svg { background: var(--sf-card); fill: none; }", "text { fill: var(--sf-ink); }"]
    kept += [f"{selector} {{{body}}}" for selector, body in rules if _PARTS_OF_PICTURES.search(selector)]
    return " ".join(" ".join(kept).split())


def _rules(text: str) -> Iterator[tuple[str, str]]:
    """The rules that hold on every medium."""
    depth, start, selector, body = 0, 0, "", 0
    for found in re.finditer(r"[{}]", text):
        if found.group() == "{":
            if depth == 0:
                selector, body = text[start : found.start()].strip(), found.end()
            depth += 1
            continue
        depth -= 1
        if depth == 0:
            if not selector.startswith("@"):
                yield selector, text[body : found.start()]
            start = found.end()
