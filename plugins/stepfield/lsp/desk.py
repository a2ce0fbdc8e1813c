"""The texts of one protocol set as an editor has them, and what can be told of the one being written."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from ..asepsis import Exploration
from ..checks import Report, check_set
from ..checks.asking import QuestionError, explored_of
from ..language import build_set
from ..language.files import place_of as file_at
from ..language.model import Protocol, ProtocolSet

SHARED = ("clinic", "evidence", "tailoring", "upstream")
"""Kinds of file that every protocol is read with."""
LOOK_LIMIT = 20_000
"""How many states are looked at while somebody waits for an answer; beyond it, it is said that more is unknown."""


@dataclass(frozen=True, slots=True)
class Looked:
    """What a look at one file found: the report on the protocols that stand in it or use it."""

    report: Report
    path: str

    @property
    def protocol(self) -> Protocol | None:
        """The protocol that the file holds, if it can be read."""
        return next((one for one in self.report.facts.protocol_set.protocols if one.path == self.path), None)


class Desk:
    """Holds the files of one set by their paths (``protocols/clinic.yaml``); changing one forgets what was known of it.

    Only the files that matter for the one asked about are read, so that a large set does not slow writing down.
    """

    def __init__(self, folder: str, files: Mapping[str, bytes], today: datetime.date) -> None:
        self.folder, self.files, self.today = folder, dict(files), today
        self._looked: dict[str, Looked] = {}
        self._good: dict[str, ProtocolSet] = {}
        self._explored: dict[str, Exploration | None] = {}

    def write(self, path: str, content: bytes | None) -> None:
        """Takes in a file's text, or with None that it is gone."""
        if self.files.get(path) == content:
            return
        if content is None:
            self.files.pop(path, None)
        else:
            self.files[path] = content
        self._looked.clear()
        self._explored.clear()

    def look(self, path: str) -> Looked:
        """Checks what concerns one file; quick to ask again while nothing changes."""
        if path not in self._looked:
            found = build_set(dict(self._concerned(path)), self.folder)
            self._looked[path] = Looked(check_set(found, self.today, limit=LOOK_LIMIT), path)
            if any(one.path == path for one in found.protocols) or self._kind(path) != "protocol":
                self._good[path] = found
        return self._looked[path]

    def last_good(self, path: str) -> ProtocolSet:
        """The set as it was when the file could last be read: names come from it while a line is half written."""
        self.look(path)
        return self._good.get(path, self._looked[path].report.facts.protocol_set)

    def explored(self, path: str) -> Exploration | None:
        """Every order of the protocol in a file, tried once; None where it can't be explored or not to the end."""
        if path not in self._explored:
            looked = self.look(path)
            found = None
            if looked.protocol is not None:
                try:
                    found = explored_of(looked.report.facts.protocol_set, looked.protocol.id, LOOK_LIMIT)
                except QuestionError:
                    found = None
            self._explored[path] = found if found is not None and found.complete else None
        return self._explored[path]

    def _kind(self, path: str) -> str | None:
        return file_at(path, self.folder).kind

    def _concerned(self, path: str) -> Iterator[tuple[str, bytes]]:
        """The file itself, those that all share, every part, and for a part or a shared file every protocol."""
        kind = self._kind(path)
        every = kind != "protocol"
        for other, content in self.files.items():
            its = self._kind(other)
            if other == path or its in SHARED or its == "part" or (every and its is not None):
                yield other, content
