"""A German site in Chromium: long words stay inside narrow pages, and scripts and the search speak German as well."""

from __future__ import annotations

import html
import re
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from selenium.webdriver.common.by import By

from stepfield.pages.speech import speech
from tests.site.browsing import Browser, away, browser
from tests.site.building import THEME, build_small, write_set
from tests.site.german import german_files, slip
from tests.site.kinds import kinds_of
from tests.site.small import CLINIC, sample

pytestmark = pytest.mark.browser

CUT = """
return Array.from(document.querySelectorAll("h1, h2, h3, .sf-button, .sf-press, .sf-role, .sf-mark, .sf-chip, button"))
  .filter(part => part.offsetParent && part.scrollWidth > part.clientWidth + 1 && part.clientWidth)
  .map(part => part.textContent.trim())
"""
"""What does not fit its own box."""


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with browser() as found:
        yield found


@pytest.fixture(scope="module")
def german(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The German set with an error, so that there is a banner, and with a review that is overdue."""
    folder = tmp_path_factory.mktemp("german")
    files = slip(review_by="2020-01-31")
    write_set(folder, files, files["clinic"])
    return build_small(folder, theme={**THEME, "palette": {"scheme": "default"}})


@pytest.fixture(scope="module")
def hebrew(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("hebrew")
    write_set(folder, {"wrist": sample(title="שחרור תעלה", purpose="משחרר את העצב")}, {**CLINIC, "language": "he"})
    return build_small(folder)


def head_of(page: Path) -> str:
    found = re.search(r"<html[^>]*>", page.read_text(encoding="utf-8"))
    assert found is not None
    return found.group()


def test_every_kind_of_page_fits_a_phone(chromium: Browser, german: Path) -> None:
    kinds = {kind: address for kind, address in kinds_of(german).items() if not kind.startswith("screens-p")}
    assert {"home", "role", "part", "team", "problems", "rules", "language", "about"} <= kinds.keys()
    chromium.resize(390, 844)
    for address in kinds.values():
        chromium.open(german / address)
        assert chromium.run("return document.documentElement.scrollWidth") <= 390, address
        assert chromium.run(CUT) == [], address
        asked, errors = chromium.logs()
        assert (away(asked), errors) == ([], []), address


def test_german_pages_are_accessible(chromium: Browser, german: Path) -> None:
    chromium.resize(390, 844)
    for address in ("protocols/handgelenk/scrub.html", "problems.html"):
        chromium.open(german / address)
        assert chromium.judge() == [], address


def test_scripts_say_german_words(chromium: Browser, german: Path) -> None:
    chromium.resize(1280)
    chromium.open(german / "protocols" / "handgelenk" / "scrub.html")
    assert chromium.run("return document.querySelector('.sf-overdue').textContent") == " überfällig"
    button = chromium.driver.find_element(By.CSS_SELECTOR, ".sf-walk-one")
    assert button.text == speech("de").say("One step at a time")
    button.click()
    assert button.text == speech("de").say("All steps")
    assert re.fullmatch(
        r"Schritt \d+: 1 von \d+", chromium.run("return document.querySelector('.sf-walk-place').textContent")
    )
    button.click()


def test_the_theme_and_its_search_speak_german(chromium: Browser, german: Path) -> None:
    assert 'lang="de"' in head_of(german / "index.html")
    chromium.resize(1280)
    chromium.open(german / "index.html")
    field = chromium.driver.find_element(By.CSS_SELECTOR, ".md-search__input")
    assert field.get_attribute("placeholder") == "Suche"
    field.click()
    field.send_keys("Handfläche")
    end = time.monotonic() + 10
    found: list[str] = []
    while not found and time.monotonic() < end:
        time.sleep(0.1)
        links = chromium.driver.find_elements(By.CSS_SELECTOR, ".md-search-result__link")
        found = [link.get_attribute("href") or "" for link in links]
    assert [address for address in found if "/protocols/handgelenk.html" in address]
    asked, errors = chromium.logs()
    assert (away(asked), errors) == ([], [])


def test_a_language_that_the_settings_name_for_the_theme_stays(tmp_path: Path) -> None:
    files = german_files()
    write_set(tmp_path, files, files["clinic"])
    assert 'lang="en"' in head_of(build_small(tmp_path, theme={**THEME, "language": "en"}) / "index.html")


def test_without_a_catalogue_the_page_runs_as_english_and_the_clinics_words_as_they_do(
    chromium: Browser, hebrew: Path
) -> None:
    assert 'lang="en"' in head_of(hebrew / "index.html")
    chromium.resize(390, 844)
    chromium.open(hebrew / "protocols" / "wrist.html")
    assert html.escape("שחרור") in chromium.driver.page_source
    direction = "return getComputedStyle(document.querySelector(arguments[0])).direction"
    assert chromium.run(direction, ".sf-page") == "ltr"
    assert chromium.run(direction, "h1[lang=he]") == "rtl"
    assert chromium.run("return document.documentElement.scrollWidth") <= 390
    assert chromium.judge() == []
