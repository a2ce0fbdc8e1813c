"""Taking the files of a protocol set to be adopted out of a folder, or out of the history of a repository."""

from __future__ import annotations

import hashlib
import os
import re
from pathlib import Path

from ..changes import HistoryError, commit_of, taken_from
from ..language import ProtocolSet, Taken, set_of, take_in
from ..language.files import place_of
from .beginning import Source

_KINDS = ("protocol", "part", "evidence")
"""What is shared; clinic.yaml, screens.yaml, packs.yaml and accepted.yaml tell of the clinic that wrote them."""
_VERSION = re.compile(r"(?:.*/)?v?((?:0|[1-9][0-9]{0,8})(?:\.(?:0|[1-9][0-9]{0,8})){2}(?:-[0-9A-Za-z.-]{1,40})?)")


class CannotAdoptError(Exception):
    """The set cannot be adopted; says why and what to do, for people."""


def source_in(source: Path, ref: str | None = None, version: str | None = None) -> Source:
    """The set in a folder (or in its folder ``protocols``), as it lies there or as it stood at a commit, branch or tag.

    The version is the one told, or the one that ``ref`` is called after, or one made of the files' content. Raises
    CannotAdoptError if there is no set, if it cannot be read as meant, or if it was itself adopted from another.
    """
    taken = _taken(source, ref)
    for problem in taken.refused:
        raise CannotAdoptError(f"{problem.span.path}: {problem.message}")
    found = set_of(taken)
    _check(found, taken)
    assert found.clinic is not None
    files = {
        taken.inside(path): data
        for path, data in sorted(taken.files.items())
        if place_of(taken.inside(path), "").kind in _KINDS
    }
    if not any(place_of(path, "").kind == "protocol" for path in files):
        raise CannotAdoptError(f"there is no protocol in {source.as_posix()}")
    return Source(
        clinic=found.clinic,
        version=_version(version, ref, files),
        files=files,
        place=source.as_posix(),
        commit=None if ref is None else commit_of(source, ref),
    )


def place_from(home: Path, source: Path) -> str:
    """How a place is written down in a clinic's folder ``home``: as seen from there, unless it was told in full."""
    if source.is_absolute():
        return source.as_posix()
    try:
        return Path(os.path.relpath(source.resolve(), home.resolve())).as_posix()
    except ValueError:  # on another drive
        return source.resolve().as_posix()


def _taken(source: Path, ref: str | None) -> Taken:
    if not source.is_dir():
        raise CannotAdoptError(f"{source.as_posix()} is no folder")
    inner = source / "protocols"
    try:
        if ref is not None:
            return _at(source, inner, ref)
        folder = next((one for one in (source, inner) if (one / "clinic.yaml").is_file()), None)
        if folder is None:
            raise CannotAdoptError(
                f"no protocol set in {source.as_posix()}: neither it nor its folder protocols has a clinic.yaml"
            )
        return take_in(folder)
    except HistoryError as error:
        raise CannotAdoptError(str(error)) from None
    except OSError as error:
        raise CannotAdoptError(f"{source.as_posix()} cannot be read: {error.strerror or error}") from None


def _at(source: Path, inner: Path, ref: str) -> Taken:
    commit_of(source, ref)
    try:
        return taken_from(source, ref)
    except HistoryError:
        if not inner.is_dir():
            raise
        return taken_from(inner, ref)


def _check(found: ProtocolSet, taken: Taken) -> None:
    kinds = {place_of(taken.inside(path), "").kind for path in taken.files}
    if {"tailoring", "upstream"} & kinds:
        raise CannotAdoptError(
            "this set was itself adopted from another, and changes in it are local ones; adopt that other one"
        )
    unread = [problem for problem in found.problems if problem.rule in ("bad-yaml", "bad-shape")]
    if unread:
        first = unread[0]
        raise CannotAdoptError(
            f"a file cannot be read as meant, {first.span.path} line {first.span.line}: {first.message}; "
            "have it mended there, or use a stepfield as new as that set"
        )


def _version(told: str | None, ref: str | None, files: dict[str, bytes]) -> str:
    named = _VERSION.fullmatch(told if told is not None else ref or "")
    if named is not None:
        return named[1]
    if told is not None:
        raise CannotAdoptError(f"{told!r} is no version; write three numbers, such as 3.2.0")
    digest = hashlib.sha256()
    for path, data in files.items():
        digest.update(hashlib.sha256(path.encode() + b"\n" + data).digest())
    return f"0.0.0-files.{digest.hexdigest()[:12]}"
