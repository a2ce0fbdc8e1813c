"""The site in Chromium, opened from a folder: it works, is readable, asks for nothing, and runs nobody's text."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from selenium.webdriver.common.by import By

from tests.site.browsing import Browser, away, browser
from tests.site.building import THEME, build_demo, build_small, write_set
from tests.site.hostile import HOSTILE, everywhere
from tests.site.small import sample

pytestmark = pytest.mark.browser

KINDS = {
    "home": "index.html",
    "role": "roles/scrub.html",
    "part": "protocols/wrist-release/scrub.html",
    "team": "protocols/wrist-release.html",
    "problems": "problems.html",
    "evidence": "evidence.html",
    "dates": "dates.html",
    "form": "print/forms/wrist-release.html",
    "rules": "rules.html",
    "language": "language.html",
    "about": "about.html",
    "hand-written": "meaning.html",
}


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with browser() as found:
        yield found


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return build_demo(tmp_path_factory.mktemp("demo") / "site")


@pytest.fixture(scope="module")
def broken(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small draft with errors, a caution of every kind of look, and a question."""
    folder = tmp_path_factory.mktemp("broken")
    protocol = sample()
    del protocol["phases"][0]["steps"][5]["after"]
    write_set(folder, {"wrist": protocol})
    return build_small(folder, theme={**THEME, "palette": {"scheme": "default"}})


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("hostile")
    clinic, protocol, evidence = everywhere(" ".join(HOSTILE))
    write_set(folder, {"wrist": protocol, "evidence": evidence}, clinic)
    return build_small(folder)


def until(asked: Callable[[], Any], seconds: float = 15.0) -> Any:
    """Waits for something to become true and gives it; gives what it is at the end of the time otherwise."""
    end = time.monotonic() + seconds
    while not (found := asked()) and time.monotonic() < end:
        time.sleep(0.05)
    return found


@pytest.mark.parametrize("kind", KINDS)
def test_a_page_opens_from_a_folder_without_errors_or_requests(chromium: Browser, demo: Path, kind: str) -> None:
    chromium.resize(1280)
    chromium.open(demo / KINDS[kind])
    asked, errors = chromium.logs()
    assert asked
    assert away(asked) == []
    assert errors == []
    assert chromium.run("return document.querySelector('h1').innerText.length") > 0


@pytest.mark.parametrize("width", [1280, 390])
@pytest.mark.parametrize("kind", KINDS)
def test_a_page_breaks_no_rule_of_accessibility(chromium: Browser, demo: Path, kind: str, width: int) -> None:
    chromium.resize(width)
    chromium.open(demo / KINDS[kind])
    assert chromium.judge() == []


def paint(chromium: Browser, scheme: str) -> None:
    """Puts the page in light or dark colours, and lets the theme finish fading."""
    chromium.run("document.body.setAttribute('data-md-color-scheme', arguments[0])", scheme)
    time.sleep(0.3)
    until(lambda: chromium.run("return document.getAnimations().length") == 0)


@pytest.mark.parametrize("kind", ["home", "part", "team"])
def test_dark_colours_are_readable_too(chromium: Browser, demo: Path, kind: str) -> None:
    chromium.resize(1280)
    chromium.open(demo / KINDS[kind])
    paint(chromium, "slate")
    assert chromium.judge() == []


@pytest.mark.parametrize("scheme", ["default", "slate"])
@pytest.mark.parametrize(
    "address", ["index.html", "problems.html", "protocols/wrist.html", "protocols/wrist/surgeon.html"]
)
def test_pages_with_errors_and_marks_are_readable(chromium: Browser, broken: Path, address: str, scheme: str) -> None:
    chromium.resize(1280)
    chromium.open(broken / address)
    paint(chromium, scheme)
    assert chromium.judge() == []


@pytest.mark.parametrize("kind", KINDS)
def test_a_page_fits_a_phone(chromium: Browser, demo: Path, kind: str) -> None:
    chromium.resize(390)
    chromium.open(demo / KINDS[kind])
    assert chromium.run("return document.scrollingElement.scrollWidth") <= 390


def test_what_is_pressed_on_a_role_page_is_large_enough(chromium: Browser, demo: Path) -> None:
    chromium.resize(390)
    chromium.open(demo / KINDS["part"])
    script = """return [...document.querySelectorAll('.sf-path a, .sf-phases a, .sf-page summary, .sf-button')]
        .map(each => each.getBoundingClientRect().height)"""
    heights = chromium.run(script)
    assert len(heights) > 20
    assert min(heights) >= 44


def test_what_to_do_is_larger_than_all_else_in_a_step(chromium: Browser, demo: Path) -> None:
    chromium.resize(390)
    chromium.open(demo / KINDS["part"])
    script = (
        "return [...document.querySelectorAll(arguments[0])].map(each => parseFloat(getComputedStyle(each).fontSize))"
    )
    do = chromium.run(script, ".sf-step:not(.sf-step-joined) .sf-do")
    assert min(do) >= 20
    for other in (".sf-more", ".sf-wait", ".sf-warning p", ".sf-hands"):
        assert max(chromium.run(script, other)) < min(do), other


def test_without_scripts_a_role_page_is_complete(chromium: Browser, demo: Path) -> None:
    chromium.resize(1280)
    chromium.driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
    try:
        chromium.open(demo / KINDS["part"])
        steps = chromium.driver.find_elements(By.CSS_SELECTOR, ".sf-do")
        assert len(steps) > 10
        assert all(step.is_displayed() for step in steps)
        details = chromium.driver.find_element(By.CSS_SELECTOR, "details.sf-why")
        details.find_element(By.TAG_NAME, "summary").click()
        assert details.find_element(By.TAG_NAME, "p").is_displayed()
    finally:
        chromium.driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": False})


def results(chromium: Browser) -> list[str]:
    found: list[str] = chromium.run(
        "return [...document.querySelectorAll('.md-search-result__link')].map(each => each.getAttribute('href'))"
    )
    return found


def search(chromium: Browser, words: str) -> list[str]:
    """Types into the search and gives where its results lead."""
    field = chromium.driver.find_element(By.CSS_SELECTOR, ".md-search__input")
    field.click()
    field.send_keys(words)
    return list(until(lambda: results(chromium)))


def test_the_search_finds_a_step_and_opens_at_it(chromium: Browser, demo: Path) -> None:
    chromium.resize(1280)
    chromium.open(demo / "index.html")
    found = search(chromium, "palmful")
    steps = [address for address in found if "#" in address and "/protocols/" in address]
    assert steps
    assert not [address for address in found if "/scrub.html" in address or "/surgeon.html" in address]
    asked, errors = chromium.logs()
    assert away(asked) == []
    assert errors == []
    target = steps[0].partition("#")[2].split("?")[0]
    link = next(
        each
        for each in chromium.driver.find_elements(By.CSS_SELECTOR, ".md-search-result__link")
        if each.get_attribute("href") == steps[0] or steps[0] in (each.get_attribute("href") or "")
    )
    chromium.driver.get(link.get_attribute("href") or "")
    until(lambda: chromium.run("return document.querySelector(':target')"))
    assert chromium.run("return document.querySelector(':target').id") == target


def test_from_home_to_ones_own_part_in_two_steps(chromium: Browser, demo: Path) -> None:
    chromium.resize(390)
    chromium.open(demo / "index.html")
    chromium.driver.find_element(By.PARTIAL_LINK_TEXT, "Scrub nurse").click()
    chromium.driver.find_element(By.CSS_SELECTOR, ".sf-card a").click()
    assert chromium.run("return document.querySelector('h1').innerText") == "Scrub nurse"
    assert chromium.driver.current_url.endswith("protocols/wrist-release/scrub.html")


def test_a_linked_step_is_not_hidden_under_the_header(chromium: Browser, demo: Path) -> None:
    chromium.resize(1280)
    chromium.open(demo / KINDS["team"], "cover-trolley")
    script = """return [document.querySelector('[id="cover-trolley"]').getBoundingClientRect().top,
        document.querySelector('.md-header').getBoundingClientRect().bottom]"""
    until(lambda: chromium.run(script)[0] < 400)
    top, header = chromium.run(script)
    assert header <= top < 500


@pytest.mark.parametrize(
    "address",
    [
        *("index.html", "problems.html", "protocols/wrist.html", "protocols/wrist/scrub.html"),
        *("evidence.html", "dates.html", "print/forms/wrist.html"),
    ],
)
def test_hostile_text_runs_nothing_and_asks_for_nothing(chromium: Browser, hostile: Path, address: str) -> None:
    chromium.resize(1280)
    chromium.open(hostile / address)
    chromium.run("document.querySelectorAll('details').forEach(each => { each.open = true; })")
    time.sleep(0.2)
    asked, errors = chromium.logs()
    assert away(asked) == []
    assert errors == []
    assert chromium.run("return window.hit === undefined")
    assert "<img src=x onerror=window.hit=1>" in chromium.run("return document.body.innerText")


def test_hostile_text_runs_nothing_in_the_search(chromium: Browser, hostile: Path) -> None:
    chromium.resize(1280)
    chromium.open(hostile / "index.html")
    assert search(chromium, "onerror")
    time.sleep(0.3)
    asked, errors = chromium.logs()
    assert away(asked) == []
    assert errors == []
    assert chromium.run("return window.hit === undefined")
    assert (
        chromium.run("return document.querySelectorAll('.md-search-result img, .md-search-result script').length") == 0
    )


def test_on_paper_a_draft_is_marked_at_the_top_and_at_the_foot_of_every_sheet(chromium: Browser, broken: Path) -> None:
    """A table's foot is repeated on every sheet; what only helps on a screen is left out."""
    chromium.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    try:
        chromium.open(broken / "protocols" / "wrist" / "scrub.html")
        shown = "return getComputedStyle(document.querySelector(arguments[0])).display"
        assert chromium.run(shown, ".sf-page") == "table"
        assert chromium.run(shown, ".sf-running") == "table-footer-group"
        assert chromium.run(shown, ".sf-running-mark") != "none"
        assert chromium.run(shown, ".sf-mark-draft") != "none"
        assert chromium.run(shown, ".sf-banner") != "none"
        for left_out in (".md-header", ".sf-path", ".sf-phases", ".sf-others"):
            assert chromium.run(shown, left_out) == "none", left_out
    finally:
        chromium.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})


def test_a_review_that_has_fallen_due_since_the_build_is_marked(chromium: Browser, tmp_path: Path) -> None:
    approved = {"by": "The board", "date": "2019-10-01"}
    write_set(tmp_path, {"wrist": sample(status="approved", approved=approved, review_by="2020-10-01")})
    site = build_small(tmp_path, plugin={"today": "2020-01-01"})
    chromium.open(site / "protocols" / "wrist" / "scrub.html")
    assert chromium.run("return document.querySelector('[data-review-by]').innerText").lower().endswith("overdue")
