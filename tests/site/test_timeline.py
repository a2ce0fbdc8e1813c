"""How long it takes, on the whole-team page: the table against a worked example, the picture against the table."""

from __future__ import annotations

import datetime
import re
from itertools import pairwise
from typing import Any

import pytest

from stepfield.checks import check_set
from stepfield.language import read_set
from stepfield.pages.diagram_text import width
from stepfield.pages.reading import Reading
from stepfield.pages.timeline import Timeline, timeline_of
from stepfield.pages.timeline_tiles import EDGE, WIDEST, Tile
from tests.site.building import ROOT
from tests.site.small import checked, drawn, reading, sample

# Ten activities; data, critical path and total as printed at ja.scribd.com/presentation/396883604, likely times equal
# to its means here, in minutes; earliest and latest start and slack worked out anew.
TEN = {
    "a": (6, "", 0, 4), "b": (3, "", 0, 3), "c": (4, "", 0, 0), "d": (2, "a", 6, 10), "e": (3, "b", 3, 6),
    "f": (5, "c", 4, 4), "g": (3, "c", 4, 11), "h": (5, "e f", 9, 9), "i": (5, "d", 8, 12), "j": (3, "h g", 14, 14),
}  # fmt: skip


def timeline(found: Reading) -> Timeline:
    made = timeline_of(found)
    assert made is not None
    return made


def ten() -> Reading:
    roles = {f"r{name}": {"title": f"Role {name}"} for name in TEN}
    steps = [
        {"id": name, "role": f"r{name}", "do": f"Do {name}.", "takes": f"{takes} min", "after": before.split()}
        for name, (takes, before, _, _) in TEN.items()
    ]
    written = {"kind": "protocol", "title": "Ten", "team": list(roles), "phases": [{"phase": "p", "steps": steps}]}
    report = checked({"ten": written}, clinic={"clinic": "Q", "language": "en", "roles": roles})
    return reading(report, "ten")


@pytest.fixture(scope="module")
def demo() -> list[Reading]:
    report = check_set(read_set(ROOT / "protocols"), datetime.date(2026, 11, 2))
    return [Reading(one, report.facts) for one in report.facts.examined]


def clock(minutes: float) -> str:
    return f"0:{minutes:02.0f}:00"


def test_the_table_is_the_worked_example() -> None:
    found = {one.step.text.split()[-1][0]: one for one in timeline(ten()).starts}
    for name, (_, _, earliest, latest) in TEN.items():
        slack = clock(latest - earliest) if latest > earliest else None
        assert (found[name].earliest, found[name].latest, found[name].slack) == (clock(earliest), clock(latest), slack)


def boxes(tile: Tile, look: str) -> list[tuple[int, int, int]]:
    """Left and right end and top of each box in a tile, read off its paths."""
    path = dict(tile.paths).get(look, "")
    found = []
    for piece in path.split("M")[1:]:
        numbers = [int(one) for one in re.findall(r"-?\d+", piece)]
        ends = [int(one) for one in re.findall(r"[HL](-?\d+)", piece)]
        found.append((numbers[0], max(ends, default=numbers[0]), numbers[1]))
    return found


def test_the_picture_says_what_the_table_says(demo: list[Reading]) -> None:
    """Every box is put back on the clock: each begins or ends with a step of the table, or at the edge of its tile."""
    for found in [ten(), *demo]:
        made = timeline(found)
        total = 0.0
        shown: set[tuple[str, bool]] = set()
        for strip in made.strips:
            tile = strip.tile
            scale = (tile.width - 2 * EDGE) / (tile.ends - tile.starts)
            total += tile.ends - tile.starts
            for look in ("free", "critical"):
                shown |= {
                    (clock_of(tile.starts + (x - EDGE) / scale), look == "critical") for x, _, _ in boxes(tile, look)
                }
        for start in made.starts:
            assert near((start.earliest, start.slack is None), shown), (found.protocol.id, start)
        assert total == pytest.approx(max(strip.tile.ends for strip in made.strips))


def clock_of(seconds: float) -> str:
    return f"{seconds:.0f}"


def near(start: tuple[str, bool], shown: set[tuple[str, bool]]) -> bool:
    """Whether some box of this look begins within four seconds: pixels are whole, and a minute has 24 of them."""
    hours, minutes, seconds = (int(one) for one in start[0].split(":"))
    at = 3600 * hours + 60 * minutes + seconds
    return any(abs(int(other) - at) <= 4 and look == start[1] for other, look in shown)


def test_tiles_fit_a_phone_and_follow_one_another(demo: list[Reading]) -> None:
    for found in demo:
        made = timeline(found)
        ends = 0.0
        for strip in made.strips:
            assert strip.tile.width <= WIDEST + 2 * EDGE + 1 <= 324  # 360 px less the margins of a page
            assert strip.tile.starts == pytest.approx(ends)
            ends = strip.tile.ends
            assert len({one.tile.height for one in made.strips}) == 1


def test_text_stays_in_its_tile_and_numbers_do_not_cover_each_other(demo: list[Reading]) -> None:
    for found in demo:
        for strip in timeline(found).strips:
            below: dict[int, list[tuple[float, float]]] = {}
            for word in strip.tile.words:
                middle = word.look in ("minute", "number", "wait")
                size = 11 if word.look == "lane" else 10
                wide = 5.8 * len(word.text) if word.text.isdigit() else width(word.text, size)
                left = word.x - wide / 2 if middle else word.x
                assert left >= -1
                assert left + wide <= strip.tile.width + 1
                assert 0 < word.y <= strip.tile.height
                if word.look == "number":
                    below.setdefault(word.y, []).append((left, left + wide))
            for spans in below.values():
                spans.sort()
                assert all(one[1] <= other[0] + 1 for one, other in pairwise(spans))


def test_what_can_not_wait_has_another_shape() -> None:
    (strip, *_) = timeline(ten()).strips
    assert "L" in dict(strip.tile.paths)["critical"]
    assert "L" not in dict(strip.tile.paths)["free"]


def test_a_wait_is_drawn_with_how_long_it_is(demo: list[Reading]) -> None:
    made = {found.protocol.id: timeline(found) for found in demo}["wrist-release"]
    said = [word.text for strip in made.strips for word in strip.tile.words if word.look == "wait"]
    assert said == ["❚❚ 3 min", "❚❚ 5 min"]


def without_times(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: without_times(one) for name, one in value.items() if name not in ("takes", "waits", "within")}
    return [without_times(one) for one in value] if isinstance(value, list) else value


def test_without_any_duration_one_sentence_says_so() -> None:
    made = timeline(reading(checked({"wrist": without_times(sample())})))
    assert made.unknown == "How long it takes is not known: none of the 15 steps says a duration."
    assert not made.strips
    html = drawn("protocols/wrist.html", checked({"wrist": without_times(sample())}))
    assert made.unknown in html
    assert "sf-strip" not in html


def test_steps_without_a_duration_are_counted_and_seen() -> None:
    made = timeline(reading(checked()))
    assert "14 steps say no duration and count as taking no time." in made.sentences
    assert len(made.starts) == 15  # the second sheet is not laid
    marks = sum(path.count("l6 8l-6 8l-6 -8Z") for strip in made.strips for _, path in strip.tile.paths)
    assert marks == 15  # fourteen steps that take no time, and one of them in two lanes
    assert "This is the case with: Draping: One sheet." in made.sentences


def test_people_with_two_roles_do_one_thing_after_the_other() -> None:
    clinic = {
        "clinic": "Q", "language": "en", "roles": {"a": {"title": "A"}, "b": {"title": "B"}},
        "people": {"nurse": ["a", "b"]},
    }  # fmt: skip
    steps = [{"id": name, "role": name, "do": "Go.", "takes": "5 min"} for name in ("a", "b")]
    written = {"kind": "protocol", "title": "T", "team": ["a", "b"], "phases": [{"phase": "p", "steps": steps}]}
    made = timeline(reading(checked({"t": written}, clinic=clinic), "t"))
    assert [one.earliest for one in made.starts] == ["0:00:00", "0:05:00"]
    assert made.people == ("A + B: busy 10 min, waiting 0 s",)
    assert any("One person has these roles" in sentence for sentence in made.sentences)


def test_steps_in_a_circle_have_no_clock() -> None:
    steps = [
        {"id": "one", "role": "surgeon", "do": "Go.", "after": ["two"], "takes": "1 min"},
        {"id": "two", "role": "surgeon", "do": "Go.", "takes": "1 min"},
    ]
    found = reading(checked({"wrist": sample(phases=[{"phase": "p", "steps": steps}])}))
    assert timeline_of(found) is None


def test_a_long_wait_keeps_the_picture_small() -> None:
    steps = [
        {"id": "one", "role": "surgeon", "do": "Go.", "takes": "1 min"},
        {"id": "two", "role": "surgeon", "do": "Go.", "takes": "1 min", "waits": [{"for": "one", "at_least": "30 d"}]},
    ]
    made = timeline(reading(checked({"wrist": sample(phases=[{"phase": "p", "steps": steps}])})))
    assert len(made.strips) <= 17
    assert sum(len(path) for strip in made.strips for _, path in strip.tile.paths) < 40_000


def test_every_picture_has_words(demo: list[Reading]) -> None:
    for found in demo:
        for strip in timeline(found).strips:
            assert strip.title
            assert "the table below says the same in words" in strip.label
