"""Which column of a clinic's own table means what: headings are matched by the words people use for them."""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Sequence

HEADINGS = {
    "number": ("no", "nr", "number", "step no", "step number", "#", "id", "order"),
    "role": ("role", "who", "person", "responsible", "by", "staff", "performed by", "owner", "team member"),
    "do": ("what", "step", "action", "activity", "task", "do", "description", "instruction", "procedure", "details"),
    "with": ("with", "using", "equipment", "material", "materials", "items", "needed", "helper", "together with"),
    "after": ("after", "comes after", "depends on", "previous", "predecessor", "wait for", "following", "once"),
    "why": ("why", "reason", "rationale", "because", "purpose", "explanation"),
    "caution": ("caution", "cautions", "warning", "warnings", "risk", "hazard", "beware", "take care"),
    "takes": ("time", "duration", "takes", "minutes", "how long", "length"),
    "phase": ("phase", "stage", "part", "section", "when", "period"),
}
"""What a column may be called, by the field it becomes; the first word of each is the plainest."""
_HEADER_ROWS = 15
"""A heading is looked for in so many rows: titles and dates often stand above it."""


def plain(text: str) -> str:
    """A heading or a name without accents, marks and capitals."""
    letters = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
    return " ".join(re.sub(r"[^a-z0-9#]+", " ", letters).split())


def find_header(rows: Sequence[tuple[int, tuple[str, ...]]]) -> tuple[int, dict[int, str]] | None:
    """The position of the heading row and what each column means; None if no row names both who and what."""
    best: tuple[int, dict[int, str]] | None = None
    for position, (_, cells) in enumerate(rows[:_HEADER_ROWS]):
        meant = _meant(cells)
        if {"role", "do"} <= set(meant.values()) and (best is None or len(meant) > len(best[1])):
            best = (position, meant)
    return best


def _meant(cells: Sequence[str]) -> dict[int, str]:
    found: dict[int, str] = {}
    scored = sorted(
        ((_score(cell, field), -column, field) for column, cell in enumerate(cells) for field in HEADINGS), reverse=True
    )
    for score, column, field in scored:
        if score >= 0.8 and -column not in found and field not in found.values():
            found[-column] = field
    return dict(sorted(found.items()))


def _score(cell: str, field: str) -> float:
    """How well a heading fits a field: 1 for one of its words, less for a near miss or a word among others."""
    heading = plain(cell)
    if not heading:
        return 0.0
    names = HEADINGS[field]
    if heading in names:
        return 1.0 + 0.1 * (heading == names[0])
    if len(heading) <= 40 and set(heading.split()) & {name for name in names if len(name) > 2}:
        return 0.9
    near = difflib.get_close_matches(heading, names, 1, 0.8)
    return 0.85 if near and len(heading) > 3 else 0.0
