"""Reading a protocol set from a folder."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from .build import build_set
from .intake import Taken, take_in
from .model import Passed, ProtocolSet
from .source import Problem


def read_set(folder: Path, shown_as: str | None = None) -> ProtocolSet:
    """Reads the protocol set in a folder.

    Findings name its files below ``shown_as``, or else below the folder as given.
    Only regular files are opened. Links that lead out of the folder, and anything else in a file's place, are
    refused with a problem. Raises NotADirectoryError if the folder is none or not there.
    """
    return set_of(take_in(folder, shown_as))


def language_of(folder: Path) -> str:
    """The language that a set's clinic.yaml asks for, English where it asks for none or cannot be read."""
    if not folder.is_dir():
        return "en"
    files = {path: text for path, text in take_in(folder, only=()).files.items() if path.endswith("/clinic.yaml")}
    clinic = build_set(files).clinic
    return clinic.language if clinic is not None else "en"


def set_of(taken: Taken, passed: Iterable[Passed] = ()) -> ProtocolSet:
    """Reads the protocol set in files taken in; those of the protocols that ``passed`` are not read once more."""
    found = build_set(taken.files, taken.shown, passed)
    if not taken.refused:
        return found
    refused = {problem.span.path for problem in taken.refused}
    kept = [problem for problem in found.problems if problem.span.path not in refused and not _is_unused(problem)]
    problems = sorted([*kept, *taken.refused], key=lambda problem: problem.span)
    return replace(found, problems=tuple(problems))


def _is_unused(problem: Problem) -> bool:
    """Whether something is said to be used by no protocol: a file that was refused may use it."""
    return problem.rule == "unused-name" and problem.protocol is None
