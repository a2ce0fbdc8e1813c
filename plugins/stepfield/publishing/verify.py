"""Judges a site as it lies in a folder: whether all is there, of one build, and asks no other machine."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import unquote

from ..pages.screens import VERSION
from .contents import CONTENTS, Contents, Unreadable, digest_of, pages_and_files, read_contents
from .scan import Named, named_in_page, named_in_style

ANYWHERE = "404.html"
"""The page for what is not found: it is shown at any address, so that its links begin at the server's root."""
_OURS = ("protocols/", "roles/", "screens/", "print/")
"""Folders in which nothing stands but what the build has put there."""
_UNFINISHED = re.compile(r"(^|/)[^/]*(\.tmp|\.part|\.partial|\.crdownload|~)$|(^|/)\.[^/]*\.(tmp|part)$")
_AT_HOME = re.compile(r"(?:data|blob|about):", re.IGNORECASE)
_SCHEME = re.compile(r"[a-z][a-z0-9+.-]*:", re.IGNORECASE)
_MAY_BE_FOLLOWED = re.compile(r"(?:https?|mailto|tel):", re.IGNORECASE)
_BUILD = re.compile(r'__build\("([0-9a-f]{1,64})"')


@dataclass(frozen=True, slots=True, order=True)
class Flaw:
    """Something wrong with a published site: in which file, a short word for what, and the whole sentence."""

    address: str
    kind: str
    message: str


@dataclass(frozen=True, slots=True)
class Verdict:
    """What was found wrong, and how much was looked at; ``build`` is None where no list of the build was found."""

    flaws: tuple[Flaw, ...]
    pages: int
    files: int
    build: str | None


def verify(folder: Path, expected: Contents | None = None) -> Verdict:
    """Judges a published site.

    Without ``expected``, by the list that the build has put into it; with it, also by what a protocol set asks for.
    Raises OSError where a file cannot be read.
    """
    files = pages_and_files(folder)
    named = {address: _named(path) for address, path in files.items() if address.endswith((".html", ".svg"))}
    flaws: list[Flaw] = []
    listed = _listed(folder, flaws)
    if listed is not None:
        flaws += _by_list(listed, files)
        flaws += _builds(listed, named, files)
    if expected is not None:
        flaws += _by_set(expected, listed, files)
    flaws += _unfinished(folder, named)
    flaws += _loads(files, named)
    flaws += _links(set(files), named)
    pages = sum(address.endswith(".html") for address in files)
    return Verdict(tuple(sorted(set(flaws))), pages, len(files), listed.build if listed is not None else None)


def _named(path: Path) -> Named:
    return named_in_page(path.read_text(encoding="utf-8", errors="replace"))


def _listed(folder: Path, flaws: list[Flaw]) -> Contents | None:
    path = folder / CONTENTS
    if not path.is_file():
        flaws.append(
            Flaw(
                CONTENTS,
                "no-contents",
                "The list that a build with the plugin 'stepfield' leaves is missing: the site generator may have "
                "passed the plugin over, or not all was published.",
            )
        )
        return None
    try:
        return read_contents(path.read_bytes())
    except Unreadable as error:
        flaws.append(Flaw(CONTENTS, "no-contents", f"The list of the build cannot be used: {error}."))
        return None


def _by_list(listed: Contents, files: dict[str, Path]) -> Iterator[Flaw]:
    for address in sorted({*listed.pages, *listed.documents, *listed.digests} - set(files)):
        yield Flaw(address, "missing", f"This {_kind(address, listed)} is on the list of the build, but not there.")
    for address, digest in sorted(listed.digests.items()):
        if address in files and digest_of(files[address].read_bytes()) != digest:
            yield Flaw(
                address,
                "other-build",
                "This file is not the one that the build wrote: it is of another build, half written, or changed.",
            )
    known = {*listed.pages, *listed.documents, *listed.digests}
    for address in files:
        if address not in known and address.startswith(_OURS):
            yield Flaw(
                address, "left-over", "This file is not of this build: somebody could still open an earlier version."
            )


def _kind(address: str, listed: Contents) -> str:
    if address in listed.pages:
        return f"page ({listed.pages[address]})"
    if address.startswith("screens/") and address.endswith(".html"):
        return "screen"
    return "sheet" if address.startswith("print/") else "file"


def _builds(listed: Contents, named: dict[str, Named], files: dict[str, Path]) -> Iterator[Flaw]:
    """Screens carry a number of their own, which the script that wakes them tells."""
    if VERSION not in files:
        return
    found = _BUILD.match(files[VERSION].read_text(encoding="utf-8", errors="replace"))
    if found is None:
        yield Flaw(VERSION, "other-build", "This file does not tell the screens of which build they are.")
        return
    for address, one in named.items():
        if address in listed.documents and one.builds and one.builds != {found.group(1)}:
            yield Flaw(address, "other-build", "This screen is of another build than the one that screens are told of.")


def _by_set(expected: Contents, listed: Contents | None, files: dict[str, Path]) -> Iterator[Flaw]:
    for address in sorted({*expected.pages, *expected.documents} - set(files)):
        yield Flaw(address, "missing", f"The protocols ask for this {_kind(address, expected)}, but it is not there.")
    if listed is None:
        return
    for address in sorted(set(listed.pages) - set(expected.pages)):
        yield Flaw(address, "other-set", "The protocols do not ask for this page: it is of an earlier state of them.")
    if listed.build != expected.build:
        yield Flaw(
            CONTENTS,
            "other-set",
            "The site was built from other files than these protocols, or by another version of the program: build "
            f"{listed.build[:12]}, where {expected.build[:12]} was expected.",
        )


def _unfinished(folder: Path, named: dict[str, Named]) -> Iterator[Flaw]:
    for path in sorted(folder.rglob("*")):
        address = path.relative_to(folder).as_posix()
        if path.is_file() and _UNFINISHED.search(address):
            yield Flaw(address, "unfinished", "This file was being written: the publication was not finished.")
    for address, one in named.items():
        if not one.whole:
            yield Flaw(address, "unfinished", "This page breaks off before its end.")


def _plain(address: str) -> str:
    """An address as a browser takes it: without white space inside, and with slashes the right way round."""
    return re.sub(r"[\t\n\r]", "", address).strip("".join(map(chr, range(33)))).replace("\\", "/")


def _loads(files: dict[str, Path], named: dict[str, Named]) -> Iterator[Flaw]:
    asked = {address: list(one.loads) for address, one in named.items()}
    for address, path in files.items():
        if address.endswith(".css"):
            asked[address] = list(named_in_style(path.read_text(encoding="utf-8", errors="replace")))
    for address, values in asked.items():
        for value in dict.fromkeys(map(_plain, values)):
            if _AT_HOME.match(value) or not value:
                continue
            if value.startswith("//") or _SCHEME.match(value):
                yield Flaw(address, "leaves", f"A browser would ask another machine for {value[:120]!r}.")
            elif address != ANYWHERE and _target(address, value, files) is None:
                yield Flaw(address, "missing", f"This file loads {value[:120]!r}, which is not there.")


def _links(files: set[str], named: dict[str, Named]) -> Iterator[Flaw]:
    for address, one in named.items():
        if address == ANYWHERE:
            continue
        for value in dict.fromkeys(map(_plain, one.links)):
            if value.startswith("//") or _SCHEME.match(value):
                if not value.startswith("//") and not _MAY_BE_FOLLOWED.match(value):
                    yield Flaw(address, "broken-link", f"A link here is no way to a page: {value[:120]!r}.")
                continue
            target = _target(address, value, files)
            place = unquote(value.partition("#")[2])
            if target is None:
                yield Flaw(address, "broken-link", f"A link here leads nowhere: {value[:120]!r}.")
            elif place and target in named and place not in named[target].places:
                yield Flaw(address, "broken-link", f"A link here leads to a place that {target} has not: {place!r}.")


def _target(address: str, value: str, files: Collection[str]) -> str | None:
    """The file that a relative address leads to; None if there is none, or if it only works from a server's root."""
    path = unquote(value.partition("#")[0].partition("?")[0])
    if path.startswith("/"):
        return None
    found = posixpath.normpath(posixpath.join(posixpath.dirname(address), path)) if path else address
    for name in (found, "index.html" if found == "." else f"{found}/index.html"):
        if name in files:
            return name
    return None
