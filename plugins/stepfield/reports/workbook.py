"""Tables as a spreadsheet. The one place that knows the library which writes them."""

from __future__ import annotations

import datetime
import io
import re
from collections.abc import Sequence

from .tables import Table

_LONGEST_NAME, _WIDEST = 31, 60
_TEXT_ONLY = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False, "in_memory": True}
_MADE = datetime.datetime(2026, 1, 1)  # noqa: DTZ001 - the format knows no zone; fixed, so that the same tables are the same bytes


class WorkbookError(Exception):
    """No spreadsheet can be written; the message says why, and what to do."""


def xlsx_table(tables: Sequence[Table]) -> bytes:
    """A workbook with a sheet for each table; every text stays text. Raises WorkbookError without the library."""
    try:
        from xlsxwriter import Workbook  # type: ignore[import-untyped]
    except ImportError:
        raise WorkbookError(
            "spreadsheets need the extra 'sheets' (pip install 'stepfield[sheets]'); or write the table with --csv"
        ) from None
    content = io.BytesIO()
    book = Workbook(content, _TEXT_ONLY)
    book.set_properties({"created": _MADE})
    head = book.add_format({"bold": True, "text_wrap": True, "valign": "top"})
    body = book.add_format({"text_wrap": True, "valign": "top"})
    for name, table in zip(_names(tables), tables, strict=True):
        sheet = book.add_worksheet(name)
        sheet.freeze_panes(1, 0)
        for column, heading in enumerate(table.headings):
            cells = [str(row[column]) for row in table.rows]
            sheet.set_column(column, column, min(_WIDEST, 2 + max(map(len, [heading, *cells]))), body)
            sheet.write_string(0, column, heading, head)
        for number, row in enumerate(table.rows, start=1):
            for column, cell in enumerate(row):
                if isinstance(cell, str):
                    sheet.write_string(number, column, cell)
                else:
                    sheet.write_number(number, column, cell)
    book.close()
    return content.getvalue()


def _names(tables: Sequence[Table]) -> list[str]:
    """Names that a sheet may have, each once: without some signs, not too long, compared in small letters."""
    found: dict[str, str] = {}
    for table in tables:
        plain = re.sub(r"[\[\]:*?/\\]", " ", table.name).strip("' ") or "Sheet"
        name, number = plain[:_LONGEST_NAME], 1
        while name.casefold() in found or name.casefold() == "history":
            number += 1
            name = f"{plain[: _LONGEST_NAME - len(str(number)) - 1]} {number}"
        found[name.casefold()] = name
    return list(found.values())
