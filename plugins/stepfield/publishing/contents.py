"""What a site holds, as the build lists it: every page and file, each with a digest, and one number for the build."""

from __future__ import annotations

import hashlib
import json
import posixpath
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from ..pages import Site
from ..pages.addresses import ASSETS
from ..pages.screens.publishing import put

CONTENTS = f"{ASSETS}/contents.json"
"""Where the list lies in a site."""


class Unreadable(ValueError):  # noqa: N818 - it says what the list is
    """The list of a site is not one that a build has written."""


@dataclass(frozen=True, slots=True)
class Contents:
    """The list of one build.

    ``build`` is a digest over every page and document we drew; ``pages`` gives the kind of each page by address;
    ``documents`` are the other files we drew; ``digests`` are the SHA-256 of files as published, by address.
    ``protocols``, ``today`` and ``url`` tell from what, for which day and for which web address the site was drawn.
    """

    build: str
    protocols: str
    today: str
    pages: Mapping[str, str]
    documents: tuple[str, ...]
    digests: Mapping[str, str] = field(default_factory=dict)
    url: str = ""


def contents_of(site: Site, protocols: str, today: str, beside: Mapping[str, str] | None = None) -> Contents:
    """What a drawn site holds; ``beside`` are the digests of documents that were written already, by address.

    The files of the theme are not known yet, nor how pages look in it.
    """
    beside = beside or {}
    drawn = {page.address: digest_of(page.html.encode()) for page in site.pages}
    drawn |= {asset.address: digest_of(asset.content) for asset in site.assets}
    digest = hashlib.sha256()
    for address, one in sorted((drawn | dict(beside)).items()):
        digest.update(f"{address}\0{one}\0".encode())
    return Contents(
        build=digest.hexdigest(),
        protocols=protocols,
        today=today,
        pages={page.address: page.kind for page in site.pages},
        documents=(*(asset.address for asset in site.assets), *beside),
        url=site.url,
    )


def pages_and_files(folder: Path) -> dict[str, Path]:
    """Every file of a published site by address, but for hidden ones; the list itself is none of them."""
    found = {path.relative_to(folder).as_posix(): path for path in sorted(folder.rglob("*")) if path.is_file()}
    return {
        address: path
        for address, path in found.items()
        if address != CONTENTS and not any(part.startswith(".") for part in address.split("/"))
    }


def digest_of(content: bytes) -> str:
    """The SHA-256 of a file's content."""
    return hashlib.sha256(content).hexdigest()


def text_of(contents: Contents) -> bytes:
    """The list as it is published; the same list always gives the same bytes."""
    said = {
        "build": contents.build,
        "protocols": contents.protocols,
        "today": contents.today,
        "url": contents.url,
        "pages": dict(contents.pages),
        "documents": list(contents.documents),
        "digests": dict(contents.digests),
    }
    return (json.dumps(said, indent=1, sort_keys=True) + "\n").encode()


def read_contents(text: bytes) -> Contents:
    """Reads a published list. Raises Unreadable if it is none, or names a file outside the site."""
    try:
        said = json.loads(text)
        found = Contents(
            build=_text(said["build"]),
            protocols=_text(said["protocols"]),
            today=_text(said["today"]),
            pages=_texts(said["pages"]),
            documents=tuple(_text(address) for address in said["documents"]),
            digests=_texts(said["digests"]),
            url=_text(said["url"]),
        )
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        raise Unreadable("it is not a list that a build has written") from None
    for address in (*found.pages, *found.documents, *found.digests):
        if posixpath.normpath(address) != address or address.startswith(("/", "..")) or "\\" in address:
            raise Unreadable(f"it names {address!r}, which is no place in a site")
    return found


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError
    return value


def _texts(value: Any) -> dict[str, str]:
    return {_text(name): _text(said) for name, said in value.items()}


def publish_contents(folder: Path, contents: Contents, coming: Mapping[str, bytes]) -> tuple[str, ...]:
    """Puts the list into a finished site, with the digest of every file as it lies there.

    ``coming`` are files that are put in later still. Gives the addresses of pages that should be there and are not.
    Raises OSError where a file cannot be read or the list not be written.
    """
    digests = {address: digest_of(path.read_bytes()) for address, path in pages_and_files(folder).items()}
    digests |= {address: digest_of(content) for address, content in coming.items()}
    put(folder / CONTENTS, text_of(replace(contents, digests=digests)))
    return tuple(sorted({*contents.pages, *contents.documents} - set(digests)))
