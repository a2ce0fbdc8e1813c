"""Wall screens: whose steps they show, how large, how split, and that nothing of them is lost or half published."""

from __future__ import annotations

import html
import json
import math
import random
import re
from pathlib import Path
from typing import Any

import pytest

from stepfield.checks import Report
from stepfield.language.model import Viewing
from stepfield.pages.screens import VERSION, screens
from stepfield.pages.screens.paragraphs import Paragraph
from stepfield.pages.screens.publishing import put
from stepfield.pages.screens.sizes import CAPITAL, letter_height, sizes_of
from stepfield.pages.screens.splitting import Card, deal
from tests.site.building import build_small, write_set
from tests.site.hostile import HOSTILE, everywhere
from tests.site.screening import ASSETS, DAYS, demo_report, hard_report, small_report
from tests.site.small import CLINIC, SAMPLE, Seen, checked, sample


def pages(report: Report) -> dict[str, str]:
    return {address: content.decode() for address, content in screens(report)}


@pytest.fixture(scope="module")
def demo() -> tuple[Report, dict[str, str]]:
    report = demo_report()
    return report, pages(report)


@pytest.fixture(scope="module")
def hard() -> dict[str, str]:
    return pages(hard_report())


@pytest.mark.parametrize(
    ("distance", "minutes", "millimetres"),
    [(0.5, 20, 2.9), (1, 16, 4.7), (2, 22, 12.8), (3, 20, 17.5), (4, 20, 23.3), (4, 16, 18.6), (8, 24, 55.9)],
)
def test_letters_are_as_high_as_the_angle_asks(distance: float, minutes: float, millimetres: float) -> None:
    """Plane geometry; the ratios of distance to height are 214.9 for 16 minutes of arc and 171.9 for 20."""
    assert round(letter_height(distance, minutes) * 1000, 1) == millimetres
    assert round(1 / letter_height(1, 16), 1) == 214.9
    assert round(1 / letter_height(1, 20), 1) == 171.9


def test_the_type_size_follows_from_screen_and_distance() -> None:
    """Worked by hand: 1210 mm over 1920 pixels is 0.630 mm each; 23.27 mm are 36.9 pixels, with CAPITAL 54.3."""
    diagonal = 1.210 * math.hypot(1920, 1080) / 1920
    found = sizes_of(Viewing(4, 1920, 1080, diagonal))
    assert found.type_size * 1080 == pytest.approx(54.3, abs=0.1)
    assert found.letter * 1000 == pytest.approx(23.27, abs=0.01)
    assert found == sizes_of(Viewing(4, 3840, 2160, diagonal)) == sizes_of(Viewing(4, 1080, 1920, diagonal))
    assert CAPITAL == 0.68


def shown_steps(page: str) -> set[int]:
    return {int(number) for number in re.findall(r'w-do"><div class="w-gutter"><span class="w-mark">(\d+)<', page)}


def test_every_screen_shows_the_steps_of_its_role_and_no_others(demo: tuple[Report, dict[str, str]]) -> None:
    report, files = demo
    checked_screens = 0
    for one in report.facts.examined:
        for role in one.protocol.team:
            own = {
                number
                for number, step in enumerate(one.protocol.steps, start=1)
                if role.value in {str(step.role), *map(str, step.helpers)}
            }
            assert shown_steps(files[f"screens/protocols/{one.protocol.id}/{role}.html"]) == own
            checked_screens += 1
    assert checked_screens >= 6


def test_a_choice_of_the_day_leaves_out_the_steps_of_other_options() -> None:
    protocol = sample()
    protocol["phases"][1]["steps"][4]["when"] = {"draping": "two"}
    one = {"title": "One", "cases": [{"protocol": "wrist", "choices": {"draping": "one"}}]}
    files = pages(small_report({"wrist": protocol}, {"one": one, **DAYS}))
    assert "Lay the second sheet." not in files["screens/days/one/scrub.html"]
    settled, _, rest = files["screens/days/monday/scrub.html"].partition("Case 2 of 2")
    assert "Lay the second sheet." in settled
    assert "Only if" not in settled
    assert "Only if Draping: Two split sheets" in rest


def test_a_day_shows_its_cases_in_order_with_what_is_settled() -> None:
    seen = Seen(pages(small_report(days=DAYS))["screens/days/monday.html"]).text
    assert seen.index("Draping: Two split sheets") < seen.index(
        "Draping is to be settled: One sheet or Two split sheets"
    )
    assert "Wipe the trolley." not in seen


def test_a_missing_protocol_is_told_and_its_screen_is_made() -> None:
    days = {
        "monday": {"title": "Monday", "cases": [{"protocol": "wrst"}, {"protocol": "wrist", "choices": {"x": "y"}}]}
    }
    report = small_report(days=days)
    assert {(found.rule, found.subject) for found in report.findings if "screens" in found.span.path} == {
        ("unknown-name", "wrst"),
        ("unknown-name", "x"),
    }
    files = pages(report)
    for address in ("screens/days/monday.html", "screens/days/monday/scrub.html"):
        seen = Seen(files[address]).text
        assert "There is no protocol “wrst”. Its steps are not shown." in seen
        assert "Not known here and passed over: x: y" in seen
    assert "Errors: do not use" not in files["screens/protocols/wrist/scrub.html"]


def test_a_protocol_that_cannot_be_read_is_told() -> None:
    days = {"monday": {"title": "Monday", "cases": [{"protocol": "wrist"}]}}
    report = small_report({"wrist": {**SAMPLE, "team": 3}}, days)
    assert "The protocol “wrist” cannot be read." in Seen(pages(report)["screens/days/monday.html"]).text


def test_errors_and_drafts_are_marked_on_every_screenful(hard: dict[str, str]) -> None:
    page = hard["screens/protocols/wrist/scrub.html"]
    sections = page.split('<section class="w-section">')[1:]
    assert len(sections) >= 3
    for section in sections:
        assert "Errors: do not use · Draft" in section
        assert "licensed judgement come first" in section
        assert "Version 0.3.0, draft" in section


def test_a_step_of_several_sentences_says_that_there_is_more() -> None:
    page = pages(small_report())["screens/protocols/wrist/circulating.html"]
    assert "Wipe the trolley. …" in page
    assert "Let it dry" not in page


def test_a_day_marks_what_is_not_for_use_in_its_list(hard: dict[str, str]) -> None:
    listed = hard["screens/days/monday.html"].partition("Case 1 of 2")[0]
    assert "Errors: do not use · Draft" in Seen(listed).text


def test_a_role_that_does_nothing_has_a_screen_that_says_so(hard: dict[str, str]) -> None:
    assert "this protocol has no step for this role" in hard["screens/protocols/wrist/idle.html"]


def test_a_long_step_is_continued_whole(hard: dict[str, str]) -> None:
    page = hard["screens/protocols/wrist/circulating.html"]
    assert "Step 3, continued" in page or "Step 4, continued" in page
    for shape in ("lying", "standing"):
        cards = [card for card in page.split('<div class="w-card"')[1:] if f"data-{shape}=" in card.partition(">")[0]]
        text = re.sub(r"Step \d+, continued|\s", "", " ".join(Seen(f"<div{card}").text for card in cards))
        assert "Unauseinandergenommenes" * 13 in text
    assert "Too long for one screenful" in hard["screens/index.html"]


def some_card(chance: random.Random) -> Card:
    kinds = ("do", "note", "warn", "wait", "ask", "small", "hands", "title")
    said = []
    for number in range(chance.randint(1, 6)):
        words = ["m" * chance.choice((1, 3, 7, 12, 60)) + str(n) for n in range(chance.randint(1, 60))]
        said.append(
            Paragraph(chance.choice(kinds), " ".join(words), lead=chance.choice(("", "Fire:")), mark=str(number))
        )
    return Card(tuple(said), "Step 1")


def test_splitting_loses_nothing_and_fills_no_screenful_too_far() -> None:
    chance = random.Random(7)  # noqa: S311 - the same cards every time
    for _ in range(80):
        cards = [some_card(chance) for _ in range(chance.randint(1, 6))]
        width, height = chance.uniform(11, 40), chance.uniform(4, 20)
        found = deal([(cards, width, height, 2)], lambda name: f"{name}, continued")
        filled: dict[int, float] = {}
        for number, card in enumerate(cards):
            said = ""
            for place, piece in found.pieces[number]:
                filled[place] = filled.get(place, 0.0) + piece.height(width)
                said += "".join(one.lead + one.text for one in piece.paragraphs if not one.text.endswith("continued"))
            assert said.replace(" ", "") == "".join(one.lead + one.text for one in card.paragraphs).replace(" ", "")
        assert max(filled.values()) <= height + 1e-9
        assert sorted(filled) == list(range(len(found.words)))


def test_lines_are_counted_as_they_are_filled() -> None:
    chance = random.Random(11)  # noqa: S311 - the same paragraphs every time
    for _ in range(60):
        for paragraph in some_card(chance).paragraphs:
            room = chance.uniform(8, 40)
            parts, lines = paragraph.parted(room, 0.0, at_least=True), 1
            while parts is not None:
                parts, lines = parts[1].parted(room, 0.0, at_least=True), lines + 1
            assert paragraph.lines(room) == lines


def test_a_screenful_stays_as_long_as_slow_readers_need() -> None:
    """60 words take 20.6 s at 175 words a minute, the lower end of what most adults read (Brysbaert 2019)."""
    card = Card((Paragraph("do", " ".join(["word"] * 60)),), "x")
    found = deal([((card,), 40.0, 20.0, 0)], str)
    assert found.seconds(175) == (21,)
    assert found.seconds(60) == (60,)
    assert deal([((Card((Paragraph("do", "Wash."),), "x"),), 40.0, 20.0, 0)], str).seconds(175) == (8,)
    assert Paragraph("do", "手を洗う").words >= 4


def test_all_pages_carry_one_number_and_the_script_that_tells_it_comes_last(
    demo: tuple[Report, dict[str, str]],
) -> None:
    _, files = demo
    assert list(files)[-1] == VERSION
    told = re.fullmatch(r'__build\("([0-9a-f]{32})", (\[.*\])\);\n', files[VERSION])
    assert told is not None
    build, listed = told[1], json.loads(told[2])
    here = [address for address in files if address.endswith(".html")]
    assert sorted(f"screens/{address}" for address in listed) == sorted(here)
    for address in here:
        assert set(re.findall(r'data-build="([^"]*)"', files[address])) == {build}
        assert files[address].count(f'data-build="{build}"') == 2
        assert "\0" not in files[address]


def test_the_number_follows_the_content_alone() -> None:
    first, again = pages(small_report()), pages(small_report())
    assert first == again
    changed = sample()
    changed["phases"][0]["steps"][1]["do"] = "Wipe the trolley twice."
    assert pages(small_report({"wrist": changed}))[VERSION] != first[VERSION]
    assert pages(small_report(settings={"stale_after": "2 h"}))[VERSION] != first[VERSION]


def test_a_page_runs_and_loads_only_what_lies_beside_it(demo: tuple[Report, dict[str, str]]) -> None:
    for address, page in demo[1].items():
        if not address.endswith(".html"):
            continue
        tags = Seen(page).tags
        policy = next(attrs["content"] for tag, attrs in tags if attrs.get("http-equiv") == "Content-Security-Policy")
        assert policy == "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:"
        for tag, attrs in tags:
            assert tag != "style"
            assert not [name for name in attrs if name == "style" or name.startswith("on")]
            for name in ("src", "href", "xlink:href"):
                assert not re.match(r"[a-z]+:(?!,)|//", (attrs.get(name) or "").removeprefix("data:,"))


def test_hostile_text_stays_text() -> None:
    clinic, protocol, evidence = everywhere(" ".join(HOSTILE))
    days = {"monday": {"title": " ".join(HOSTILE), "cases": [{"protocol": "wrist"}]}}
    files = pages(checked({"wrist": protocol, "evidence": evidence, "screens": {"days": days}}, clinic=clinic))
    made = 0
    for address, page in files.items():
        if address.endswith(".html"):
            made += 1
            assert "<img src=x onerror" not in page
            assert html.escape("<img src=x onerror=window.hit=1>") in page
            assert {tag for tag, _ in Seen(page).tags} & {"img", "iframe", "object", "base", "form"} == set()
    assert made >= 5


def test_the_words_of_a_clinic_are_told_apart_where_its_language_has_no_catalogue() -> None:
    page = pages(checked(clinic={**CLINIC, "language": "ar"}))["screens/protocols/wrist/scrub.html"]
    assert '<html lang="en" dir="ltr"' in page
    assert 'dir="auto" lang="ar"' in page


def test_a_build_publishes_the_script_after_everything_else(tmp_path: Path) -> None:
    write_set(tmp_path)
    site = build_small(tmp_path, strict=True)
    last = (site / VERSION).stat().st_mtime_ns
    others = [path for path in site.rglob("*") if path.is_file() and path != site / VERSION]
    assert (site / "screens" / "index.html") in others
    assert all(path.stat().st_mtime_ns <= last for path in others)
    assert not [path for path in others if path.suffix == ".part"]


def test_a_file_is_put_in_its_place_whole(tmp_path: Path) -> None:
    path = tmp_path / "new" / "version.js"
    put(path, b"one")
    put(path, b"two")
    assert path.read_bytes() == b"two"
    assert [found.name for found in path.parent.iterdir()] == ["version.js"]
    (tmp_path / "taken").mkdir()
    with pytest.raises(OSError, match="taken"):
        put(tmp_path / "taken", b"x")
    assert sorted(found.name for found in tmp_path.iterdir()) == ["new", "taken"]


def test_the_script_is_in_old_syntax() -> None:
    """Televisions of many years run it: nothing newer than ECMAScript 5."""
    script = re.sub(r"/\*.*?\*/", "", (ASSETS / "wall.js").read_text(encoding="utf-8"), flags=re.DOTALL)
    code = re.sub(r'"(?:[^"\\]|\\.)*"', '""', script)
    assert not re.search(r"=>|`|\b(?:let|const|class|async|await|import|export|of)\b|\.\.\.|\?\.|\?\?|\*\*", code)
    assert not re.search(r"\b(?:fetch|XMLHttpRequest|eval|innerHTML|localStorage|includes|Promise|Map|Set)\b", code)


def test_no_screen_is_heavy(demo: tuple[Report, dict[str, str]]) -> None:
    assert max(len(page.encode()) for page in demo[1].values()) < 300_000


def test_a_full_day_is_no_heavier_than_a_page_may_be(demo: tuple[Report, dict[str, Any]]) -> None:
    """A day has at most twelve cases; the demonstration's largest case is taken as the measure."""
    largest = max(len(page.encode()) for address, page in demo[1].items() if "/protocols/" in address)
    assert 12 * largest < 600_000
