"""Putting the new files of a set in the place of the old ones: all of them or none, wherever it is broken off."""

from __future__ import annotations

import contextlib
import errno
import os
import shutil
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from ..language.half_done import ASIDE, READY, HalfDone, half_done_in, waiting
from ..language.intake import take_in
from ..language.tailoring import digest_of

REPORTS = "catch-up"
"""The folder beside the set's own in which reports are kept."""
_REPORT = "report.md"
Step = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Ended:
    """What was ended, where the report on it lies if there is one, and copies of files that were changed since."""

    done: HalfDone
    report: Path | None
    kept: tuple[Path, ...]


class ChangedMeanwhileError(Exception):
    """Some file of the set is not what it was when the change was worked out."""


def swap(
    folder: Path,
    before: Mapping[str, bytes],
    after: Mapping[str, bytes],
    to: str = "",
    report: tuple[str, str] | None = None,
    step: Step = lambda _: None,
) -> None:
    """Makes the files of a set what they are ``after``, and keeps the report, given by its name and text.

    ``to`` is the version that is taken in, empty where edits are moved into tailoring.yaml.

    Everything is written aside first; then one file says that it counts, and only then is it moved. Broken off at any
    moment, the set reads as ``before`` or as ``after``, and ``finish`` ends it. ``step`` is told what was just done.
    Raises ChangedMeanwhileError if the files are not as ``before``, OSError if something cannot be written, or is a
    link.
    """
    changed = {path: data for path, data in after.items() if before.get(path) != data}
    gone = before.keys() - after.keys()
    done = HalfDone(to, _digests(changed, before), _digests(gone, before), report[0] if report else "")
    for path in (*changed, *gone):
        _check(folder / path)
    aside = folder / ASIDE
    if aside.is_symlink():
        aside.unlink()
    shutil.rmtree(aside, ignore_errors=True)
    (aside / "parts").mkdir(parents=True)
    step("a folder aside")
    told = [] if report is None else [(_REPORT, report[1].encode())]
    for path, data in (*sorted(changed.items()), *told):
        _write(aside / path, data)
        if (folder / path).is_file():
            shutil.copymode(folder / path, aside / path)
        step(f"{path} aside")
    if report is not None:
        _reports(folder).mkdir(exist_ok=True)
        step("a folder for reports")
    taken = take_in(folder)
    if {taken.inside(path): data for path, data in taken.files.items()} != dict(before):
        shutil.rmtree(aside, ignore_errors=True)
        raise ChangedMeanwhileError
    _write(aside / f"{READY}.new", done.content().encode())
    _sync(aside, aside / "parts")
    step("the list aside")
    (aside / f"{READY}.new").replace(aside / READY)
    _sync(aside)
    step("the list counts")
    finish(folder, step)


def finish(folder: Path, step: Step = lambda _: None) -> Ended | None:
    """Ends what was broken off in a set's folder, and tells what it was; None if there was nothing.

    A file that somebody changed since then goes into the folder of reports before it is replaced. Raises ValueError if
    the list of what is to be done is not one that the program wrote, OSError if something cannot be written.
    """
    done = half_done_in(folder)
    if done is None:
        return None
    aside = folder / ASIDE
    reports = _reports(folder)
    if done.report:
        reports.mkdir(exist_ok=True)
    if any(path.startswith("parts/") for path in done.write):
        (folder / "parts").mkdir(exist_ok=True)
    places = waiting(folder, done)
    changed = {path: digest for path, digest in done.write.items() if path in places} | {**done.remove}
    kept = tuple(
        kept for path, digest in changed.items() if (kept := _kept(folder / path, digest, reports)) is not None
    )
    for path, place in places.items():
        place.replace(folder / path)
        step(f"{path} in its place")
    for path in done.remove:
        (folder / path).unlink(missing_ok=True)
        step(f"{path} taken away")
    if (aside / _REPORT).is_file():
        (aside / _REPORT).replace(reports / done.report)
        step("the report in its place")
    _sync(folder, folder / "parts")
    (aside / READY).unlink()
    step("the list is gone")
    shutil.rmtree(aside, ignore_errors=True)
    return Ended(done, reports / done.report if done.report else None, kept)


def _reports(folder: Path) -> Path:
    return folder.resolve().parent / REPORTS


def _check(place: Path) -> None:
    """Raises OSError if a file that is to be replaced or taken away may not be."""
    if place.is_symlink():
        raise OSError(errno.ELOOP, "it is a link", str(place))
    if place.exists() and not os.access(place, os.W_OK):
        raise PermissionError(errno.EACCES, "it may not be written", str(place))


def _digests(paths: Iterable[str], files: Mapping[str, bytes]) -> dict[str, str]:
    return {path: digest_of(files[path]) if path in files else "" for path in sorted(paths)}


def _kept(place: Path, digest: str, reports: Path) -> Path | None:
    """Where a file was copied to that is not what it was when the run began; None if it is."""
    if not place.is_file() or digest_of(place.read_bytes()) == digest:
        return None
    reports.mkdir(exist_ok=True)
    target = reports / f"{place.name}.as-edited"
    number = 1
    while target.exists() and target.read_bytes() != place.read_bytes():
        number += 1
        target = reports / f"{place.name}.as-edited-{number}"
    shutil.copyfile(place, target)
    return target


def _write(place: Path, data: bytes) -> None:
    with place.open("wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def _sync(*folders: Path) -> None:
    """Lets the names in folders reach the disk, where the system can do that."""
    for folder in folders:
        with contextlib.suppress(OSError):
            handle = os.open(folder, os.O_RDONLY)
            try:
                os.fsync(handle)
            finally:
                os.close(handle)
