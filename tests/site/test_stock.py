"""The sheet about the things of the whole set: what the core tells, in words, and nothing of it lost."""

from __future__ import annotations

import datetime

import pytest

from stepfield.checks import Report, check_set
from stepfield.language import build_set
from stepfield.pages.reading import Reading
from stepfield.pages.sheets.stock import MOST_TOLD, remark_words
from stepfield.planning.remarks import OPEN_FOR, remarks
from stepfield.planning.uses import MOST_WAYS, Uses
from tests.planning.thingsets import BLISTER, CLINIC
from tests.site.printing import sheets_of
from tests.site.screening import demo_report
from tests.site.small import Seen

ADDRESS = "print/things.html"
DAY = (
    "days: {monday: {title: Monday, cases: "
    "[{protocol: blister, choices: {cover: plaster, side: right}}, {protocol: blister}]}}\n"
)


def report(text: str = BLISTER, clinic: str = CLINIC, screens: str = DAY) -> Report:
    files = {"clinic": clinic, "blister": text, "screens": screens}
    found = build_set({f"p/{name}.yaml": content.encode() for name, content in files.items()})
    return check_set(found, datetime.date(2026, 11, 2))


def words(found: Report) -> str:
    return Seen(sheets_of(found)[ADDRESS]).text


def test_every_remark_of_the_core_stands_on_the_sheet() -> None:
    found = report()
    (examined,) = found.facts.examined
    reading = Reading(examined, found.facts)
    told = remarks(Uses(examined.protocol), examined.order, {})
    assert {one.kind for one in told} == {
        "idle", "idle-here", "pack-idle", "not-opened", "no-wrapper", "twice", "early",
    }  # fmt: skip
    text = words(found)
    for one in told:
        assert remark_words(reading, one) in text
    assert "Bandage (in: Base pack): opened for nothing with Cover: Plaster, Side: Left" in text
    assert f"{OPEN_FOR / 60:.0f} min is meant: common practice, no source" in text


def test_a_day_is_listed_with_what_is_only_perhaps_needed() -> None:
    html = sheets_of(report())[ADDRESS]
    rows = {" ".join(Seen(f"<p>{row.partition('</tr>')[0]}</p>").text.split()) for row in html.split("<tr>")}
    assert "Base pack 2 2 1, 2 –" in rows  # a spare needle for each
    assert "Extra pack 2 – 1, 2 1, 2" in rows  # the first has a plaster, the second leaves it open
    assert "Shut pack 1 – 2 2" in rows
    assert "Sterile wipe 2 4 1, 2 –" in rows


def test_where_nothing_strikes_the_sheet_says_no_more_than_that() -> None:
    calm = BLISTER[: BLISTER.index("choices:")] + (
        "phases:\n  - phase: a\n    title: A\n    steps: [{id: look, role: scrub, do: Look.}]\n"
    )
    text = words(report(calm, screens="days: {}\n"))
    assert "In 1 protocol nothing of this kind strikes." in text
    assert "no list knows what a text leaves out" in text


def test_too_many_combinations_and_too_many_remarks_are_said() -> None:
    options = ", ".join(f"o{number}: O" for number in range(MOST_WAYS))
    many = BLISTER.replace("{left: Left, right: Right}", f"{{left: Left, {options}}}")
    assert "There are too many combinations of choices" in words(report(many, screens="days: {}\n"))
    pads = ", ".join(f"pad-{number}: {{title: Pad {number}}}" for number in range(MOST_TOLD + 5))
    crowded = BLISTER.replace("{ointment: {title: Ointment}}", f"{{ointment: {{title: Ointment}}, {pads}}}")
    (examined,) = report(crowded).facts.examined
    count = len(remarks(Uses(examined.protocol), examined.order, {}))
    assert f"and {count - MOST_TOLD} more" in words(report(crowded))


def test_a_day_with_a_protocol_that_cannot_be_read_says_so() -> None:
    screens = "days: {monday: {title: Monday, cases: [{protocol: gone}, {protocol: blister}]}}\n"
    text = words(report(screens=screens))
    assert "Not in this list, as the protocol cannot be read: case 1" in text


@pytest.mark.parametrize("language", ["en", "de"])
def test_titles_cannot_become_markup(language: str) -> None:
    hostile = "<script>alert(1)</script> %(pack)s {{ 7 * 7 }}"
    text = BLISTER.replace("title: Tray", f"title: '{hostile}'")
    html = sheets_of(report(text, CLINIC + f"language: {language}\n"))[ADDRESS]
    assert "<script>alert" not in html
    assert hostile in Seen(html).text


def test_the_list_of_sheets_leads_to_it() -> None:
    found = sheets_of(demo_report())
    assert 'href="things.html"' in found["print/index.html"]
    assert (
        "Split sheets (in: Hand-surgery pack): opened for nothing with Draping: One sheet with a hole."
        in Seen(found[ADDRESS]).text
    )
