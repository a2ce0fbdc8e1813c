"""Which of two versions of a set is the newer one."""

from __future__ import annotations

UNNUMBERED = "0.0.0-files."
"""How a version begins that was made of the files' content, because nobody gave one."""


def is_numbered(version: str) -> bool:
    """Whether somebody gave the version, so that it can be told to be newer or older than another."""
    return not version.startswith(UNNUMBERED)


def is_older(version: str, other: str) -> bool:
    """Whether a version comes before another by the order of semantic versioning 2.0.0, section 11 (semver.org)."""
    return _order(version) < _order(other)


def _order(version: str) -> tuple[object, ...]:
    numbers, _, early = version.partition("+")[0].partition("-")
    parts = tuple((0, int(part), "") if part.isdecimal() else (1, 0, part) for part in early.split("."))
    # A version with something behind its numbers comes before the one with the numbers alone.
    return (*(int(number) for number in numbers.split(".")), not early, parts if early else ())
