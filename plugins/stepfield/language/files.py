"""Which file of a set is what, by where it lies and what it is called."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from posixpath import basename, dirname

from .names import quoted
from .source import Problem, Span

WHOLE_SET = ("accepted", "clinic", "evidence", "packs", "screens", "tailoring", "upstream")
_ID = re.compile(r"[a-z][a-z0-9-]{0,39}")
_RESERVED = frozenset({"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(1, 10))})
"""File names that Windows keeps for devices, so that a set or its pages could not be stored there."""


@dataclass(frozen=True, slots=True)
class Place:
    """What a file is for: its kind (None if it has no business here) and its id."""

    path: str
    kind: str | None
    id: str

    @property
    def protocol(self) -> str | None:
        """What findings call the file it is about; the files of the whole set belong to no protocol."""
        return self.id if self.kind in ("protocol", "part") else None


def folder_of(paths: Iterable[str]) -> str:
    """The folder of the set: the one that holds clinic.yaml, or else the topmost one."""
    known = list(paths)
    homes = [dirname(path) for path in known if basename(path) == "clinic.yaml"]
    others = [dirname(path).removesuffix("/parts") if dirname(path) != "parts" else "" for path in known]
    return min(homes or others or [""], key=lambda folder: (len(folder), folder))


def place_of(path: str, folder: str) -> Place:
    """What the file at a path is, in a set that lies in a folder."""
    inside = path.removeprefix(f"{folder}/") if folder else path
    where, name = dirname(inside), basename(inside)
    stem = name.removesuffix(".yaml")
    if where not in ("", "parts") or stem == name:
        return Place(path, None, stem)
    if where == "parts":
        return Place(path, "part", stem)
    return Place(path, stem if stem in WHOLE_SET else "protocol", stem)


def misplaced(place: Place) -> Problem | None:
    """What is wrong with a file's name or place, if anything."""
    if place.kind is None:
        if place.path.endswith(".yaml"):
            message = "protocol files lie in the set's folder itself or in parts/, and this one would not be read"
            return _problem(place, message, "move it there")
        return _problem(place, "this file would not be read: the names of protocol files end in .yaml", "rename it")
    if not _ID.fullmatch(place.id):
        allowed = "small letters, digits and hyphens, beginning with a letter, at most 40"
        message = f"{quoted(place.id)} cannot be a file's name: a name has {allowed}"
        return _problem(place, message, "rename the file")
    if is_reserved(place.id):
        return _problem(place, unstorable(place.id), "rename the file")
    return None


def is_reserved(name: str) -> bool:
    """Whether some systems keep this name for themselves, so that no file can be called so."""
    return name in _RESERVED


def unstorable(name: str) -> str:
    """What to say of a name that some systems keep for themselves."""
    return f"some computers cannot store a file called {quoted(name)}"


def _problem(place: Place, message: str, hint: str) -> Problem:
    return Problem("bad-shape", Span(place.path, 1, 1, 1, 1), message, place.protocol, None, place.id, hint)
