"""What is measured: one number growing at a time, a worst case, and the demonstration protocols."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from .models import Size, as_files, coupled, protocol_sized

ROOT = Path(__file__).parents[1]
AXES = {
    "steps": [Size(steps, 4, 2, 8) for steps in (60, 100, 150, 200)],
    "roles": [Size(140, roles, 2, 10) for roles in (2, 3, 4, 5, 6)],
    "choices": [Size(140, 4, choices, 12) for choices in (0, 2, 4, 6, 8)],
    "width": [Size(200, 6, 2, width) for width in (5, 10, 15, 20, 25)],
}
LARGEST = Size(200, 6, 8, 25)
SLIPS = [Size(40, 3, 2, 5, slip=True), Size(100, 4, 4, 12, slip=True), Size(200, 6, 8, 25, slip=True)]
COUPLED = [(2, 10), (3, 6), (3, 10), (4, 6), (4, 8), (6, 5)]
"""(lanes, steps of each); from 40,000 states on a solver is asked instead of searching further."""


@dataclass(frozen=True, slots=True)
class Case:
    """One protocol to measure: where it belongs in the tables, and the files it is read from."""

    group: str
    name: str
    protocol: str
    files: dict[str, bytes]
    along: int = 0
    """The number that grows, where one does."""


def all_cases(*, small: bool = False) -> Iterator[Case]:
    """Every case; ``small`` leaves all but the smallest of each group out."""
    for axis, sizes in AXES.items():
        for size in sizes[:1] if small else sizes:
            yield _made(f"growing {axis}", size, getattr(size, axis))
    if not small:
        yield _made("the largest promised", LARGEST)
    for size in SLIPS[:1] if small else SLIPS:
        yield _made("with one slip", size)
    for lanes, length in COUPLED[:1] if small else COUPLED:
        files = as_files({"made": coupled(lanes, length)})
        yield Case("everything handled by everybody", f"{lanes} lanes of {length} steps", "made", files)
    files = {
        path.relative_to(ROOT).as_posix(): path.read_bytes() for path in sorted((ROOT / "protocols").rglob("*.yaml"))
    }
    for name in ("skin-lesion", "toenail", "wrist-release"):
        yield Case("demonstration", name, name, files)


def _made(group: str, size: Size, along: int = 0) -> Case:
    return Case(group, size.name, "made", as_files({"made": protocol_sized(size)}), along)
