"""Wall screens in Chromium: they fit, can be read from afar, turn, renew themselves, and never show half a page."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from tests.site.browsing import Browser, away, browser
from tests.site.screening import (
    CLOCK,
    CONTRAST,
    DAYS,
    FIT,
    demo_report,
    hard_report,
    many_report,
    served,
    small_report,
    write,
)
from tests.site.small import sample

pytestmark = pytest.mark.browser

SIZES = {"lying": (1920, 1080), "large": (3840, 2160), "standing": (1080, 1920)}
SCREEN = "protocols/wrist/scrub.html"


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with browser() as found:
        yield found


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write(tmp_path_factory.mktemp("demo"), demo_report())


@pytest.fixture(scope="module")
def hard(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write(tmp_path_factory.mktemp("hard"), hard_report())


@pytest.fixture(scope="module")
def many(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write(tmp_path_factory.mktemp("many"), many_report())


@pytest.fixture(scope="module")
def from_the_right(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write(tmp_path_factory.mktemp("right"), hard_report("ar"))


@pytest.fixture
def small(tmp_path: Path) -> Path:
    return write(tmp_path, small_report(days=DAYS))


@pytest.fixture
def clock(chromium: Browser) -> Iterator[None]:
    """Pages opened meanwhile have a clock that stands still."""
    chromium.resize(*SIZES["lying"])
    made = chromium.driver.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": CLOCK})
    yield
    chromium.driver.execute_cdp_cmd("Page.removeScriptToEvaluateOnNewDocument", made)
    chromium.driver.get("about:blank")


def until(asked: Callable[[], Any], seconds: float = 10.0) -> Any:
    """Waits for something to become true and gives it; gives what it is at the end of the time otherwise."""
    end = time.monotonic() + seconds
    while not (found := asked()) and time.monotonic() < end:
        time.sleep(0.02)
    return found


@pytest.mark.parametrize("size", SIZES)
def test_every_screenful_fits_and_can_be_read_from_where_it_is_read(
    chromium: Browser, demo: Path, hard: Path, many: Path, from_the_right: Path, size: str
) -> None:
    """Angles are worked out afresh: arc = 3437.75 · height / distance. The demonstration is read from 3 m on 1.4 m."""
    chromium.resize(*SIZES[size])
    screens = [(page, 3.0, 1.4) for page in sorted(demo.rglob("*.html"))]
    screens += [(page, 4.3, 1.1) for page in sorted(hard.rglob("*.html"))]
    screens += [(many / SCREEN, 3.0, 1.1)]
    screens += [(from_the_right / SCREEN, 4.3, 1.1)]
    checked = 0
    for page, distance, diagonal in screens:
        if page.name == "index.html" or (size == "large" and ("days" in page.parts or page.is_relative_to(hard))):
            continue
        chromium.open(page)
        wrong, least, small, button, count = chromium.run(FIT)
        assert wrong == [], page
        pixel = diagonal / (SIZES[size][0] ** 2 + SIZES[size][1] ** 2) ** 0.5
        assert 3437.75 * least * pixel / distance >= 20, page
        assert 3437.75 * small * pixel / distance >= 16, page
        assert button >= 44
        checked += count
        asked, errors = chromium.logs()
        assert away(asked) == []
        assert errors == []
    assert checked > (100 if size == "large" else 250)


@pytest.mark.parametrize("size", ["lying", "standing"])
def test_screens_break_no_rule_of_accessibility(chromium: Browser, demo: Path, hard: Path, size: str) -> None:
    chromium.resize(*SIZES[size])
    for page in (demo / "protocols/wrist-release/scrub.html", demo / "index.html", hard / SCREEN, hard / "index.html"):
        chromium.open(page)
        assert chromium.judge() == [], page


def test_all_that_is_read_stands_out_seven_to_one(chromium: Browser, demo: Path, hard: Path) -> None:
    """The formula of WCAG 2.2; its published example is rgb(255,129,0) on rgb(100,0,58), 5.235369975583679."""
    chromium.resize(*SIZES["lying"])
    for page in (demo / "protocols/wrist-release/scrub.html", hard / SCREEN, demo / "index.html"):
        chromium.open(page)
        for before in ("return 0", "document.documentElement.classList.add('w-stale', 'w-paused')"):
            chromium.run(before)
            if page.name != "index.html":
                chromium.run("document.querySelectorAll('.w-off').forEach(e => e.classList.remove('w-off'))")
            probe, found = chromium.run(CONTRAST)
            assert probe == pytest.approx(5.235369975583679, abs=1e-9)
            assert len(found) > 10
            assert [one for one in found if one[0] < 7] == [], page


def place(chromium: Browser) -> str:
    found: str = chromium.run("return document.getElementById('w-place').textContent")
    return found


def press(chromium: Browser, code: int) -> None:
    chromium.run(
        "document.dispatchEvent(new KeyboardEvent('keydown', {keyCode: arguments[0], cancelable: true}))", code
    )


def test_screenfuls_turn_by_themselves_and_stop_at_a_touch(chromium: Browser, small: Path, clock: None) -> None:
    chromium.open(small / SCREEN)
    seconds = [int(part) for part in chromium.run("return document.documentElement.dataset.secondsLying").split(",")]
    count = len(seconds)
    assert count > 2
    for number in range(count):
        assert place(chromium) == f"{number + 1} of {count}"
        chromium.run("advance(arguments[0])", seconds[number] - 0.5)
        assert place(chromium) == f"{number + 1} of {count}"
        chromium.run("advance(0.5)")
    assert place(chromium) == f"1 of {count}"
    for touch in ("document.querySelector('.w-card').click()", "document.getElementById('w-pause').click()"):
        chromium.run(touch)
        chromium.run("advance(600)")
        assert place(chromium) == f"1 of {count}"
        assert chromium.run("return document.getElementById('w-pause').getAttribute('aria-pressed')") == "true"
        chromium.run(touch)
    press(chromium, 32)
    for code, expected in ((39, 2), (37, 1), (37, count), (36, 1), (35, count), (36, 1)):
        press(chromium, code)
        assert place(chromium) == f"{expected} of {count}"
    phase = "return document.querySelector('.w-section:not(.w-off) .w-phase').textContent"
    press(chromium, 34)
    assert chromium.run(phase) == "Phase 1 of 2: Prepare the room"
    press(chromium, 34)
    assert chromium.run(phase) == "Phase 2 of 2: Operate"
    press(chromium, 33)
    assert chromium.run(phase) == "Phase 1 of 2: Prepare the room"
    press(chromium, 32)
    chromium.run("advance(100)")
    assert chromium.run("return document.getElementById('w-pause').getAttribute('aria-pressed')") == "false"


def test_nothing_moves_for_those_who_asked_for_that(chromium: Browser, small: Path) -> None:
    rule = {"features": [{"name": "prefers-reduced-motion", "value": "reduce"}]}
    chromium.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", rule)
    try:
        chromium.open(small / SCREEN)
        chromium.run("document.getElementById('w-next').click()")
        assert chromium.run("return document.getAnimations().length") == 0
    finally:
        chromium.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": []})


def test_without_scripts_a_screen_is_a_complete_page(chromium: Browser, small: Path) -> None:
    chromium.driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
    try:
        chromium.open(small / SCREEN)
        cards = "return [...document.querySelectorAll('.w-card')].map(e => e.getBoundingClientRect().height)"
        chromium.driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": False})
        heights = chromium.run(cards)
        assert len(heights) > 8
        assert min(heights) > 0
    finally:
        chromium.driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": False})


def test_a_screen_of_another_shape_is_scrolled_and_says_so(chromium: Browser, hard: Path) -> None:
    chromium.resize(1100, 1080)
    chromium.open(hard / "protocols/wrist/circulating.html")
    script = """for (let n = 0; n < 60; n++) { if (document.documentElement.classList.contains('w-misfit'))
        { const box = document.querySelector('.w-section:not(.w-off) .w-cards');
          return [getComputedStyle(box).overflowY, document.getElementById('w-status').textContent]; }
        document.getElementById('w-next').click(); } return null;"""
    overflow, told = chromium.run(script)
    assert overflow == "auto"
    assert told == "Not made for this shape of screen: scroll to read all."


# What follows holds from a folder and from a server alike.


@contextmanager
def opened(chromium: Browser, screens: Path, way: str) -> Iterator[None]:
    """Opens a screen from its folder, or from a server for a while."""
    if way == "folder":
        chromium.open(screens / SCREEN)
        yield
        return
    with served(screens.parent) as port:
        chromium.driver.get("about:blank")
        chromium.driver.get(f"http://127.0.0.1:{port}/screens/{SCREEN}")
        yield


def status(chromium: Browser) -> str:
    found: str = chromium.run("const e = document.getElementById('w-status'); return e ? e.textContent : ''")
    return found


def is_told(chromium: Browser, words: str) -> bool:
    return bool(until(lambda: words in status(chromium)))


def build_of(chromium: Browser) -> str:
    found: str = chromium.run("return document.documentElement.getAttribute('data-build')")
    return found


def number_of(screens: Path) -> str:
    return (screens / "version.js").read_text(encoding="utf-8").split('"')[1]


def pass_time(chromium: Browser, seconds: float) -> None:
    """Lets time pass in steps shorter than the screen's own, with room for each answer to come."""
    for _ in range(int(seconds // 20) + 1):
        chromium.run("if (window.advance) { advance(20); }")
        time.sleep(0.03)


def renewed(screens: Path) -> None:
    """Publishes the screens anew, with one step changed."""
    changed = sample()
    changed["phases"][0]["steps"][3]["do"] = "Rub your hands for longer."
    write(screens.parent, small_report({"wrist": changed}, DAYS))


both = pytest.mark.parametrize("way", ["folder", "server"])


@both
def test_a_new_build_is_taken_up_once_and_in_its_place(chromium: Browser, small: Path, clock: None, way: str) -> None:
    with opened(chromium, small, way):
        assert is_told(chromium, "Confirmed")
        chromium.run("document.getElementById('w-next').click(); document.getElementById('w-pause').click()")
        old, shown = build_of(chromium), place(chromium)
        renewed(small)
        assert number_of(small) != old
        pass_time(chromium, 80)
        assert until(lambda: build_of(chromium) == number_of(small))
        assert is_told(chromium, "Confirmed")
        assert "Rub your hands for longer." in chromium.driver.page_source
        assert place(chromium) == shown
        assert chromium.run("return document.documentElement.classList.contains('w-paused')")
        address = chromium.driver.current_url
        pass_time(chromium, 200)
        assert chromium.driver.current_url == address
        asked, _ = chromium.logs()
        assert [one for one in away(asked) if not one.startswith(address.partition("/screens/")[0])] == []
        assert not chromium.run("return document.documentElement.classList.contains('w-stale')")


def loads(chromium: Browser) -> int:
    """How often the page itself was asked for since the last look."""
    asked, _ = chromium.logs()
    return sum(1 for address in asked if SCREEN in address)


@both
def test_half_a_publication_is_tried_less_and_less_often(chromium: Browser, small: Path, clock: None, way: str) -> None:
    """A new number with old pages: at once, then after 1, 2, 4 and 8 minutes; never in a circle."""
    with opened(chromium, small, way):
        assert is_told(chromium, "Confirmed")
        script = (small / "version.js").read_text(encoding="utf-8")
        (small / "version.js").write_text(script.replace(number_of(small), "ab" * 16), encoding="utf-8")
        loads(chromium)
        pass_time(chromium, 80)
        assert until(lambda: chromium.driver.current_url.partition("#")[2].startswith(f"{'ab' * 16}-1-"))
        assert is_told(chromium, "a new version is coming")
        assert chromium.run("return document.documentElement.classList.contains('w-stale')")
        assert chromium.run("return document.querySelectorAll('.w-card:not(.w-off)').length") > 0
        pass_time(chromium, 8 * 60)
        assert 3 <= loads(chromium) <= 4
        renewed(small)
        pass_time(chromium, 10 * 60)
        assert until(lambda: build_of(chromium) == number_of(small))
        assert is_told(chromium, "Confirmed")


HOSTILE = ("../../evil", "javascript:alert(1)", "ABCDEF", "a" * 65, "", "abc#x", "abc\\n", "абв")


def test_a_hostile_number_is_refused(chromium: Browser, small: Path, clock: None) -> None:
    told = [f'__build("{one}", []);' for one in HOSTILE]
    told += [
        "__build(12);",
        "__build(['ab']);",
        "__build({toString: function () { return 'ab'; }});",
        "__build(",
        "<html>",
    ]
    with opened(chromium, small, "folder"):
        assert is_told(chromium, "Confirmed")
        address, build = chromium.driver.current_url, build_of(chromium)
        for script in told:
            (small / "version.js").write_text(script, encoding="utf-8")
            pass_time(chromium, 80)
            assert is_told(chromium, "Not confirmed since"), script
            assert chromium.driver.current_url == address
            assert build_of(chromium) == build


def test_a_server_that_is_away_changes_nothing_and_is_found_again(chromium: Browser, small: Path, clock: None) -> None:
    with served(small.parent) as port:
        chromium.driver.get(f"http://127.0.0.1:{port}/screens/{SCREEN}")
        assert is_told(chromium, "Confirmed")
    before = place(chromium)
    chromium.run("document.getElementById('w-pause').click()")
    pass_time(chromium, 80)
    assert is_told(chromium, "Not confirmed since")
    pass_time(chromium, 300)
    assert place(chromium) == before
    assert chromium.run("return document.querySelectorAll('.w-card:not(.w-off)').length") > 0
    assert not chromium.run("return document.documentElement.classList.contains('w-stale')")
    with served(small.parent, port):
        pass_time(chromium, 80)
        assert is_told(chromium, ". Confirmed")
    chromium.driver.get("about:blank")


def test_a_screen_that_finds_no_site_for_a_day_is_marked(chromium: Browser, small: Path, clock: None) -> None:
    with opened(chromium, small, "folder"):
        assert is_told(chromium, "Confirmed")
        (small / "version.js").unlink()
        chromium.run("document.getElementById('w-pause').click(); advance(23.9 * 3600)")
        stale = "return document.documentElement.classList.contains('w-stale')"
        time.sleep(0.2)
        assert not chromium.run(stale)
        chromium.run("advance(0.2 * 3600)")
        assert chromium.run(stale)
        assert is_told(chromium, "May be out of date: not confirmed since 20")
        ground = "return getComputedStyle(document.getElementById(arguments[0])).backgroundColor"
        assert chromium.run(ground, "w-status") == "rgb(255, 210, 77)"
        box = """const e = document.getElementById('w-status');
            return [e.scrollHeight - e.clientHeight, e.getBoundingClientRect().bottom <= innerHeight]"""
        over, inside = chromium.run(box)
        assert over <= 2
        assert inside


def test_a_clock_set_back_makes_nothing_fresh(chromium: Browser, small: Path, clock: None) -> None:
    with opened(chromium, small, "folder"):
        assert is_told(chromium, "Confirmed")
        (small / "version.js").unlink()
        chromium.run("document.getElementById('w-pause').click()")
        chromium.run("const now = Date.now(); Date.now = () => now - 7 * 86400000; advance(25 * 3600)")
        assert chromium.run("return document.documentElement.classList.contains('w-stale')")


def test_a_screen_that_is_published_no_more_says_so(chromium: Browser, small: Path, clock: None) -> None:
    with opened(chromium, small, "folder"):
        assert is_told(chromium, "Confirmed")
        address = chromium.driver.current_url
        script = f'__build("{"ab" * 16}", {json.dumps(["index.html"])});'
        (small / "version.js").write_text(script, encoding="utf-8")
        pass_time(chromium, 80)
        assert is_told(chromium, "no longer published")
        assert chromium.driver.current_url == address
        assert chromium.run("return document.documentElement.classList.contains('w-stale')")


@pytest.mark.parametrize("what", ["half a page", "no style sheet", "half a style sheet"])
def test_half_a_page_is_never_shown_and_mends_itself(chromium: Browser, small: Path, clock: None, what: str) -> None:
    path = {"half a page": small / SCREEN, "no style sheet": small / "sizes.css"}.get(what, small / "sizes.css")
    whole = path.read_text(encoding="utf-8")
    path.write_text({"no style sheet": ""}.get(what, whole[: len(whole) // 2]), encoding="utf-8")
    with opened(chromium, small, "folder"):
        assert until(lambda: chromium.run("return document.documentElement.classList.contains('w-broken')"))
        shown = "return [...document.querySelectorAll('.w-card, .w-foot')].filter(e => e.offsetParent).length"
        assert chromium.run(shown) == 0
        assert "a new version is coming" in chromium.run("return document.body.innerText")
        path.write_text(whole, encoding="utf-8")
        pass_time(chromium, 150)
        assert is_told(chromium, "Confirmed")
        assert chromium.run(shown) > 0
