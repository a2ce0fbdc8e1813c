"""Tells running screens of a new build, once all of it is there."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping
from pathlib import Path

from .making import VERSION


def publish(site: Path, files: Mapping[str, bytes]) -> None:
    """Puts the script that tells the build into a finished site, if there is one among its files.

    Raises OSError where it cannot be written.
    """
    if VERSION in files:
        put(site / VERSION, files[VERSION])


def put(path: Path, content: bytes) -> None:
    """Writes a file aside and moves it into place: whoever reads it sees the old one or the new one, never half."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, aside = tempfile.mkstemp(dir=path.parent, prefix=".", suffix=".part")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        Path(aside).chmod(0o644)
        Path(aside).replace(path)
    except OSError:
        Path(aside).unlink(missing_ok=True)
        raise
