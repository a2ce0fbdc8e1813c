"""One page of every kind that a built site has, found in the list its build leaves."""

from __future__ import annotations

from pathlib import Path

from stepfield.publishing import CONTENTS, read_contents


def kinds_of(site: Path) -> dict[str, str]:
    """The address of one page of each kind, the heaviest there is, by a name for the kind.

    Pages of the theme have the kind that the list tells; other finished pages are of one kind where they stand in
    folders of one name and depth.
    """
    contents = read_contents((site / CONTENTS).read_bytes())
    found: dict[str, list[str]] = {}
    for address, kind in contents.pages.items():
        found.setdefault(kind, []).append(address)
    for address in contents.documents:
        if address.endswith(".html"):
            found.setdefault(_kind(address), []).append(address)
    written = {path.name for path in site.glob("*.html")} - {*contents.pages, "404.html"}
    found |= {"hand-written": sorted(written)} if written else {}
    return {
        kind: max(addresses, key=lambda one: ((site / one).stat().st_size, one)) for kind, addresses in found.items()
    }


def _kind(address: str) -> str:
    *folders, name = address.split("/")
    if len(folders) <= 1:
        return f"{'-'.join(folders)}-{name.removesuffix('.html')}"
    return "-".join((*folders[:2], *("one" for _ in folders[2:])))
