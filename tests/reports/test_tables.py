"""Tables for spreadsheet programs: read back with other libraries, and no cell in them acts."""

from __future__ import annotations

import csv
import io
import sys

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stepfield.reports.tables import FORMULA, Table, csv_table
from stepfield.reports.workbook import xlsx_table

# What OWASP's page "CSV Injection" warns of, and forms of it that were used against spreadsheet programs; from memory.
HOSTILE = (
    "=1+1",
    "=cmd|'/C calc'!A0",
    "+1+1",
    "-2+3",
    "@SUM(1+1)",
    "\t=1+1",
    "\r=1+1",
    '=HYPERLINK("http://example.test","x")',
    "http://example.test/",
    "{=1+1}",
)


def table(*cells: str) -> Table:
    return Table("Things", ("What", "How many"), tuple((cell, number) for number, cell in enumerate(cells)))


@pytest.mark.parametrize("cell", HOSTILE)
def test_no_cell_of_a_csv_begins_like_a_formula(cell: str) -> None:
    rows = list(csv.reader(io.StringIO(csv_table([table(cell)]).decode("utf-8-sig"), newline="")))
    assert rows[0] == ["What", "How many"]
    assert not rows[1][0].startswith(FORMULA)
    assert rows[1][0].removeprefix("'") == cell


@pytest.mark.parametrize("cell", HOSTILE)
def test_every_text_of_a_workbook_is_text(cell: str) -> None:
    book = openpyxl.load_workbook(io.BytesIO(xlsx_table([table(cell)])))
    found = book["Things"]["A2"]
    assert found.data_type == "s"
    assert found.hyperlink is None
    assert str(found.value).replace("_x000D_", "\r") == cell
    assert book["Things"]["B2"].data_type == "n"


def test_headings_and_names_are_harmless_too() -> None:
    hostile = Table("=a/b:c", ("=1+1",), (("x",),))
    lines = csv_table([hostile, hostile]).decode("utf-8-sig").split("\r\n")
    assert lines == ["'=a/b:c", "'=1+1", "x", "", "'=a/b:c", "'=1+1", "x", ""]
    book = openpyxl.load_workbook(io.BytesIO(xlsx_table([hostile, hostile])))
    assert book.sheetnames == ["=a b c", "=a b c 2"]


@given(st.lists(st.tuples(st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=20), st.integers(0, 10**6))))
def test_what_is_written_is_what_is_read(rows: list[tuple[str, int]]) -> None:
    written = csv_table([Table("T", ("a", "b"), tuple(rows))]).decode("utf-8-sig")
    read = list(csv.reader(io.StringIO(written, newline="")))[1:]
    assert len(read) == len(rows)
    for (text, number), (cell, count) in zip(rows, read, strict=True):
        assert cell == (f"'{text}" if text.startswith(FORMULA) else text)
        assert int(count) == number


def test_the_same_tables_are_the_same_bytes() -> None:
    assert xlsx_table([table("a")]) == xlsx_table([table("a")])
    assert "xlsxwriter" in sys.modules
