"""A table from a file of comma-separated values or a spreadsheet: its cells as text, nothing in it evaluated.

The one place that knows the library for spreadsheets, which is only needed for .xlsx files.
"""

from __future__ import annotations

import csv
import io
import zipfile
from dataclasses import dataclass
from itertools import islice

MOST_BYTES = 20 * 2**20
MOST_UNPACKED = 200 * 2**20
"""A spreadsheet is a compressed archive: what it would unpack to is looked at before it is opened."""
MOST_ROWS = 2_000
"""More steps than that are never read in one protocol."""
ROWS_LOOKED_AT = 3 * MOST_ROWS
"""Empty rows among them cost nothing; whatever comes after these is not looked at."""
MOST_COLUMNS = 60
MOST_CELL = 5_000


class TableError(Exception):
    """The file can't be taken as a table of steps; the message says why, and what to do."""


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of cells as text, trimmed, with the number each row has in the file; rows without any text are left out."""

    rows: tuple[tuple[int, tuple[str, ...]], ...]


def read_table(name: str, content: bytes) -> Table:
    """Reads a table by the ending of its file's name. Raises TableError."""
    if len(content) > MOST_BYTES:
        raise TableError(f"it is larger than {MOST_BYTES // 2**20} MiB; save only the sheet with the steps")
    ending = name.lower().rpartition(".")[2]
    if ending in ("xlsx", "xlsm"):
        return _table(_spreadsheet(content))
    if ending in ("csv", "tsv", "txt"):
        return _table(_separated(content))
    raise TableError("only .csv and .xlsx are read; save the table as one of them")


def _table(rows: list[list[str]]) -> Table:
    kept = [
        (number, tuple(" ".join(cell.split())[:MOST_CELL] for cell in row[:MOST_COLUMNS]))
        for number, row in enumerate(rows, start=1)
        if any(cell.strip() for cell in row)
    ]
    if not kept:
        raise TableError("there is nothing in it")
    if len(kept) > MOST_ROWS:
        raise TableError(
            f"it has more than {MOST_ROWS:,} rows, and a protocol has at most so many steps: split the table"
        )
    return Table(tuple(kept))


def _separated(content: bytes) -> list[list[str]]:
    text = _decoded(content)
    if "\0" in text:
        raise TableError("it is no text; save the table as .csv or .xlsx")
    csv.field_size_limit(MOST_BYTES)
    try:
        lines = csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text))
        return list(islice(lines, ROWS_LOOKED_AT))
    except csv.Error as error:
        raise TableError(f"it can't be read as a table ({error})") from None


def _decoded(content: bytes) -> str:
    """As spreadsheets write text: UTF-8 or UTF-16 with their marks, else Windows' Western code page."""
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return content.decode("utf-16", errors="replace")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", errors="replace")


def _delimiter(text: str) -> str:
    """The separator that cuts the first lines into the most columns of one number."""
    lines = [line for line in text.splitlines()[:30] if line.strip()]

    def score(mark: str) -> tuple[int, int]:
        counts = [len(row) for row in csv.reader(lines, delimiter=mark)]
        usual = max(set(counts), key=counts.count, default=1)
        return (counts.count(usual) if usual > 1 else 0, usual)

    return max(";\t,|", key=score)


def _spreadsheet(content: bytes) -> list[list[str]]:
    try:
        from openpyxl import load_workbook
    except ImportError:
        raise TableError(
            "spreadsheets need the extra 'sheets' (pip install 'stepfield[sheets]'); or save the table as .csv"
        ) from None
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            if sum(entry.file_size for entry in archive.infolist()) > MOST_UNPACKED:
                raise TableError("it unpacks to far more than a table of steps; save only that sheet")
        # Values as they were last shown: no formula is worked out, no macro looked at, no link followed.
        book = load_workbook(io.BytesIO(content), read_only=True, data_only=True, keep_links=False)
        sheet = book.worksheets[0]
        rows = [
            ["" if cell is None else f"{cell:g}" if isinstance(cell, float) else str(cell) for cell in row]
            for row in sheet.iter_rows(max_row=ROWS_LOOKED_AT, max_col=MOST_COLUMNS, values_only=True)
        ]
    except TableError:
        raise
    except Exception as error:  # the library raises whatever a damaged archive or XML makes it stumble over
        raise TableError(f"it can't be read as a spreadsheet ({type(error).__name__})") from None
    return rows
