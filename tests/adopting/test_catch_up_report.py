"""The report: the same content for a terminal and for a pull request, and nothing in it can be more than text."""

from __future__ import annotations

import pytest

from stepfield.adopting import CaughtUp, Settled
from stepfield.adopting.report import markdown_report, sections_of, text_report
from tests.adopting.catching import adopted, caught, changed

CHANGES = (
    "[{protocol: room, step: wipe, set: {takes: 4 min}, because: 'Slow | <b>wipes</b>'}, "
    "{protocol: room, drop: photo}, {protocol: hall, step: air, set: {do: Air.}}]"
)
EDITS = (
    ("room.yaml", "takes: 3 min", "takes: 5 min"),
    ("room.yaml", "why: For the file.", "why: For it."),
    ("room.yaml", "title: Cloth", "title: Wet cloth"),
    ("hall.yaml", "id: air", "id: windows"),
    ("parts/rub.yaml", "25 s", "20 s"),
)


@pytest.fixture
def found() -> CaughtUp:
    files = adopted(changes=CHANGES, items="{cloth: {title: Wet cloth}}", choose="{room: {size: big}}")
    return caught(files, changed(*EDITS))


def test_every_entry_and_every_finding_is_told_once(found: CaughtUp) -> None:
    told = [item.text for section in sections_of(found) for item in section.items]
    for one in found.entries:
        assert sum(text.startswith(f"{one.met.entry.name} (tailoring.yaml line") for text in told) == 1
    for finding in found.appeared:
        assert sum(finding.message in text for text in told) == 1
    assert [section.title for section in sections_of(found)] == [
        "To be decided",
        "Needless now",
        "Where the baseline changed something else in the same step",
        "Guarded less by the newer baseline",
        "Findings that appear",
        "Entries that go on as they are",
    ]


def test_both_forms_tell_the_same(found: CaughtUp) -> None:
    text, markdown = text_report(found), markdown_report(found).replace("\\", "")
    for section in sections_of(found):
        for item in section.items:
            assert f"  - {item.text}\n" in text
            assert f"- {item.text.replace('<', '&lt;')}\n" in markdown
            for row in item.rows:
                assert f"{row.field}: before {row.before}; now {row.now}; here {row.ours}" in text
                assert len(f"{row.before}{row.now}{row.ours}") < 80
                assert f"| {row.field} | {row.before} | {row.now} | {row.ours} |" in markdown
    assert "What is new in the baseline" in text
    assert "no longer: takes 3 min; new: takes 5 min" in markdown
    assert "does not say that it is safe" in text


def test_nothing_in_markdown_is_more_than_text(found: CaughtUp) -> None:
    assert "<b>" not in markdown_report(found)
    assert "Slow \\| &lt;b\\>wipes" in markdown_report(found)


def test_what_was_decided_is_told(found: CaughtUp) -> None:
    settled = Settled(frozenset({"room/wipe"}), frozenset({"hall/air"}))
    text = text_report(caught(found.before, changed(*EDITS), settled))
    assert "To be decided" not in text
    assert "The entry is kept, over what the baseline says now." in text
    assert "The baseline is taken." in text


def test_long_fields_stand_below_each_other(found: CaughtUp) -> None:
    told = text_report(
        caught(found.before, changed(("hall.yaml", "Open the windows", f"Open {'wide ' * 20}the windows")))
    )
    assert "      do:\n        before Open the windows of the hall.\n        now Open wide" in told.replace('"', "")
    assert "\n        here Air.\n" in told.replace('"', "")


def test_of_a_protocol_that_is_left_out_it_is_said_that_nothing_is_told() -> None:
    text = text_report(caught(adopted(leave_out="[hall]"), changed(("hall.yaml", "takes: 5 min", "takes: 4 min"))))
    assert "What is new in 'hall' is not told, since that is left out here." in text
    assert "Guarded less" not in text
    assert "sweep" not in text
