"""Tables for other programs to open: comma-separated values, in which no cell can act as a formula."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass

Cell = str | int | float
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")
"""How a cell begins that a spreadsheet program may work out instead of showing it.

The signs are those that the OWASP page "CSV Injection" names, as is the answer: an apostrophe before them. From memory.
"""


@dataclass(frozen=True, slots=True)
class Table:
    """One sheet: its name, its headings, and rows with a cell for each heading."""

    name: str
    headings: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]


def csv_table(tables: Sequence[Table]) -> bytes:
    """Tables one below the other, in UTF-8 with its mark, by which spreadsheet programs know it.

    A single table has nothing but its headings and rows; several have their names above them, and an empty row between.
    """
    text = io.StringIO(newline="")
    lines = csv.writer(text, lineterminator="\r\n")
    for number, table in enumerate(tables):
        if number:
            lines.writerow([])
        if len(tables) > 1:
            lines.writerow([_harmless(table.name)])
        lines.writerow([_harmless(one) for one in table.headings])
        lines.writerows([_harmless(cell) for cell in row] for row in table.rows)
    return text.getvalue().encode("utf-8-sig")


def _harmless(cell: Cell) -> Cell:
    """The cell, or where it is text that could be taken for a formula, the text with an apostrophe before it."""
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(FORMULA) else cell
