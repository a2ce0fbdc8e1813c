"""The page of the whole team: every step in order, what comes before it, where people meet, and its picture."""

from __future__ import annotations

import datetime
import itertools
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from typing import Any

import pytest

from stepfield.asepsis import bits
from stepfield.checks import Report, check_set
from stepfield.language import read_set
from stepfield.pages import build_site
from stepfield.pages.addresses import Links, team_page
from stepfield.pages.diagram import Whole, whole_picture
from stepfield.pages.diagram_layout import Shape
from stepfield.pages.diagram_whole import HEADS, SHEET_HEIGHT, SHEET_WIDTH, windows
from stepfield.pages.meeting import Meeting, meetings
from stepfield.pages.reading import Reading
from stepfield.pages.whole import Row, TeamPhase, team_values
from tests.site.building import ROOT
from tests.site.hostile import HOSTILE
from tests.site.small import Seen, checked, drawn, page, reading, sample

SVG = "{http://www.w3.org/2000/svg}"
MOST_BYTES = 300_000


@pytest.fixture(scope="module")
def report() -> Report:
    return check_set(read_set(ROOT / "protocols"), datetime.date(2026, 11, 2))


@pytest.fixture(scope="module")
def readings(report: Report) -> list[Reading]:
    return [Reading(one, report.facts) for one in report.facts.examined]


def values(found: Reading) -> dict[str, Any]:
    return team_values(found, Links(team_page(found.protocol.id)))


def rows(found: Reading) -> list[Row]:
    phases: tuple[TeamPhase, ...] = values(found)["phases"]
    return [row for phase in phases for row in phase.rows]


def met(found: Reading) -> list[Meeting]:
    return [one for phase in meetings(found, Links(team_page(found.protocol.id))) for one in phase.meetings]


def whole(found: Reading) -> Whole:
    picture = whole_picture(found, found.roles)
    assert picture is not None
    return picture


def test_the_table_has_every_step_once_in_order_with_all_who_take_part(readings: list[Reading]) -> None:
    for found in readings:
        table = rows(found)
        assert [row.step.id for row in table] == [step.id.value for step in found.steps]
        for row, step in zip(table, found.steps, strict=True):
            assert step.role is not None
            assert row.step.owner == found.role(step.role)
            assert row.step.helpers == tuple(found.role(helper) for helper in step.helpers)
            assert len(row.needs) == len(step.needs)


def test_what_the_table_says_of_when_is_the_order_of_the_steps(readings: list[Reading]) -> None:
    """Following 'after' and the waits from row to row leads to all that comes before in the phase, and nothing else."""
    for found in readings:
        order, closed = found.examined.order, dict[int, set[int]]()
        told = {row.step.number - 1: _named(row) for row in rows(found)}
        for step in order.sorted_steps():
            closed[step] = set(told[step]).union(*(closed[other] for other in told[step]))
            within = {other for other in bits(order.ancestors()[step]) if order.phase_of[other] == order.phase_of[step]}
            assert closed[step] == within, (found.protocol.id, step + 1)


def _named(row: Row) -> list[int]:
    return [int(link.text) - 1 for link in row.after] + [wait.number - 1 for wait in row.step.waits]


def test_each_answer_leads_where_the_protocol_says(readings: list[Reading]) -> None:
    asking = 0
    for found in readings:
        for row, step in zip(rows(found), found.steps, strict=True):
            if step.asks is None:
                assert row.answers == ()
                continue
            asking += 1
            for answer, told in zip(step.asks.answers, row.answers, strict=True):
                repeats = step.repeat is not None and step.repeat.answer.value == answer.value
                assert (told.back is not None) == repeats
                if told.back is not None and step.repeat is not None:
                    assert told.back.href == f"#{step.repeat.start.value}"
                later = [
                    f"#{other.id.value}"
                    for other in found.steps
                    if any(
                        one.name.value == step.id.value and answer.value in [o.value for o in one.options]
                        for one in other.when
                    )
                ]
                assert [link.href for link in told.then] == later
    assert asking


def test_every_wait_for_another_person_is_among_the_meetings(readings: list[Reading]) -> None:
    """Where a step comes directly after one that shares no person with it, somebody must wait for somebody."""
    for found in readings:
        waits = {(one.number, one.wait.number) for one in met(found) if one.wait}
        assert waits
        order = found.examined.order
        for link in order.links:
            here, there = (set(found.people(found.steps[step])) for step in (link.later, link.earlier))
            between = [
                step for step in bits(order.ancestors()[link.later]) if order.ancestors()[step] >> link.earlier & 1
            ]
            if not here & there and not between and order.phase_of[link.later] == order.phase_of[link.earlier]:
                assert (link.later + 1, link.earlier + 1) in waits, (found.protocol.id, link)


def test_every_meeting_names_two_people(readings: list[Reading]) -> None:
    for found in readings:
        titles = {found.role(role) for role in found.roles}
        for one in met(found):
            assert {*one.people, *one.others} <= titles
            assert len({*one.people, *one.others}) > 1
            assert not set(one.people) & set(one.others)


def test_every_helper_and_every_hand_over_is_among_the_meetings(readings: list[Reading]) -> None:
    for found in readings:
        named: dict[int | None, set[str]] = {}
        for one in met(found):
            if one.kind in ("together", "hand"):
                named.setdefault(one.number, set()).update(one.people, one.others)
        for number, step in enumerate(found.steps, start=1):
            people = {found.role(role) for role in found.people(step)}
            taking = {over.taker for over in found.hand_overs(step, None)}
            if len(people | taking) > 1:
                assert named[number] == people | taking, (found.protocol.id, number)


def test_the_ends_of_phases_are_meetings_and_all_is_in_order(readings: list[Reading]) -> None:
    for found in readings:
        phases = meetings(found, Links("x.html"))
        assert [phase.number for phase in phases] == list(range(1, len(found.protocol.phases) + 1))
        for phase in phases[:-1]:
            busy = {who for step in found.protocol.phases[phase.number - 1].steps for who in found.people(step)}
            assert [one.kind for one in phase.meetings].count("end") == (len(busy) > 1)
        numbers = [one.number for phase in phases for one in phase.meetings if one.number is not None]
        assert numbers == sorted(numbers)


def drawing(html: str) -> ET.Element:
    start = html.index('<svg class="sf-picture sf-picture-whole"')
    return ET.fromstring(html[start : html.index("</svg>", start) + 6])  # noqa: S314 - our own output, and it must be XML


def nodes(root: ET.Element) -> Iterator[tuple[str, str]]:
    for element in root.iter(f"{SVG}a"):
        yield element.get("href") or "", element.get("aria-description") or ""


def test_the_picture_has_a_link_to_every_step_in_the_order_of_the_steps(
    report: Report, readings: list[Reading]
) -> None:
    site = build_site(report)
    for found in readings:
        html = page(site, team_page(found.protocol.id)).html
        links = list(nodes(drawing(html)))
        assert [href for href, _ in links] == [f"#{step.id.value}" for step in found.steps]
        assert {href[1:] for href, _ in links} <= set(Seen(html).ids)
        for step, (_, who) in zip(found.steps, links, strict=True):
            assert who == ", ".join(found.role(person) for person in found.people(step))


def test_all_phases_stand_in_the_same_lanes(readings: list[Reading]) -> None:
    for found in readings:
        picture = whole(found)
        heads = [shape.x for shape in picture.heads.shapes]
        assert len(heads) == len(found.roles)
        for band in picture.bands:
            assert band.picture is not None
            assert band.picture.width == picture.width
            assert {shape.x for shape in boxes(band.picture.shapes)} <= set(heads)


def boxes(shapes: tuple[Shape, ...]) -> list[Shape]:
    return [shape for shape in shapes if shape.kind in ("process", "part")]


def test_each_part_of_the_picture_fits_a_sheet_and_cuts_no_box(readings: list[Reading]) -> None:
    """ISO 216: a sheet of A4 across is 297 mm wide; at 96 pixels an inch and 10 mm of margin that is 1046 pixels."""
    assert SHEET_WIDTH <= (297 - 20) / 25.4 * 96
    for found in readings:
        picture = whole(found)
        for band in picture.bands:
            parts = windows(band, picture.width)
            assert band.picture is not None
            assert parts[0][0] == 0
            assert parts[-1][1] == band.picture.height
            assert all(one[1] == other[0] for one, other in itertools.pairwise(parts))
            for top, bottom in parts:
                shrunk = min(1.0, SHEET_WIDTH / picture.width)
                assert (bottom - top + HEADS) * shrunk <= SHEET_HEIGHT + 1
            for shape in band.picture.shapes:
                holding = [part for part in parts if part[0] <= shape.y and shape.y + shape.height <= part[1]]
                assert len(holding) == 1, (found.protocol.id, shape)


@pytest.mark.parametrize("text", HOSTILE)
def test_text_in_the_whole_picture_can_be_nothing_but_text(text: str) -> None:
    protocol = sample()
    for phase in protocol["phases"]:
        phase["title"] = text
        for step in phase["steps"]:
            if "do" in step:
                step["do"] = text
    root = drawing(drawn("protocols/wrist.html", checked({"wrist": protocol})))
    tags = ("svg", "title", "desc", "defs", "g", "path", "rect", "text", "use", "a")
    assert {element.tag for element in root.iter()} == {f"{SVG}{tag}" for tag in tags}
    assert all((href or "").startswith("#") for href, _ in nodes(root))
    assert not [name for element in root.iter() for name in element.attrib if name.lower().startswith("on")]


def long_lane(count: int) -> dict[str, Any]:
    say = "Lift the cover from the near edge and fold it over the far one. Look at it again before you go on."
    steps = [{"id": f"s-{number}", "role": "scrub", "do": say, "why": "Dust falls."} for number in range(count)]
    return sample(phases=[{"phase": "p", "title": "P", "steps": steps}])


def test_no_page_of_two_hundred_steps_is_heavy_and_its_picture_has_a_page() -> None:
    site = build_site(checked({"wrist": long_lane(200)}))
    for one in site.pages:
        assert len(one.html.encode()) < MOST_BYTES - 30_000, one.address
    team, picture = page(site, "protocols/wrist.html"), page(site, "protocols/wrist/whole_picture.html")
    assert ("a", "wrist/whole_picture.html") in {(tag, attrs.get("href")) for tag, attrs in Seen(team.html).tags}
    assert "sf-stage" not in team.html
    assert (picture.search_weight, picture.in_menu, picture.kind) == (0.0, False, "picture")
    links = [href for href, _ in nodes(drawing(picture.html))]
    assert links == [f"../wrist.html#s-{number}" for number in range(200)]
    assert {link.partition("#")[2] for link in links} <= set(Seen(team.html).ids)


def test_a_short_protocol_has_its_picture_on_the_page() -> None:
    site = build_site(checked())
    assert not [one for one in site.pages if one.kind == "picture"]
    assert "sf-stage" in page(site, "protocols/wrist.html").html


def test_a_protocol_in_a_circle_has_a_page_that_says_so() -> None:
    protocol = sample()
    protocol["phases"][1]["steps"][0]["after"] = ["pause"]
    seen = Seen(drawn("protocols/wrist.html", checked({"wrist": protocol})))
    assert "There is no picture" in seen.text
    assert "Who waits for whom is not listed" in seen.text
    assert "At the start" not in seen.text
    assert "pause" in seen.ids


def test_a_phase_that_nobody_does_is_left_blank_in_the_picture() -> None:
    protocol = sample()
    del protocol["phases"][1]["steps"][0]["role"]
    html = drawn("protocols/wrist.html", checked({"wrist": protocol}))
    assert "This phase has no picture" in Seen(html).text
    assert len(list(nodes(drawing(html)))) == len(reading(checked()).protocol.phases[0].steps)


def test_a_role_with_nothing_to_do_has_an_empty_lane() -> None:
    protocol = long_lane(3)
    found = whole(reading(checked({"wrist": protocol})))
    assert len(found.heads.shapes) == 3
    assert found.bands[0].picture is not None
    assert [line.look for line in found.bands[0].picture.lines].count("idle") == 2


def test_drawing_twice_gives_the_same_page() -> None:
    assert drawn("protocols/wrist.html") == drawn("protocols/wrist.html")
    assert not re.search(r"\d\.\d{3}", re.sub(r"<text.*?</text>", "", drawn("protocols/wrist.html")))
