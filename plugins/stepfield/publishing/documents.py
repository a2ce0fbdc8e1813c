"""What stands beside the pages of a site: written while a site generator works, listed and told of when it is done."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from ..pages import Asset, Begun, Site
from ..pages.screens import VERSION, publish
from ..pages.together import Beside
from .contents import contents_of, digest_of, publish_contents

Written = tuple[dict[str, str], dict[str, bytes]]
"""The digest of every document, by address; and the content of the one that is to be published last of all."""


class Documents:
    """The documents of one build, and where they will be in the folder of the site."""

    def __init__(self, begun: Begun, folder: Path) -> None:
        self.addresses, self._draw, self._folder = begun.coming, begun.documents, folder
        self._beside: Beside[Written] | None = None
        self._written: Written = ({}, {})

    def begin(self) -> None:
        """Begins to write them: the folder has been cleaned."""
        self._beside = Beside(lambda: _write(self._folder, self._draw()))

    def wait(self) -> None:
        """Comes back when they are all there. Raises OSError where one cannot be written."""
        if self._beside is not None:
            self._written = self._beside.result()

    def stop(self) -> None:
        """Ends the writing: the build has failed."""
        if self._beside is not None:
            self._beside.stop()

    def publish(self, site: Site, protocols: str, today: str) -> tuple[str, ...]:
        """Lists what the finished site holds, then tells the wall screens of the new build, once all of it is there.

        Gives the addresses of what was drawn and is not there. Raises OSError where something cannot be written.
        """
        digests, last = self._written
        lost = publish_contents(self._folder, contents_of(site, protocols, today, digests), last)
        publish(self._folder, last)
        return lost


def _write(folder: Path, documents: Iterable[Asset]) -> Written:
    digests: dict[str, str] = {}
    last: dict[str, bytes] = {}
    for one in documents:
        digests[one.address] = digest_of(one.content)
        if one.address == VERSION:
            last[one.address] = one.content
            continue
        path = folder / one.address
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(one.content)
    return digests, last
