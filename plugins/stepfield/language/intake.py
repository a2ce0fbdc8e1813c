"""Taking in the files of a protocol set's folder, without ever leaving it."""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from pathlib import Path

from .files import place_of
from .half_done import ASIDE, READY, half_done_in, waiting
from .source import Problem, Span
from .yaml_text import MOST_BYTES, UNSEEN

MOST_FILES = 2000
_NAMES = (".yaml", ".yml", ".yaml.txt", ".yml.txt")
"""Endings of files that are meant as files of a set, even where they are misnamed; compared in small letters."""


@dataclass(frozen=True, slots=True)
class Taken:
    """The files of a folder by the path that findings show, and what was refused; ``shown`` is the folder's own."""

    shown: str
    files: dict[str, bytes]
    refused: tuple[Problem, ...]

    def inside(self, path: str) -> str:
        """Where a file lies in the folder."""
        return path.removeprefix(f"{self.shown}/") if self.shown else path

    def content(self) -> bytes:
        """Everything that decides what is read: names, contents, and what is refused."""
        return repr((sorted(self.files.items()), self.refused)).encode("utf-8", "surrogatepass")


def take_in(folder: Path, shown_as: str | None = None, *, only: Collection[str] | None = None) -> Taken:
    """The files of a protocol set; ``only`` names those of its protocols to take in, if not all.

    Findings name the files below ``shown_as``, or else below the folder as given. Only regular files are opened. Links
    that lead out of the folder, and anything else in a file's place, are refused with a problem. Raises
    NotADirectoryError if the folder is none or not there.
    """
    if not folder.is_dir():
        raise NotADirectoryError(f"{folder} is no folder")
    shown = (folder.as_posix() if shown_as is None else shown_as).rstrip("/")
    intake = _Intake(folder.resolve(), "" if shown == "." else shown, only)
    files = dict(intake.files())
    return Taken(intake.shown, files, tuple(intake.refused))


class _Intake:
    """Takes in the files of a folder that may be read, and notes those that may not."""

    def __init__(self, folder: Path, shown: str, only: Collection[str] | None) -> None:
        self.folder = folder
        self.only = only
        self.shown = shown
        self.refused: list[Problem] = []
        self.count = 0

    def files(self) -> Iterator[tuple[str, bytes]]:
        """Every file of the set, with its content; where a change was broken off, as it is after that change."""
        try:
            done = half_done_in(self.folder)
        except ValueError as error:
            self._refuse(f"{ASIDE}/{READY}", str(error), f"take the folder {ASIDE} away")
            done = None
        if done is None:
            yield from self._in_place()
            return
        told = f"{done.what}, and that was broken off; what is read here is the text after it"
        self._refuse(f"{ASIDE}/{READY}", told, f"run `{done.command}`, which ends it")
        found = waiting(self.folder, done)
        kept = ((path, data) for path, data in self._in_place() if self._name(path) not in {*found, *done.remove})
        there = ((self._path(name), _content(place)) for name, place in found.items() if self._is_wanted(name))
        yield from sorted((*kept, *there))

    def _in_place(self) -> Iterator[tuple[str, bytes]]:
        """Every file as it lies in the folder. Names that begin with a dot are passed over."""
        for name, entry in self._listed(self.folder, ""):
            if name.lower().endswith(_NAMES):
                yield from self._file(name, entry)
            elif self._is_folder(name, entry):
                for inner, found in self._listed(Path(entry.path), f"{name}/"):
                    if inner.lower().endswith(_NAMES):
                        yield from self._file(inner, found)

    def _listed(self, folder: Path, prefix: str) -> list[tuple[str, os.DirEntry[str]]]:
        try:
            with os.scandir(folder) as found:
                return sorted((prefix + entry.name, entry) for entry in found if not entry.name.startswith("."))
        except OSError as error:
            self._refuse(prefix.rstrip("/"), f"this folder cannot be read: {error.strerror}", "check its permissions")
            return []

    def _is_folder(self, name: str, entry: os.DirEntry[str]) -> bool:
        if entry.is_symlink():
            if name == "parts":
                self._refuse(
                    name,
                    "the folder parts is a link, and links to folders are not followed",
                    "put the folder itself here",
                )
            return False
        return entry.is_dir(follow_symlinks=False)

    def _file(self, name: str, entry: os.DirEntry[str]) -> Iterator[tuple[str, bytes]]:
        """The file's content, if it is a regular file of this folder that can be read."""
        self.count += 1
        if self.count > MOST_FILES:
            if self.count == MOST_FILES + 1:
                self._refuse(
                    name,
                    f"the set has more than {MOST_FILES:,} files; this one and those after it are not read",
                    "split it",
                )
            return
        if not self._is_wanted(name):
            return
        target = Path(entry.path)
        if entry.is_symlink():
            try:
                target = target.resolve(strict=True)
            except (OSError, RuntimeError):
                self._refuse(name, "this is a link that leads nowhere", "put the file itself here")
                return
            if not target.is_relative_to(self.folder):
                self._refuse(
                    name,
                    "this is a link that leads out of the protocol folder, and is not followed",
                    "put the file itself here",
                )
                return
        try:
            yield self._path(name), _content(target)
        except OSError as error:
            self._refuse(
                name, f"this file cannot be read: {error.strerror or error}", "check what it is, and its permissions"
            )

    def _is_wanted(self, name: str) -> bool:
        return self.only is None or name in self.only or place_of(name, "").kind != "protocol"

    def _refuse(self, name: str, message: str, hint: str) -> None:
        span = Span(self._path(name), 1, 1, 1, 1)
        subject = name.rpartition("/")[2].removesuffix(".yaml")
        self.refused.append(Problem("bad-shape", span, message, subject=subject, hint=hint))

    def _name(self, path: str) -> str:
        return path.removeprefix(f"{self.shown}/") if self.shown else path

    def _path(self, name: str) -> str:
        """How findings show a file: a name with characters that a terminal or a log would obey loses them."""
        shown = re.sub(r"[\t\n\r]", "\ufffd", UNSEEN.sub("\ufffd", os.fsencode(name).decode("utf-8", "replace")))
        return f"{self.shown}/{shown}" if self.shown else shown


def _content(path: Path) -> bytes:
    """At most one byte more than a file may have. Raises OSError if it is no regular file, or a link by now."""
    handle = os.open(
        path, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    )
    with os.fdopen(handle, "rb") as file:
        if not stat.S_ISREG(os.fstat(handle).st_mode):
            raise OSError(0, "it is no regular file")
        return file.read(MOST_BYTES + 1)
