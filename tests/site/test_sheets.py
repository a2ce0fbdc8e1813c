"""Cards and sheets as they are drawn: nothing lost, nothing that is not theirs, and where each came from."""

from __future__ import annotations

import re

import pytest
import zxingcpp
from PIL import Image

from stepfield.pages.qr import QUIET, qr_of
from stepfield.pages.sheets.furniture import origin_of, paper_styles
from stepfield.pages.speech import speech
from tests.site.printing import URL, sheets_of
from tests.site.screening import demo_report
from tests.site.small import Seen, checked, sample

REPORT = demo_report()


@pytest.fixture(scope="module")
def demo() -> dict[str, str]:
    return sheets_of(REPORT)


def steps_on(html: str) -> list[int]:
    return [int(value) for _, attrs in Seen(html).tags if (value := attrs.get("data-step"))]


def test_every_role_has_a_card_with_its_own_steps_and_no_others(demo: dict[str, str]) -> None:
    met = 0
    for protocol in REPORT.facts.protocol_set.protocols:
        for role in dict.fromkeys(one.value for one in protocol.team):
            html = demo[f"print/cards/{protocol.id}/{role}.html"]
            own = [
                number
                for number, step in enumerate(protocol.steps, start=1)
                if role in {str(step.role), *(str(helper) for helper in step.helpers)}
            ]
            assert steps_on(html) == own
            met += len(own)
    assert met > 100


def test_every_sheet_carries_version_standing_caution_and_origin(demo: dict[str, str]) -> None:
    for protocol in REPORT.facts.protocol_set.protocols:
        held = {address: html for address, html in demo.items() if protocol.id in address}
        assert held
        for address, html in held.items():
            text = Seen(html).text
            assert f"Version {protocol.version}" in text
            assert "Status approved" in text
            assert protocol.approved is not None
            assert protocol.approved.date.isoformat() in text
            assert protocol.review_by is not None
            assert protocol.review_by[0].isoformat() in text
            assert "Local policy, manufacturers' instructions and licensed judgement come first." in text
            assert f"{URL}{address}" in text


def test_what_is_not_approved_is_marked_across_every_sheet() -> None:
    held = [html for address, html in sheets_of(checked()).items() if "wrist" in address]
    assert len(held) == 6
    for html in held:
        seen = Seen(html)
        assert len(seen.with_class("p-across")) == 1
        assert "Draft not approved: for writing and review, not for use" in seen.text


def test_a_sheet_with_errors_says_so_and_tells_nobody_how_they_stand() -> None:
    protocol = sample()
    del protocol["phases"][0]["steps"][5]["after"]
    seen = Seen(sheets_of(checked({"wrist": protocol}))["print/cards/wrist/scrub.html"])
    assert "Errors were found. Do not work from this sheet" in seen.text
    assert seen.with_class("p-state") == []
    assert Seen(sheets_of(checked())["print/cards/wrist/scrub.html"]).with_class("p-state")


def test_a_role_without_a_step_has_a_card_that_says_so() -> None:
    alone = sample(team=["surgeon", "scrub", "circulating"])
    alone["phases"] = [{"phase": "a", "title": "A", "steps": [{"id": "x", "role": "scrub", "do": "Wait."}]}]
    text = Seen(sheets_of(checked({"wrist": alone}))["print/cards/wrist/surgeon.html"]).text
    assert "No step of this protocol is yours." in text


@pytest.mark.parametrize("url", ["", "quillhaven.example", "javascript://x", "ftp://quillhaven.example/", "https://"])
def test_without_a_web_address_the_place_is_told_in_words_and_why_there_is_no_code(url: str) -> None:
    found = origin_of("print/cards/wrist/scrub.html", url, speech("en"))
    assert found.words == "print/cards/wrist/scrub.html"
    assert found.code is None
    assert "site_url" in found.missing


@pytest.mark.parametrize("url", ["https://a.example", "https://a.example/"])
def test_the_code_holds_the_address_in_words(url: str) -> None:
    found = origin_of("print/index.html", url, speech("en"))
    assert found.words == "https://a.example/print/index.html"
    assert found.code is not None
    assert found.code.text == found.words


@pytest.mark.parametrize("url", ["http://127.0.0.1:8000/", "http://localhost/", "http://[::1]:8000/x/"])
def test_the_address_of_a_site_that_is_shown_while_it_is_written_has_no_code(url: str) -> None:
    found = origin_of("print/index.html", url, speech("en"))
    assert found.words == f"{url}print/index.html"
    assert found.code is None
    assert "one machine alone" in found.missing


def test_an_address_too_long_for_a_code_has_none_and_says_why() -> None:
    found = origin_of("print/index.html", f"https://a.example/{'x' * 5000}", speech("en"))
    assert found.code is None
    assert "too long" in found.missing


def test_a_code_has_its_quiet_edge() -> None:
    """ISO/IEC 18004: four modules on every side; a code of version 1 has 21 modules."""
    found = qr_of("hello")
    assert found is not None
    assert found.side == 21 + 2 * QUIET
    assert found.path.startswith("M4 4h7v1h-7z")


def test_any_code_can_be_read_by_another_library() -> None:
    """All are drawn with one mask; what is drawn is what is read back, whatever the address."""
    for number in range(60):
        text = f"{URL}print/cards/{'abcdefghij'[number % 10] * (number % 7 + 1)}-{number}/scrub.html"
        code = qr_of(text)
        assert code is not None
        picture = Image.new("L", (code.side, code.side), 255)
        for across, down, width in re.findall(r"M(\d+) (\d+)h(\d+)v1h-\3z", code.path):
            picture.paste(0, (int(across), int(down), int(across) + int(width), int(down) + 1))
        found = zxingcpp.read_barcodes(picture.resize((3 * code.side, 3 * code.side), Image.Resampling.NEAREST))
        assert [one.text for one in found] == [text]


def test_the_words_that_number_sheets_stay_inside_their_string() -> None:
    for text in paper_styles(speech("en")).values():
        assert b'content: "Sheet " counter(page) " of " counter(pages);' in text
