"""A change of several files of a set that was broken off between them.

New texts are written into a folder of their own first, then a list of what is to be done. From then on the change
counts as made: whoever reads the set reads the new texts, wherever they lie, until somebody puts them in their places.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

ASIDE = ".catch-up"
"""The folder in the set's own in which new texts wait; names that begin with a dot are no files of the set."""
READY = "ready.json"
_FILE = re.compile(r"(?:parts/)?[a-z][a-z0-9-]{0,39}\.yaml")
_REPORT = re.compile(r"[0-9A-Za-z][0-9A-Za-z.+-]{0,200}\.md")
_MOST_BYTES = 1_000_000


@dataclass(frozen=True, slots=True)
class HalfDone:
    """What is to be done: the files that get a new text, and those that go, by their path in the set's folder.

    Each has the digest of its old text, which is empty for a new file. ``to`` is the version that is taken in, or empty
    where edits are moved into tailoring.yaml; ``report`` the name of the report on it, empty if there is none.
    """

    to: str
    write: Mapping[str, str]
    remove: Mapping[str, str]
    report: str

    @property
    def what(self) -> str:
        """What was broken off, as the beginning of a sentence."""
        return f"version {self.to} was being taken in" if self.to else "edits were being moved into tailoring.yaml"

    @property
    def command(self) -> str:
        """The command that was broken off, and that ends it."""
        return "stepfield catch-up" if self.to else "stepfield tailor"

    def content(self) -> str:
        """The list as it is written."""
        found = {"to": self.to, "write": {**self.write}, "remove": {**self.remove}, "report": self.report}
        return json.dumps(found, indent=1) + "\n"


def half_done_in(folder: Path) -> HalfDone | None:
    """What is still to be done in a set's folder; None if nothing is.

    Raises ValueError if there is a list that the program did not write.
    """
    ready = folder / ASIDE / READY
    if (folder / ASIDE).is_symlink() or ready.is_symlink() or not ready.is_file():
        return None
    try:
        with ready.open("rb") as file:
            found = json.loads(file.read(_MOST_BYTES))
        listed = [{str(path): str(digest) for path, digest in found[key].items()} for key in ("write", "remove")]
        done = HalfDone(str(found["to"]), listed[0], listed[1], str(found["report"]))
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
        raise ValueError(f"{ASIDE}/{READY} cannot be read") from error
    named = not done.report or _REPORT.fullmatch(done.report)
    if not named or not all(map(_FILE.fullmatch, (*done.write, *done.remove))):
        raise ValueError(f"{ASIDE}/{READY} was not written by this program")
    return done


def waiting(folder: Path, done: HalfDone) -> dict[str, Path]:
    """Where the new texts lie that are not in their places yet, by the path they are for."""
    places = {name: folder / ASIDE / name for name in done.write}
    return {name: place for name, place in places.items() if place.is_file() and not place.is_symlink()}
