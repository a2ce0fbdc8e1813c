"""`stepfield evidence`: gaps first, each requirement with its source and steps; the same as JSON and as a table."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from stepfield.checks.tracing import trace
from stepfield.command import main
from stepfield.language import build_set
from stepfield.reports.evidence import HEADINGS, evidence_table
from stepfield.reports.tables import csv_table
from tests.tracing.test_trace import CLINIC, DAY, EVIDENCE, OTHER, ROOM


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name, text in {"clinic": CLINIC, "evidence": EVIDENCE, "room": ROOM, "other": OTHER}.items():
        (tmp_path / f"{name}.yaml").write_text(text, encoding="utf-8")
    return tmp_path


def asked(folder: Path, *words: str) -> str:
    done = CliRunner().invoke(main, ["evidence", "--set", str(folder), "--today", "2026-07-01", *words])
    assert done.exit_code == 0, done.output
    return done.output


def test_the_gaps_come_first_and_every_requirement_has_its_source_and_steps(folder: Path) -> None:
    text = asked(folder)
    lines = text.splitlines()
    assert lines[0] == "4 requirements, 1 of them tables with 2 cases; 2 protocols."
    assert lines[2:4] == ["Adopted, and no step answers it:", "  wiped in room"]
    assert lines[4:6] == ["Adopted by no protocol (2):", "  aired, clear"]
    assert "  A handbook, 2015; nothing said of how sure this is, aged" in lines
    assert "    room: rub, again  (met)" in lines
    assert "    other: again  (met, not adopted)" in lines
    assert "    room: no step  (adopted, not met)" in lines
    assert "    fast: at least 14 min (Many changes of air)" in lines
    assert lines[-1].startswith("A step says itself that it answers a requirement;")


def test_one_protocol_alone_has_only_what_it_adopts_or_answers(folder: Path) -> None:
    text = asked(folder, "other")
    assert "room" not in text.replace("other", "")
    assert "Every requirement that a protocol adopts is answered by one of its steps." in text


def test_json_tells_the_same(folder: Path) -> None:
    found = json.loads(asked(folder, "--format", "json"))
    rows = {one["id"]: one for one in found["requirements"]}
    assert [one["state"] for one in rows["wiped"]["protocols"]] == ["met, not adopted", "adopted, not met"]
    assert rows["clear-slow"]["limit"] == {"at_least": "18 min"}
    assert (rows["clear-slow"]["table"], rows["aired"]["year"], rows["rubbed"]["aged"]) == ("clear", None, True)


def test_the_table_is_read_by_another_reader_and_has_a_row_for_each_protocol(folder: Path, tmp_path: Path) -> None:
    file = tmp_path / "evidence.csv"
    asked(folder, "--csv", str(file))
    rows = list(csv.DictReader(io.StringIO(file.read_bytes().decode("utf-8-sig"))))
    assert tuple(rows[0]) == HEADINGS
    told = [(row["requirement"], row["protocol"], row["steps"], row["state"]) for row in rows]
    assert told == [
        ("rubbed", "other", "rub, again", "met, not adopted"),
        ("rubbed", "room", "rub, again", "met"),
        ("wiped", "other", "again", "met, not adopted"),
        ("wiped", "room", "", "adopted, not met"),
        ("aired", "", "", "not adopted"),
        ("clear-slow", "", "", "not adopted"),
        ("clear-fast", "room", "again", "met, not adopted"),
    ]


@pytest.mark.parametrize("sign", ["=", "+", "-", "@", "\t"])
def test_no_cell_of_the_table_can_act_as_a_formula(sign: str) -> None:
    """The signs are those of the OWASP page on CSV injection, from memory."""
    evil = EVIDENCE.replace("text: The room is aired.", f'text: "{sign}cmd|x"').replace("Another", f'"{sign}cmd" and')
    evil = evil.replace(f'source: "{sign}cmd" and handbook', f'source: "{sign}cmd"')
    files = {"p/clinic.yaml": CLINIC, "p/evidence.yaml": evil, "p/room.yaml": ROOM}
    found = build_set({path: text.encode() for path, text in files.items()})
    cells = [cell for row in csv.reader(io.StringIO(csv_table([evidence_table(trace(found, DAY))]).decode("utf-8-sig")))
             for cell in row]  # fmt: skip
    assert any("cmd|x" in cell for cell in cells)
    assert [cell for cell in cells if cell[:1] in "=+-@\t\r" and cell] == []


def test_an_unknown_protocol_is_wrong_usage(folder: Path) -> None:
    done = CliRunner().invoke(main, ["evidence", "--set", str(folder), "kitchen"])
    assert done.exit_code == 2
    assert "known are: other, room" in done.output


def test_a_set_without_evidence_says_so(folder: Path) -> None:
    (folder / "evidence.yaml").unlink()
    for name in ("room", "other"):
        path = folder / f"{name}.yaml"
        path.write_text(path.read_text("utf-8").replace("adopts: [room]\n", "").replace("meets: [", "# ["), "utf-8")
    assert asked(folder) == "There is no evidence.yaml with requirements: nothing in this set names what it rests on.\n"
