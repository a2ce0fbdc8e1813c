"""The page of the whole team in Chromium: its picture moves, a phone shows phase by phase, paper shows all."""

from __future__ import annotations

import base64
import re
import shutil
import subprocess
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from stepfield.language import read_set
from tests.site.browsing import Browser, away, browser
from tests.site.building import ROOT, THEME, build_demo, build_small, write_set
from tests.site.small import sample
from tests.site.test_team import long_lane

pytestmark = pytest.mark.browser
PAGE = "protocols/wrist-release.html"
STEPS = 55


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with browser() as found:
        yield found


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return build_demo(tmp_path_factory.mktemp("demo") / "site")


@pytest.fixture(scope="module")
def odd(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A protocol of 200 steps, one with long titles and words, one in a script that runs from the right."""
    folder = tmp_path_factory.mktemp("odd")
    long, arabic = sample(title="Title " + "very long " * 29), sample(title="تحرير العصب")
    long["phases"][0]["title"] = "Phase" + "x" * 294
    long["phases"][0]["steps"][1]["do"] = "Donaudampfschifffahrtsgesellschaft" * 10
    for phase in arabic["phases"]:
        phase["title"] = "تحضير الغرفة"
        for step in phase["steps"]:
            if "do" in step:
                step["do"] = "امسح الطاولة من الأعلى إلى الأسفل. ثم انتظر حتى تجف (3 دقائق)."
    write_set(folder, {"many": long_lane(200), "long": long, "arabic": arabic})
    return build_small(folder, theme={**THEME, "palette": {"scheme": "default"}})


def until(asked: Callable[[], Any], seconds: float = 10.0) -> Any:
    end = time.monotonic() + seconds
    while not (found := asked()) and time.monotonic() < end:
        time.sleep(0.05)
    return found


def view(chromium: Browser) -> list[float]:
    """Left, top, width and height of the part of the picture that is shown."""
    box = chromium.run("return document.querySelector('.sf-stage svg').getAttribute('viewBox')")
    return [float(number) for number in box.split()]


def whole(chromium: Browser) -> list[float]:
    """Width and height of the picture."""
    script = "const all = arguments[0]; return [all.getAttribute('width'), all.getAttribute('height')]"
    picture = chromium.driver.find_element(By.CSS_SELECTOR, "svg.sf-picture-whole")
    return [float(number) for number in chromium.run(script, picture)]


def press(chromium: Browser, what: str) -> None:
    chromium.driver.find_element(By.CSS_SELECTOR, f".sf-tool[data-{what}]").click()


def wide(chromium: Browser, page: Path, place: str = "") -> None:
    chromium.resize(1280)
    chromium.open(page, place)
    chromium.run("document.querySelector('.sf-stage').scrollIntoView({block: 'center'})")


def test_buttons_enlarge_shrink_fit_and_lead_to_a_phase(chromium: Browser, demo: Path) -> None:
    wide(chromium, demo / PAGE)
    first = view(chromium)
    press(chromium, "do=in")
    assert view(chromium)[2] == pytest.approx(first[2] / 1.25, rel=0.01)
    press(chromium, "do=out")
    press(chromium, "do=reset")
    assert view(chromium) == pytest.approx(first)
    press(chromium, "do=fit")
    _, _, width, height = view(chromium)
    assert width >= whole(chromium)[0]
    assert height >= whole(chromium)[1]
    press(chromium, "phase='5'")
    top = chromium.run("return document.querySelector('.sf-band[data-phase=\"5\"]').dataset.top")
    assert view(chromium)[1] == pytest.approx(float(top), abs=1)
    assert view(chromium)[2] == pytest.approx(first[2], rel=0.01)


def test_keys_move_and_enlarge_the_picture_and_never_lose_it(chromium: Browser, demo: Path) -> None:
    wide(chromium, demo / PAGE)
    stage = chromium.driver.find_element(By.CSS_SELECTOR, ".sf-stage")
    first = view(chromium)
    stage.send_keys(Keys.ARROW_DOWN)
    assert view(chromium)[1] > first[1]
    stage.send_keys("+", "+")
    assert view(chromium)[2] < first[2]
    for _ in range(8):
        stage.send_keys(Keys.ARROW_RIGHT, Keys.ARROW_RIGHT, Keys.PAGE_DOWN, Keys.END)
    width, height = whole(chromium)
    left, top, shown, tall = view(chromium)
    assert left + shown <= width + 50
    assert top + tall <= height + 50
    stage.send_keys("0")
    assert view(chromium) == pytest.approx(first)


def test_the_wheel_scrolls_the_page_and_enlarges_only_with_ctrl(chromium: Browser, demo: Path) -> None:
    wide(chromium, demo / PAGE)
    script = """const stage = document.querySelector('.sf-stage'), box = stage.getBoundingClientRect();
        const event = new WheelEvent('wheel', {deltaY: -120, ctrlKey: arguments[0], cancelable: true, bubbles: true,
            clientX: box.left + 300, clientY: box.top + 200});
        stage.dispatchEvent(event); return event.defaultPrevented"""
    first = view(chromium)
    assert chromium.run(script, False) is False
    assert view(chromium) == first
    assert chromium.run(script, True) is True
    after = view(chromium)
    assert after[2] < first[2]
    there = 300 / float(chromium.run("return document.querySelector('.sf-stage').clientWidth"))
    assert after[0] + there * after[2] == pytest.approx(first[0] + there * first[2], abs=2)


def touch(chromium: Browser, *moments: list[tuple[float, float]]) -> None:
    """Fingers on the picture, at places counted from its corner, moment after moment; then all are lifted."""
    corner = "const box = document.querySelector('.sf-stage').getBoundingClientRect(); return [box.left, box.top]"
    left, top = chromium.run(corner)
    for number, fingers in enumerate(moments):
        points = [{"x": left + x, "y": top + y, "id": finger} for finger, (x, y) in enumerate(fingers)]
        values = {"type": "touchMove" if number else "touchStart", "touchPoints": points}
        chromium.driver.execute_cdp_cmd("Input.dispatchTouchEvent", values)
    chromium.driver.execute_cdp_cmd("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


def test_one_finger_drags_and_two_pinch(chromium: Browser, demo: Path) -> None:
    wide(chromium, demo / PAGE)
    press(chromium, "phase='3'")
    first = view(chromium)
    touch(chromium, [(400, 400)], [(400, 350)], [(400, 300)])
    moved = view(chromium)
    assert moved[1] > first[1] + 50
    assert moved[2] == first[2]
    touch(chromium, [(400, 300), (500, 300)], [(350, 300), (500, 300)], [(350, 300), (550, 300)])
    assert view(chromium)[2] == pytest.approx(first[2] / 2, rel=0.02)
    assert "#" not in chromium.driver.current_url


def test_a_finger_on_the_picture_s_edge_scrolls_the_page_on(chromium: Browser, demo: Path) -> None:
    """A picture that can be moved no further must not hold the page."""
    wide(chromium, demo / PAGE)
    before = chromium.run("return scrollY")
    touch(chromium, [(400, 100)], [(400, 200)], [(400, 350)])
    assert chromium.run("return scrollY") < before - 100


def test_a_step_in_the_picture_leads_to_its_row_but_a_drag_does_not(chromium: Browser, demo: Path) -> None:
    wide(chromium, demo / PAGE)
    chromium.driver.find_elements(By.CSS_SELECTOR, ".sf-node")[3].click()
    assert chromium.driver.current_url.endswith("#scrub-hands.rub")
    until(lambda: 0 < chromium.run("return document.querySelector(':target').getBoundingClientRect().top") < 900)
    assert (
        chromium.run("return getComputedStyle(document.querySelector(':target').closest('tr')).outlineWidth") == "4px"
    )
    assert chromium.run("return document.querySelectorAll('.sf-node-here').length") == 1
    wide(chromium, demo / PAGE)
    drag = ActionChains(chromium.driver)
    node = chromium.driver.find_elements(By.CSS_SELECTOR, ".sf-node")[3]
    drag.click_and_hold(node).move_by_offset(0, -60).move_by_offset(0, -60).release().perform()
    assert view(chromium)[1] > 50
    assert "#" not in chromium.driver.current_url


def test_the_tab_key_goes_through_the_steps_in_order_and_shows_each(chromium: Browser, demo: Path) -> None:
    wide(chromium, demo / PAGE)
    chromium.run("document.querySelector('.sf-stage').focus()")
    script = """const one = document.activeElement, box = one.getBoundingClientRect(),
        frame = document.querySelector('.sf-stage').getBoundingClientRect();
        const inside = box.top >= frame.top - 1 && box.bottom <= frame.bottom + 1;
        return [one.getAttribute('href'), inside, box.left >= frame.left - 1]"""
    ids = [
        f"#{step.id.value}"
        for one in read_set(ROOT / "protocols").protocols
        if one.id == "wrist-release"
        for step in one.steps
    ]
    seen = []
    for _ in range(STEPS):
        chromium.driver.switch_to.active_element.send_keys(Keys.TAB)
        href, inside, right = chromium.run(script)
        assert inside, href
        assert right, href
        seen.append(href)
    assert seen == ids
    chromium.driver.switch_to.active_element.send_keys(Keys.TAB)
    assert chromium.run("return document.activeElement.closest('.sf-stage')") is None


def test_what_a_part_of_the_picture_shows_again_is_reached_by_no_key(chromium: Browser, demo: Path) -> None:
    """The parts show the links of the whole once more; only the part itself is stopped at, so that it can be moved."""
    chromium.resize(390, 844)
    chromium.open(demo / PAGE)
    chromium.run("document.querySelector('.sf-phase .sf-figure-phase').focus()")
    for _ in range(4):
        chromium.driver.switch_to.active_element.send_keys(Keys.TAB)
        assert chromium.run("return document.activeElement.closest('svg')") is None


def shown(chromium: Browser) -> list[int]:
    found: list[int] = chromium.run(
        """return [...document.querySelectorAll('.sf-phase')].map((each, at) => each.offsetHeight > 0 ? at + 1 : 0)
            .filter(Boolean)"""
    )
    return found


def test_a_phone_shows_one_phase_at_a_time_and_a_wide_screen_all(chromium: Browser, demo: Path) -> None:
    chromium.resize(390, 844)
    chromium.open(demo / PAGE)
    assert shown(chromium) == [1]
    assert chromium.run("return document.querySelector('.sf-stage').offsetHeight") == 0
    chromium.driver.find_element(By.CSS_SELECTOR, ".sf-phases a:nth-child(4)").click()
    until(lambda: shown(chromium) == [4])
    assert shown(chromium) == [4]
    assert chromium.run("return document.querySelector('.sf-phases a[aria-current]').textContent").startswith("4")
    forward = chromium.driver.find_elements(By.CSS_SELECTOR, ".sf-phase:not([hidden]) .sf-turn a")
    assert [each.text.replace("\n", " ").split()[1] for each in forward] == ["3", "5"]
    forward[1].click()
    until(lambda: shown(chromium) == [5])
    assert shown(chromium) == [5]
    chromium.resize(1280)
    until(lambda: len(shown(chromium)) == 7)
    assert shown(chromium) == [1, 2, 3, 4, 5, 6, 7]


def test_a_link_to_a_step_opens_its_phase_on_a_phone(chromium: Browser, demo: Path) -> None:
    chromium.resize(390, 844)
    chromium.open(demo / PAGE, "undrape")
    assert shown(chromium) == [7]
    top = until(lambda: chromium.run("return document.querySelector(':target').getBoundingClientRect().top"))
    assert 0 < top < 844
    chromium.run("location.hash = '#cover-trolley'")
    until(lambda: shown(chromium) == [3])
    assert shown(chromium) == [3]
    assert 0 < chromium.run("return document.querySelector(':target').getBoundingClientRect().top") < 844


@pytest.mark.parametrize("width", [1280, 390])
def test_a_link_to_a_step_hides_no_caution_of_it(chromium: Browser, demo: Path, width: int) -> None:
    chromium.resize(width)
    chromium.open(demo / PAGE, "scrub-hands.rub")
    script = """const row = document.querySelector(':target').closest('tr');
        const header = document.querySelector('.md-header');
        return [row.querySelector('.sf-cautions').getBoundingClientRect().top, header.getBoundingClientRect().bottom]"""
    until(lambda: chromium.run(script)[0] < 500)
    caution, header = chromium.run(script)
    assert header <= caution < 844


def test_a_phone_can_show_the_whole_picture(chromium: Browser, demo: Path) -> None:
    chromium.resize(390, 844)
    chromium.open(demo / PAGE)
    button = chromium.driver.find_element(By.CSS_SELECTOR, ".sf-whole-open")
    button.click()
    assert button.get_attribute("aria-expanded") == "true"
    assert chromium.run("return document.querySelector('.sf-stage').offsetHeight") > 300
    assert view(chromium)[2] < 500
    assert chromium.judge() == []


@pytest.mark.parametrize("width", [1280, 390])
def test_without_scripts_all_phases_and_pictures_are_there(chromium: Browser, demo: Path, width: int) -> None:
    chromium.resize(width)
    chromium.driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
    try:
        chromium.open(demo / PAGE)
        rows = chromium.driver.find_elements(By.CSS_SELECTOR, ".sf-table-team h3")
        assert len(rows) == STEPS
        assert all(row.is_displayed() for row in rows)
        pictures = ".sf-picture-whole" if width > 800 else ".sf-picture-window"
        found = chromium.driver.find_elements(By.CSS_SELECTOR, pictures)
        assert found
        assert all(each.size["height"] > 100 for each in found)
        assert not any(each.is_displayed() for each in chromium.driver.find_elements(By.CSS_SELECTOR, ".sf-tool"))
    finally:
        chromium.driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": False})


@pytest.mark.parametrize(
    ("page", "width"),
    [("many", 390), ("many/whole_picture", 1280), ("long", 1280), ("long", 390), ("arabic", 390)],
)
def test_odd_protocols_fit_and_are_accessible(chromium: Browser, odd: Path, page: str, width: int) -> None:
    chromium.resize(width)
    chromium.open(odd / "protocols" / f"{page}.html")
    assert chromium.run("return document.scrollingElement.scrollWidth") <= width
    asked, errors = chromium.logs()
    assert away(asked) == []
    assert errors == []
    assert chromium.judge() == []


@pytest.mark.parametrize("page", ["many/whole_picture", "long", "arabic", "demo"])
def test_the_text_of_a_picture_stays_in_its_box(chromium: Browser, demo: Path, odd: Path, page: str) -> None:
    """Whatever its script, in this browser's typeface: level with the box, and below its upper edge."""
    chromium.resize(1280)
    chromium.open(demo / PAGE if page == "demo" else odd / "protocols" / f"{page}.html")
    script = """return [...document.querySelectorAll('.sf-node')].map(node => {
        const own = [...node.querySelectorAll('path')].map(path => path.getBBox());
        const left = Math.min(...own.map(box => box.x)), right = Math.max(...own.map(box => box.x + box.width));
        const top = Math.min(...own.map(box => box.y)), bottom = Math.max(...own.map(box => box.y + box.height));
        return [...node.querySelectorAll('text')].every(text => {
            const box = text.getBBox(), label = text.classList.contains('sf-word-answer');
            const level = box.x >= left && box.x + box.width <= right;
            return level && box.y >= top && (label || box.y + box.height <= bottom);
        }); })"""
    inside = chromium.run(script)
    assert inside
    assert all(inside)


def test_the_search_opens_at_the_step_with_it_in_sight_and_marked(chromium: Browser, demo: Path) -> None:
    chromium.resize(1280)
    chromium.open(demo / "index.html")
    field = chromium.driver.find_element(By.CSS_SELECTOR, ".md-search__input")
    field.click()
    field.send_keys("puts germs")
    links = ".md-search-result__link"
    until(lambda: chromium.run("return document.querySelectorAll(arguments[0]).length", links))
    hrefs = chromium.run("return [...document.querySelectorAll(arguments[0])].map(each => each.href)", links)
    steps = [href for href in hrefs if re.search(r"/protocols/[a-z-]+\.html.*#", href)]
    assert steps
    assert not [href for href in hrefs if re.search(r"/protocols/[a-z-]+/|/roles/|/screens/|/print/", href)]
    chromium.driver.get(steps[0])
    until(lambda: chromium.run("return document.querySelector(':target') !== null"))
    script = """const box = document.querySelector(':target').getBoundingClientRect();
        return box.top > 40 && box.bottom < innerHeight"""
    assert until(lambda: chromium.run(script))
    row = "getComputedStyle(document.querySelector(':target').closest('tr'))"
    assert chromium.run(f"return {row}.outlineStyle") == "solid"
    assert (
        chromium.run(
            "return getComputedStyle(document.querySelector('tr:has(:target) .sf-number'), '::before').content"
        )
        != "none"
    )


def printed(
    chromium: Browser, page: Path, target: Path, width: float, height: float
) -> tuple[list[tuple[float, float]], str]:
    """The sheets a page is printed on, by their sizes in points, and their text."""
    chromium.resize(1280)
    chromium.open(page)
    values = {"preferCSSPageSize": True, "paperWidth": width / 25.4, "paperHeight": height / 25.4}
    found = chromium.driver.execute_cdp_cmd("Page.printToPDF", values)
    target.write_bytes(base64.b64decode(found["data"]))
    info = _run("pdfinfo", "-l", "999", str(target))
    sizes = [(float(x), float(y)) for x, y in re.findall(r"Page +\d+ size: +([\d.]+) x ([\d.]+)", info)]
    return sizes, _run("pdftotext", "-layout", str(target), "-")


def _run(program: str, *arguments: str) -> str:
    if shutil.which(program) is None:
        pytest.fail(f"{program} is not installed; printed pages are read with it", pytrace=False)
    return subprocess.run([program, *arguments], capture_output=True, text=True, check=True).stdout


@pytest.mark.parametrize(("name", "width", "height", "most"), [("A4", 210, 297, 40), ("A3", 297, 420, 26)])
def test_paper_is_used_across_and_nothing_is_left_out(
    chromium: Browser, demo: Path, tmp_path: Path, name: str, width: float, height: float, most: int
) -> None:
    """ISO 216: A4 is 210 x 297 mm and A3 297 x 420 mm; a point is 1/72 inch."""
    sizes, text = printed(chromium, demo / PAGE, tmp_path / f"{name}.pdf", width, height)
    assert 7 < len(sizes) <= most
    for across, down in sizes:
        assert across == pytest.approx(height / 25.4 * 72, abs=1.5)
        assert down == pytest.approx(width / 25.4 * 72, abs=1.5)
    said = "".join(text.split())
    protocol = next(one for one in read_set(ROOT / "protocols").protocols if one.id == "wrist-release")
    for phase in protocol.phases:
        assert "".join(phase.title.split()) in said
    for number in range(1, STEPS + 1):
        assert re.search(rf"(?m)^ *{number} ", text), number
    assert text.count("Start") >= 1
    assert text.count(protocol.version.value) >= len(sizes)


def test_paper_is_printed_in_black_and_from_a_phones_width_too(chromium: Browser, demo: Path, tmp_path: Path) -> None:
    chromium.resize(390, 844)
    chromium.open(demo / PAGE)
    chromium.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    try:
        assert shown(chromium) == [1, 2, 3, 4, 5, 6, 7]
        style = "return getComputedStyle(document.querySelector(arguments[0]))[arguments[1]]"
        assert chromium.run(style, ".sf-node text", "fill") == "rgb(0, 0, 0)"
        assert chromium.run(style, ".sf-node .sf-shape", "stroke") == "rgb(0, 0, 0)"
        assert chromium.run(style, ".sf-whole", "display") == "none"
        assert chromium.run(style, ".sf-figure-phase", "display") == "block"
    finally:
        chromium.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
