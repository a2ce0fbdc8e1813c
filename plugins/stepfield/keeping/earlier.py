"""What earlier runs found, protocol by protocol, so that one changed protocol of a large set is judged alone.

Of each protocol is kept what a report tells and counts, under a digest of its text. It is believed only while all that
it depends on is the same: the program, the bound on states, the day, the files of the whole set, its own file and the
parts it uses. A protocol with a finding that some order shows is judged anew every time: that is told from the text,
and how many mends are tried depends on the whole set.
"""

from __future__ import annotations

import datetime
import hashlib
import json
from collections.abc import Iterable
from typing import Any

from ..checks import Report, check_set
from ..language import Taken, set_of
from ..language.files import WHOLE_SET, place_of
from .judged import Judged, entry_of, is_entry, judged_in, judged_of
from .shelf import Kept, Shelf, key_of
from .together import judged_together


def report_of(taken: Taken, shelf: Shelf, today: datetime.date, limit: int) -> Report:
    """The report on a whole set, in which what was judged before is told and counted, and not judged anew."""
    earlier = Earlier(shelf, taken, repr((today, limit)))
    known = [*earlier.judged(), *judged_together(taken, earlier.unknown(), today, limit)]
    whole = set_of(taken, [one.passed for one in known])
    report = check_set(whole, today, limit=limit, known=[finding for one in known for finding in one.findings])
    earlier.note([*known, *judged_in(report)])
    return report


class Earlier:
    """What is known of the protocols of a folder, as kept on a shelf; ``asked`` is whatever else decides a verdict."""

    def __init__(self, shelf: Shelf, taken: Taken, *asked: str) -> None:
        self.shelf = shelf
        self.marks: dict[str, str] = {}
        self.parts: dict[str, str] = {}
        whole: list[str | bytes] = []
        for path, content in sorted(taken.files.items()):
            place = place_of(taken.inside(path), "")
            if place.kind == "protocol":
                self.marks[path] = _mark(place.id, content)
            elif place.kind == "part":
                self.parts[place.id] = _mark(place.id, content)
            elif place.kind in WHOLE_SET:
                whole += [place.id, content]
        # The lists of the days and local changes name protocols, and what is refused may be one: then all are read.
        names_protocols = {"packs", "screens", "tailoring"} & {*whole}
        self.usable = bool(self.marks) and not names_protocols and not taken.refused
        self.key = "set-" + key_of(taken.shown, *asked, *whole)
        self.known: dict[str, dict[str, Any] | None] = self._known() if self.usable else {}

    def judged(self) -> list[Judged]:
        """The protocols that need not be judged anew."""
        found = ((path, self.known.get(mark)) for path, mark in self.marks.items())
        return [judged_of(path, entry) for path, entry in found if entry is not None and self._holds(entry)]

    def unknown(self) -> list[str]:
        """The files of the protocols of which nothing is known; of some it is known that they must be judged anew."""
        if not self.usable:
            return []
        found = ((path, self.known.get(mark, {})) for path, mark in self.marks.items())
        return [path for path, entry in found if entry is not None and not self._holds(entry)]

    def note(self, judged: Iterable[Judged]) -> None:
        """Keeps what was judged; of texts that are gone nothing is kept."""
        if not self.usable:
            return
        entries = {self.marks[one.passed.path]: entry_of(one, self.parts) for one in judged}
        known = {mark: entries.get(mark) for mark in self.marks.values()}
        if known != self.known:
            self.shelf.keep(self.key, Kept(json.dumps(known), failed=False))

    def _known(self) -> dict[str, dict[str, Any] | None]:
        kept = self.shelf.find(self.key)
        try:
            found = json.loads(kept.text) if kept is not None else {}
        except ValueError:
            return {}
        if not isinstance(found, dict):
            return {}
        return {mark: entry for mark, entry in found.items() if entry is None or is_entry(entry)}

    def _holds(self, entry: dict[str, Any]) -> bool:
        return bool(entry) and all(self.parts.get(part) == mark for part, mark in entry["parts"].items())


def _mark(name: str, content: bytes) -> str:
    return hashlib.sha256(name.encode("utf-8", "surrogatepass") + b"\n" + content).hexdigest()
