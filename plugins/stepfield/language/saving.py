"""Writing changed texts back into the files of a protocol set: whole or not at all, and never through a link."""

from __future__ import annotations

import contextlib
import os
import stat
import tempfile
from collections.abc import Mapping
from pathlib import Path

_MARK = "\ufeff"


class CannotSaveError(Exception):
    """A file can't be written; says which and why, for people. It still holds what it held."""


def save(folder: Path, before: Mapping[str, str], after: Mapping[str, str | bytes]) -> None:
    """Puts new texts in the place of the old ones; both by path as findings show it, for a set read from ``folder``.

    Bytes are written as they are. Everything is written aside first, with the mode of the file it replaces, and then
    moved into place, in the order of ``after``. The byte order mark of a text stays. Raises CannotSaveError if a file
    is a link or no regular file, may not be written, or no longer holds the text it held before.
    """
    shown = folder.as_posix().rstrip("/")
    ready: list[tuple[Path, Path]] = []
    try:
        for path, text in after.items():
            target = folder / (path if shown == "." else path.removeprefix(f"{shown}/"))
            try:
                ready.append((_aside(folder, target, before.get(path, ""), text), target))
            except OSError as error:
                raise CannotSaveError(f"{path} cannot be written: {error.strerror or error}") from None
        for aside, target in ready:
            aside.replace(target)
    except OSError as error:
        raise CannotSaveError(f"{error.filename2 or error.filename} cannot be replaced: {error.strerror}") from None
    finally:
        for aside, _ in ready:
            with contextlib.suppress(OSError):
                aside.unlink()


def _aside(folder: Path, target: Path, before: str, text: str | bytes) -> Path:
    """Writes the text into a new file beside its target; its path. Raises OSError with the reason if it may not be."""
    if target.parent != folder and (target.parent != folder / "parts" or target.parent.is_symlink()):
        raise OSError(0, "it does not lie in the set's own folder")
    handle = os.open(target, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0))
    with os.fdopen(handle, "rb") as file:
        status = os.fstat(file.fileno())
        if not stat.S_ISREG(status.st_mode) or target.is_symlink():
            raise OSError(0, "it is a link, or no regular file")
        old = file.read().decode("utf-8")
    if old.removeprefix(_MARK) != before:
        raise OSError(0, "it was changed in the meantime; check it once more")
    if not os.access(target, os.W_OK):
        raise OSError(0, "it may not be written")
    number, name = tempfile.mkstemp(prefix=f".{target.name}.", dir=target.parent)
    aside = Path(name)
    try:
        with os.fdopen(number, "wb") as file:
            kept = _MARK if old.startswith(_MARK) else ""
            file.write(text if isinstance(text, bytes) else f"{kept}{text}".encode())
            file.flush()
            os.fsync(file.fileno())
        aside.chmod(stat.S_IMODE(status.st_mode))
    except OSError:
        aside.unlink()
        raise
    return aside
