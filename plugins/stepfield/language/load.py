"""Reading a protocol set from a folder, without ever leaving it."""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from .build import build_set
from .model import ProtocolSet
from .source import Problem, Span
from .yaml_text import MOST_BYTES, UNSEEN

MOST_FILES = 2000
_NAMES = (".yaml", ".yml", ".yaml.txt", ".yml.txt")
"""Endings of files that are meant as files of a set, even where they are misnamed; compared in small letters."""


def read_set(folder: Path, shown_as: str | None = None) -> ProtocolSet:
    """Reads the protocol set in a folder.

    Findings name its files below ``shown_as``, or else below the folder as given.
    Only regular files are opened. Links that lead out of the folder, and anything else in a file's place, are
    refused with a problem. Raises NotADirectoryError if the folder is none or not there.
    """
    if not folder.is_dir():
        raise NotADirectoryError(f"{folder} is no folder")
    shown = (folder.as_posix() if shown_as is None else shown_as).rstrip("/")
    intake = _Intake(folder.resolve(), "" if shown == "." else shown)
    files = dict(intake.files())
    found = build_set(files, intake.shown)
    if not intake.refused:
        return found
    refused = {problem.span.path for problem in intake.refused}
    kept = [problem for problem in found.problems if problem.span.path not in refused and not _is_unused(problem)]
    problems = sorted([*kept, *intake.refused], key=lambda problem: problem.span)
    return replace(found, problems=tuple(problems))


def content_of(folder: Path) -> bytes:
    """Everything that decides what ``read_set`` reads from a folder: names, contents, and what is refused.

    Raises NotADirectoryError if the folder is none or not there.
    """
    if not folder.is_dir():
        raise NotADirectoryError(f"{folder} is no folder")
    intake = _Intake(folder.resolve(), "")
    files = sorted(intake.files())
    return repr((files, intake.refused)).encode("utf-8", "surrogatepass")


def _is_unused(problem: Problem) -> bool:
    """Whether something is said to be used by no protocol: a file that was refused may use it."""
    return problem.rule == "unused-name" and problem.protocol is None


class _Intake:
    """Takes in the files of a folder that may be read, and notes those that may not."""

    def __init__(self, folder: Path, shown: str) -> None:
        self.folder = folder
        self.shown = shown
        self.refused: list[Problem] = []
        self.count = 0

    def files(self) -> Iterator[tuple[str, bytes]]:
        """Every file of the set, with its content. Names that begin with a dot are passed over."""
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

    def _refuse(self, name: str, message: str, hint: str) -> None:
        span = Span(self._path(name), 1, 1, 1, 1)
        subject = name.rpartition("/")[2].removesuffix(".yaml")
        self.refused.append(Problem("bad-shape", span, message, subject=subject, hint=hint))

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
