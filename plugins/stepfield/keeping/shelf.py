"""Reports kept from earlier runs, so that a check of what has not changed is quick.

A report is kept under a digest of everything it depends on: the program, what was asked, and every byte of the set.
A file that is damaged or not ours is passed over; a new one is put in its place whole, so two runs at once do no
harm. The folder may be deleted at any time.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import tempfile
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path

MOST_KEPT = 64
"""How many reports are kept; the oldest go first."""


@dataclass(frozen=True, slots=True)
class Kept:
    """A report as it was printed, and whether it had errors."""

    text: str
    failed: bool


class Shelf:
    """The folder of kept reports. Nothing here raises: a report that cannot be kept or found is worked out anew."""

    def __init__(self, folder: Path | None) -> None:
        self.folder = folder

    def find(self, key: str) -> Kept | None:
        """The report kept under a key; None if there is none, or if it is damaged."""
        if self.folder is None:
            return None
        try:
            found = json.loads((self.folder / f"{key}.json").read_bytes())
            kept = Kept(text=found["text"], failed=found["failed"])
            sound = found["digest"] == _digest_of(key, kept)
        except (OSError, ValueError, KeyError, TypeError, AttributeError):
            return None
        return kept if sound else None

    def keep(self, key: str, kept: Kept) -> None:
        """Keeps a report under a key."""
        if self.folder is None:
            return
        content = json.dumps({**asdict(kept), "digest": _digest_of(key, kept)})
        with contextlib.suppress(OSError):
            self.folder.mkdir(parents=True, exist_ok=True)
            with tempfile.NamedTemporaryFile("w", dir=self.folder, suffix=".part", delete=False) as file:
                file.write(content)
            Path(file.name).replace(self.folder / f"{key}.json")
            self._tidy(self.folder)

    @staticmethod
    def _tidy(folder: Path) -> None:
        kept = sorted((path.stat().st_mtime, path) for path in folder.iterdir())
        for _, path in kept[:-MOST_KEPT]:
            path.unlink(missing_ok=True)


def usual_folder() -> Path | None:
    """Where reports are kept if nobody says otherwise; None where there is no home."""
    named = os.environ.get("XDG_CACHE_HOME")
    try:
        return Path(named or Path.home() / ".cache") / "stepfield"
    except RuntimeError:
        return None


def key_of(*parts: str | bytes) -> str:
    """A digest of the program and of everything a report depends on, told in a fixed order."""
    return _digest([_program(), *(part.encode() if isinstance(part, str) else part for part in parts)])


@cache
def _program() -> bytes:
    """A digest of this program's own files: another version may judge otherwise."""
    here = Path(__file__).parents[1]
    files = sorted(path for path in here.rglob("*") if path.suffix in (".py", ".json"))
    schemas = sorted((here.parents[1] / "schema").glob("*.json"))
    return _digest([path.read_bytes() for path in (*files, *schemas)]).encode()


def _digest_of(key: str, kept: Kept) -> str:
    return _digest([key.encode(), kept.text.encode("utf-8", "surrogatepass"), str(kept.failed).encode()])


def _digest(parts: Iterable[bytes]) -> str:
    """A digest in which no two lists of parts run together."""
    digest = hashlib.sha256()
    for part in parts:
        digest.update(len(part).to_bytes(8, "big"))
        digest.update(part)
    return digest.hexdigest()
