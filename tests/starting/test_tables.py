"""Ten tables as invented clinics might keep them, and what must be refused."""

from __future__ import annotations

import datetime
import io
import time
import zipfile

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stepfield.checks import check_set
from stepfield.language import build_set
from stepfield.language.model import Protocol, ProtocolSet
from stepfield.starting import TableError, draft_from, read_table
from stepfield.starting.sheets import MOST_ROWS, Table

ROLES = {"surgeon": "Surgeon", "scrub": "Scrub nurse", "circulating": "Circulating nurse"}
CLINIC = b"clinic: Quillhaven\nroles:\n" + b"".join(f"  {i}: {{title: {t}}}\n".encode() for i, t in ROLES.items())


def sheet(rows: list[list[object]]) -> bytes:
    book = openpyxl.Workbook()
    active = book.active
    assert active is not None
    for row in rows:
        active.append(row)
    content = io.BytesIO()
    book.save(content)
    return content.getvalue()


def drafted(name: str, content: bytes) -> tuple[Protocol, ProtocolSet, tuple[str, ...]]:
    draft = draft_from(read_table(name, content), "made-up", ROLES)
    found = build_set({"p/clinic.yaml": CLINIC, "p/made-up.yaml": draft.text.encode()})
    assert not [one for one in found.problems if one.rule in ("bad-yaml", "bad-shape")], draft.text
    (protocol,) = found.protocols
    return protocol, found, draft.not_understood


PLAIN = "role,step,after\nScrub nurse,Open the pack,\nSurgeon,Put on the gown,Open the pack\n"
TABLES: dict[str, tuple[str, bytes, list[tuple[str, str]]]] = {
    "plain": ("a.csv", PLAIN.encode(), [("scrub", "Open the pack"), ("surgeon", "Put on the gown")]),
    "semicolons, Western code page, a title above": (
        "b.csv",
        "Ablauf für Müller;;\n;;\nWho;What;Reason\nsurgeon;Blättern;Größe\n".encode("cp1252"),
        [("surgeon", "Blättern")],
    ),
    "tabs, UTF-16": (
        "c.txt",
        "Person\tActivity\nCirculating nurse\tWipe the table\n".encode("utf-16"),
        [("circulating", "Wipe the table")],
    ),
    "UTF-8 with its mark, capitals, quotes and line breaks in cells": (
        "d.csv",
        'ROLE,ACTION\n"Surgeon","Say ""stop"",\nand wait"\n'.encode("utf-8-sig"),
        [("surgeon", 'Say "stop", and wait')],
    ),
    "numbers for order": (
        "e.xlsx",
        sheet(
            [
                ["No.", "Responsible", "Task", "Depends on"],
                [1, "Scrub nurse", "Count", None],
                [2, "Surgeon", "Cut", 1.0],
            ]
        ),
        [("scrub", "Count"), ("surgeon", "Cut")],
    ),
    "role only on the first row of a block": (
        "f.xlsx",
        sheet([["Staff", "Description"], ["Scrub nurse", "One"], [None, "Two"], ["Surgeon", "Three"]]),
        [("scrub", "One"), ("scrub", "Two"), ("surgeon", "Three")],
    ),
    "phases, times and cautions": (
        "g.csv",
        b"Phase,Role,Step,Time,Caution\nBefore,scrub,Scrub,5 min,Wet floor\nAfter,scrub,Tidy,soon,\n",
        [("scrub", "Scrub"), ("scrub", "Tidy")],
    ),
    "several people in a cell": (
        "h.csv",
        b'Performed by,Procedure\n"Scrub nurse, Surgeon",Count together\n',
        [("scrub", "Count together")],
    ),
    "a role that the clinic lacks, and columns nobody knows": (
        "i.csv",
        b"Who,Step,Colour code\nPorter,Bring the bed,blue\n",
        [("porter", "Bring the bed")],
    ),
    "steps of one wording, formulas and rows that are no steps": (
        "j.xlsx",
        sheet([["Role", "Step"], ["scrub", "Count"], ["scrub", "Count"], ["Break", None], ["scrub", "=1+1"]]),
        [("scrub", "Count"), ("scrub", "Count")],
    ),
}


@pytest.mark.parametrize("case", TABLES, ids=list(TABLES))
def test_a_table_becomes_a_draft(case: str) -> None:
    name, content, expected = TABLES[case]
    protocol, _, _ = drafted(name, content)
    assert [(str(step.role), step.do.value) for step in protocol.steps] == expected
    assert protocol.status.value == "draft"
    assert len({step.id.value for step in protocol.steps}) == len(expected)


def test_order_is_read_by_number_and_by_words() -> None:
    for case in ("plain", "numbers for order"):
        protocol, _, missed = drafted(*TABLES[case][:2])
        assert [name.value for name in protocol.steps[1].after] == [protocol.steps[0].id.value]
        assert missed == ()


def test_what_is_understood_becomes_fields_and_the_rest_is_listed() -> None:
    protocol, _, missed = drafted(*TABLES["phases, times and cautions"][:2])
    first = protocol.steps[0]
    assert first.takes is not None
    assert first.takes.likely == 300
    assert [caution.text.value for caution in first.cautions] == ["Wet floor"]
    assert [phase.title for phase in protocol.phases] == ["Before", "After"]
    assert any("'soon' is no length of time" in line for line in missed)
    protocol, _, missed = drafted(*TABLES["several people in a cell"][:2])
    assert [str(one) for one in protocol.steps[0].helpers] == ["surgeon"]
    name, content, _ = TABLES["a role that the clinic lacks, and columns nobody knows"]
    draft = draft_from(read_table(name, content), "made-up", ROLES)
    assert any("Colour code" in line for line in draft.not_understood)
    assert any("Porter" in line for line in draft.not_understood)
    assert "# Colour code: blue" in draft.text


def test_a_draft_of_known_roles_has_no_error() -> None:
    _, found, _ = drafted(*TABLES["plain"][:2])
    assert [one.message for one in check_set(found, datetime.date(2026, 11, 2)).findings] == []


def test_a_formula_is_never_worked_out() -> None:
    """A formula without a stored value has none: the cell is empty, and its row is no step."""
    protocol, _, missed = drafted(*TABLES["steps of one wording, formulas and rows that are no steps"][:2])
    assert len(protocol.steps) == 2
    assert len([line for line in missed if "no step in it" in line]) == 2


def bomb() -> bytes:
    content = io.BytesIO()
    with (
        zipfile.ZipFile(content, "w", zipfile.ZIP_DEFLATED) as archive,
        archive.open("xl/worksheets/sheet1.xml", "w", force_zip64=True) as entry,
    ):
        for _ in range(201):
            entry.write(b"\0" * 2**20)
    return content.getvalue()


@pytest.mark.parametrize(
    ("name", "content", "told"),
    [
        ("a.csv", b"", "nothing in it"),
        ("a.csv", b",,\n;;\n", "nothing in it|no row names"),
        ("a.csv", b"alpha,beta\n1,2\n", "no row names the columns"),
        ("a.csv", b"role,step\n", "no step below"),
        ("a.csv", b"\x00\x01\x02" * 50, "no text"),
        ("a.xlsx", b"PK\x03\x04 no archive", "can't be read as a spreadsheet"),
        ("a.xlsx", bomb(), "unpacks to far more"),
        ("a.ods", b"x", "only .csv and .xlsx"),
        ("a.csv", b"role,step\n" + b"scrub,Count\n" * 100_000, f"more than {MOST_ROWS:,} rows"),
        ("a.csv", b"x" * (20 * 2**20 + 1), "larger than 20 MiB"),
    ],
)
def test_what_is_no_table_of_steps_is_refused_soon(name: str, content: bytes, told: str) -> None:
    began = time.process_time()
    with pytest.raises(TableError, match=told):
        draft_from(read_table(name, content), "made-up", ROLES)
    assert time.process_time() - began < 10  # seconds; the promise is a clear answer, not a speed


@given(st.lists(st.tuples(st.text(max_size=20), st.text(max_size=40), st.text(max_size=20)), min_size=1, max_size=8))
def test_whatever_stands_in_the_cells_the_draft_can_be_read(rows: list[tuple[str, str, str]]) -> None:
    table = Table(((1, ("role", "step", "after")), *((number, row) for number, row in enumerate(rows, 2))))
    try:
        draft = draft_from(table, "made-up", ROLES)
    except TableError:
        assert not any(row[1] for row in rows)
        return
    found = build_set({"p/clinic.yaml": CLINIC, "p/made-up.yaml": draft.text.encode()})
    assert not [one for one in found.problems if one.rule in ("bad-yaml", "bad-shape", "taken-name")], draft.text
