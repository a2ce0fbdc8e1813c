"""Diagrams: text that fits, steps below what they wait for, lines round boxes, shapes by their meaning."""

from __future__ import annotations

import itertools
import re
import xml.etree.ElementTree as ET
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from stepfield.pages.diagram import phase_picture
from stepfield.pages.diagram_layout import Picture, Shape
from stepfield.pages.diagram_rows import Stretch, place, tracks
from stepfield.pages.diagram_svg import svg
from stepfield.pages.diagram_text import fitted, width, wrapped
from tests.site.small import CLINIC, checked, reading, sample
from tests.site.test_waits import phases

SVG = "{http://www.w3.org/2000/svg}"
TEAM = ("surgeon", "scrub", "circulating")


def picture(steps: list[dict[str, Any]], team: tuple[str, ...] = TEAM) -> Picture | None:
    protocol = sample(phases=[{"phase": "p", "title": "P", "steps": steps}], team=list(team))
    return phase_picture(reading(checked({"wrist": protocol})), 0, team)


def step(name: str, role: str, **more: Any) -> dict[str, Any]:
    return {"id": name, "role": role, "do": "Do it.", **more}


def kinds(found: Picture | None) -> list[str]:
    assert found is not None
    return [shape.kind for shape in found.shapes]


def boxes(found: Picture) -> list[Shape]:
    return [shape for shape in found.shapes if shape.kind in ("process", "part", "decision")]


@given(st.text(max_size=400), st.floats(60, 400), st.integers(1, 6))
def test_wrapped_text_is_never_wider_than_its_room(text: str, room: float, most: int) -> None:
    lines = wrapped(text, room, 13, most)
    assert len(lines) <= most
    assert all(width(line, 13) <= room for line in lines)


@given(st.text(alphabet="abcdefghij ", max_size=300))
def test_wrapping_loses_nothing_where_there_is_room(text: str) -> None:
    assert "".join(wrapped(text, 200, 13, 1000)).replace(" ", "") == text.replace(" ", "")


@given(st.text(max_size=300), st.floats(30, 400))
def test_fitted_text_fits(text: str, room: float) -> None:
    assert width(fitted(text, room, 13), 13) <= room


def test_a_word_wider_than_the_room_is_broken() -> None:
    lines = wrapped("x" * 200, 100, 13, 50)
    assert len(lines) > 10
    assert "".join(lines) == "x" * 200


@pytest.mark.parametrize("text", ["消毒双手", "مسح السطح", "é" * 20, "e\u0301" * 20])
def test_other_scripts_have_a_width(text: str) -> None:
    assert width(text, 10) > 0


DEJAVU = """
651 821 942 1716 1303 1946 1597 563 799 799 1024 1716 651 739 651 690 1303 1303 1303
1303 1303 1303 1303 1303 1303 1303 690 690 1716 1716 1716 1087 2048 1401 1405 1430 1577 1294
1178 1587 1540 604 604 1343 1141 1767 1532 1612 1235 1612 1423 1300 1251 1499 1401 2025 1403
1251 1403 799 690 799 1716 1024 1024 1255 1300 1126 1300 1260 721 1300 1298 569 569 1186
569 1995 1298 1253 1300 1300 842 1067 803 1298 1212 1675 1212 1212 1075 1303 690 1303 1716
"""
"""How wide DejaVu Sans, among the widest of usual typefaces, is from the space to the tilde: units of 1/2048 em, read
from the font file itself."""


def test_a_wide_typeface_fits_the_width_table() -> None:
    for sign, units in zip(map(chr, range(32, 127)), map(int, DEJAVU.split()), strict=True):
        assert units / 2048 <= width(sign, 1), sign


def test_a_step_stands_below_what_it_waits_for() -> None:
    found = place([0, 1, 2], {0: (0,), 1: (1,), 2: (1,)}, {0: (), 1: (0,), 2: (1,)})
    assert [at.row for at in found] == [0, 1, 2]


def test_free_steps_stand_side_by_side() -> None:
    assert [at.row for at in place([0, 1], {0: (0,), 1: (1,)}, {0: (), 1: ()})] == [0, 0]


def test_a_shared_step_spans_its_lanes() -> None:
    at = place([0, 1], {0: (1,), 1: (0, 2)}, {0: (), 1: ()})[1]
    assert (at.row, at.lanes, at.boxes) == (1, (0, 2), ((0, 0), (2, 2)))


def test_arrows_meet_the_box_of_the_owner() -> None:
    at = place([0], {0: (3, 0, 2)}, {0: ()})[0]
    assert (at.boxes, at.body) == (((0, 0), (2, 3)), (2, 3))


@given(
    st.lists(
        st.tuples(st.integers(0, 30), st.integers(0, 30), st.integers(0, 5)).map(
            lambda it: Stretch(it[0], it[1], it[2])
        ),
        max_size=20,
    )
)
def test_lines_on_one_track_never_overlap(stretches: list[Stretch]) -> None:
    given_tracks, count = tracks(stretches)
    assert all(0 <= track < count for track in given_tracks.values())
    extents: dict[object, list[float]] = {}
    for stretch in stretches:
        extents.setdefault(stretch.group, []).extend((stretch.start, stretch.end))
    for one, other in itertools.combinations(extents, 2):
        if given_tracks[one] == given_tracks[other]:
            assert max(extents[one]) < min(extents[other]) or max(extents[other]) < min(extents[one])


def test_shapes_say_what_a_step_is() -> None:
    """ISO 5807: terminal, process, predefined process, decision."""
    ask = {"question": "Whole?", "answers": ["whole", "damaged"]}
    found = picture([step("a", "scrub"), step("b", "scrub", asks=ask, repeat={"from": "a", "answer": "damaged"})])
    assert kinds(found).count("decision") == 1
    assert kinds(found).count("terminal") == 2
    assert found is not None
    assert [line.look for line in found.lines].count("back") == 1
    assert {"whole", "damaged"} <= {word.text for word in found.words}
    with_part = reading(checked())
    assert "part" in kinds(phase_picture(with_part, 0, TEAM))
    assert "part" not in kinds(phase_picture(with_part, 1, TEAM))


def test_start_and_end_stand_once_each() -> None:
    found = reading(checked())
    assert [kinds(phase_picture(found, phase, TEAM)).count("terminal") for phase in (0, 1)] == [1, 1]


def test_waiting_across_lanes_is_an_arrow() -> None:
    found = picture([step("a", "scrub"), step("b", "surgeon", after=["a"]), step("c", "circulating", after=["a"])])
    assert found is not None
    assert [line.look for line in found.lines].count("after") == 2


def test_a_shared_step_with_a_lane_between_that_takes_no_part() -> None:
    found = picture([step("a", "surgeon", **{"with": ["circulating"]}), step("b", "scrub")])
    assert found is not None
    assert kinds(found).count("process") == 3
    assert [line.look for line in found.lines].count("with") == 2
    assert "takes part" in {word.text for word in found.words}


def test_cautions_are_marked() -> None:
    assert kinds(picture([step("a", "scrub", cautions=[{"kind": "fire", "text": "Hot."}])])).count("sign") == 1


def test_no_picture_of_a_loop_or_of_steps_that_nobody_does() -> None:
    assert picture([step("a", "scrub", after=["b"]), step("b", "surgeon", after=["a"])]) is None
    assert picture([{"id": "a", "do": "Do it."}]) is None


def crosses(box: Shape, start: tuple[float, float], end: tuple[float, float]) -> bool:
    """Whether a straight, level or upright line runs through the inside of a box."""
    left, right = min(start[0], end[0]), max(start[0], end[0])
    top, bottom = min(start[1], end[1]), max(start[1], end[1])
    return left < box.x + box.width - 1 and right > box.x + 1 and top < box.y + box.height - 1 and bottom > box.y + 1


def meets(box: Shape, point: tuple[float, float]) -> bool:
    """Whether a point lies on the left or right edge of a box; of a question, on its corner there."""
    x, y = point
    at_side = min(abs(x - box.x), abs(x - box.x - box.width)) < 0.1
    return at_side and (
        abs(y - box.y - box.height / 2) < 0.1 if box.kind == "decision" else box.y < y < box.y + box.height
    )


def lines_run_well(found: Picture) -> None:
    """Lines are level or upright, within the picture, beside all boxes; an arrow between steps hangs on two of them."""
    for line in found.lines:
        for start, end in itertools.pairwise(line.points):
            assert start[0] == end[0] or start[1] == end[1]
            if line.look in ("lane", "after", "back"):
                assert not any(crosses(box, start, end) for box in boxes(found)), line
        assert all(0 <= x <= found.width and 0 <= y <= found.height for x, y in line.points)
        if line.look in ("after", "back"):
            assert all(any(meets(box, point) for box in boxes(found)) for point in (line.points[0], line.points[-1])), (
                line
            )


SHARED_IN_THE_WAY = [
    step("s-0", "surgeon", when={"one": "a"}),
    step("s-1", "circulating", when={"one": "a"}),
    step("s-2", "scrub", **{"with": ["circulating"], "when": {"one": "a"}}),
    step("s-3", "surgeon"),
    step("s-4", "surgeon", after=["s-0", "s-1"]),
]
"""The surgeon waits for the circulating nurse, who next stands between the two in a box shared with the scrub nurse."""


@settings(max_examples=120, deadline=None)
@given(phases())
@example([SHARED_IN_THE_WAY])
def test_no_line_runs_through_a_box_and_nothing_leaves_the_picture(steps: list[list[dict[str, Any]]]) -> None:
    protocol = sample(
        phases=[{"phase": "p", "title": "P", "steps": steps[0]}],
        choices={name: {"title": name, "options": {"a": "A", "b": "B"}} for name in ("one", "two")},
    )
    found = phase_picture(reading(checked({"wrist": protocol}, clinic=CLINIC)), 0, TEAM)
    assert found is not None
    lines_run_well(found)
    for one, other in itertools.combinations(boxes(found), 2):
        apart = (
            one.x + one.width <= other.x
            or other.x + other.width <= one.x
            or one.y + one.height <= other.y
            or other.y + other.height <= one.y
        )
        assert apart


@st.composite
def crowds(draw: st.DrawFn) -> tuple[list[str], list[dict[str, Any]]]:
    """Roles, and steps that up to three of them do together, with waits, questions and repeats across each other."""
    roles = [f"role-{number}" for number in range(draw(st.integers(3, 6)))]
    found: list[dict[str, Any]] = []
    for number in range(draw(st.integers(2, 10))):
        owner, *helpers = draw(st.lists(st.sampled_from(roles), min_size=1, max_size=3, unique=True))
        more: dict[str, Any] = {"with": helpers} if helpers else {}
        if found and draw(st.booleans()):
            earlier = [one["id"] for one in found]
            more["after"] = draw(st.lists(st.sampled_from(earlier), min_size=1, max_size=3, unique=True))
        if draw(st.integers(0, 2)) == 0:
            more["asks"] = {"question": "Is it whole?", "answers": ["whole", "damaged"]}
            starts = [one["id"] for one in found if owner in (one["role"], *one.get("with", []))] + [f"s-{number}"]
            more |= (
                {"repeat": {"from": draw(st.sampled_from(starts)), "answer": "damaged"}} if draw(st.booleans()) else {}
            )
        found.append(step(f"s-{number}", owner, **more))
    return roles, found


@settings(max_examples=120, deadline=None)
@given(crowds())
def test_lines_run_round_boxes_where_many_work_together(crowd: tuple[list[str], list[dict[str, Any]]]) -> None:
    lines_run_well(of_roles(*crowd))


@pytest.mark.parametrize("barred", [True, False])
def test_a_line_crosses_right_above_what_it_waits_for_unless_a_shared_step_bars_its_way(barred: bool) -> None:
    shared = [step("shared", "scrub", **{"with": ["circulating"]})] if barred else []
    own = [step("first", "surgeon"), step("second", "surgeon"), step("third", "surgeon", after=["far"])]
    found = picture([step("far", "circulating"), *shared, *own])
    assert found is not None
    (line,) = [line for line in found.lines if line.look == "after"]
    before, crossing, after = (y for _, y in line.points[2:5])
    second = boxes(found)[-2]
    assert before == crossing < after
    assert crossing < second.y if barred else crossing > second.y + second.height


def of_roles(roles: list[str], steps: list[dict[str, Any]]) -> Picture:
    clinic = {**CLINIC, "roles": {role: {"title": f"The person called {role}"} for role in roles}}
    protocol = sample(phases=[{"phase": "p", "title": "P", "steps": steps}], team=roles)
    found = phase_picture(reading(checked({"wrist": protocol}, clinic=clinic)), 0, roles)
    assert found is not None
    return found


def many_lanes(lanes: int) -> Picture:
    """Sixty steps that cross each other, some with questions, helpers, conditions and cautions."""
    roles = [f"role-{number}" for number in range(lanes)]
    ask = {"question": "Does what was counted agree with what is on the board?", "answers": ["agrees", "differs"]}
    caution = [{"kind": "sharps", "text": "Mind the point."}]
    steps = []
    for number in range(60):
        more: dict[str, Any] = {"after": [f"s-{number - 2}"]} if number % 4 == 3 else {}
        more |= {"asks": ask, "with": [roles[(number + 2) % lanes]]} if number % 9 == 5 else {}
        more |= {"cautions": caution, "when": {"draping": "two"}} if number % 7 == 1 else {}
        say = "Lift the cover from the near edge and fold it over the far one, then look at it again."
        steps.append(step(f"s-{number}", roles[number * 5 % lanes], **{**more, "do": say}))
    return of_roles(roles, steps)


@pytest.mark.parametrize("lanes", [3, 4, 6])
def test_sixty_steps_in_many_lanes_can_be_read_on_a_sheet(lanes: int) -> None:
    """Shrunk to the width of A4 across, 277 mm between margins, type is 6 points or more; of A3, 8 or more."""
    found = many_lanes(lanes)
    assert len([word for word in found.words if word.look == "number"]) >= 60
    for paper, least in ((277, 6), (400, 8)):
        assert min(1.0, paper / 25.4 * 96 / found.width) * 13 * 0.75 >= least
    lines_run_well(found)


@pytest.mark.parametrize("lanes", [3, 4, 6])
def test_text_fits_its_box_however_narrow(lanes: int) -> None:
    found = many_lanes(lanes)
    for word in found.words:
        if word.step is None or word.look not in ("text", "only", "small"):
            continue
        size = 13 if word.look == "text" else 11.5
        own = [box for box in boxes(found) if box.step == word.step]
        left = word.x - (width(word.text, size) / 2 if word.anchor == "middle" else 0)
        right = left + width(word.text, size)
        assert any(box.x <= left and right <= box.x + box.width for box in own), word
        assert any(box.y <= word.y <= box.y + box.height for box in own), word


def drawing(found: Picture, title: str = "T", text: str = "D") -> ET.Element:
    return ET.fromstring(svg(found, "picture_1", title, text))  # noqa: S314 - our own output, and it must be XML


def test_the_picture_is_xml_with_a_title_and_a_description() -> None:
    found = picture([step("a", "scrub")])
    assert found is not None
    root = drawing(found, "Phase 1: Prepare", "One step.")
    assert root.get("role") == "img"
    assert root.get("aria-labelledby") == "picture_1_title picture_1_text"
    assert [(root.find(f"{SVG}{tag}").get("id"), root.findtext(f"{SVG}{tag}")) for tag in ("title", "desc")] == [  # type: ignore[union-attr]
        ("picture_1_title", "Phase 1: Prepare"),
        ("picture_1_text", "One step."),
    ]


def test_text_in_a_picture_can_be_nothing_but_text() -> None:
    hostile = '</text><script>alert(1)</script><a href="javascript:x">&'
    found = picture([step("a", "scrub", do=hostile, asks={"question": hostile, "answers": ["well", "ill"]})])
    assert found is not None
    root = drawing(found, hostile, hostile)
    assert {element.tag for element in root.iter()} == {
        f"{SVG}{tag}" for tag in ("svg", "title", "desc", "path", "text")
    }
    assert root.findtext(f"{SVG}title") == hostile
    told = "".join(element.text or "" for element in root.iter(f"{SVG}text"))
    assert "</text>" in told


def test_fifty_steps_in_three_lanes_keep_to_a_page_wide_and_their_order() -> None:
    steps = [
        step(f"s-{number}", TEAM[number % 3], do="Lift the cover from the near edge and fold it over the far one.")
        for number in range(54)
    ]
    for number in range(3, 54, 5):
        steps[number]["after"] = [f"s-{number - 1}"]
    found = picture(steps)
    assert found is not None
    assert found.width < 1300
    assert sum(1 for box in boxes(found)) == 54
    numbers = [word for word in found.words if word.look == "number"]
    for lane in range(3):
        own = [word.y for word in numbers if (int(word.text) - 1) % 3 == lane]
        assert own == sorted(own)


def test_drawing_twice_gives_the_same_picture() -> None:
    found = [svg(phase_picture(reading(checked()), 0, TEAM), "p", "T", "D") for _ in range(2)]  # type: ignore[arg-type]
    assert found[0] == found[1]
    assert not re.search(r"\d\.\d{3}", found[0])
