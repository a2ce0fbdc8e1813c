"""Cards and sheets as Chromium prints them: size of the paper, words once and in order, codes that can be read."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
import zxingcpp
from PIL import Image

from stepfield.language.model import Step
from tests.site.browsing import Browser, away, browser
from tests.site.printing import A4, A5, URL, Printed, pictured, printed, put_down, sheets_of
from tests.site.screening import demo_report
from tests.site.small import checked, sample

pytestmark = pytest.mark.browser
POINT = 25.4 / 72
"""A point of a PDF in mm: ISO 32000-1, 8.3.2.3, 1/72 inch."""
PROTOCOL = "wrist-release"
REPORT = demo_report()
DEMO = REPORT.facts.by_id[PROTOCOL].protocol
KINDS = {
    "card": (f"print/cards/{PROTOCOL}/scrub.html", A5),
    "whole": (f"print/protocols/{PROTOCOL}.html", A4),
    "record": (f"print/records/{PROTOCOL}.html", A4),
    "form": (f"print/forms/{PROTOCOL}.html", A4),
    "pick": (f"print/picks/{PROTOCOL}.html", A4),
    "pick-of-a-choice": (f"print/picks/{PROTOCOL}/two-sheet.html", A4),
    "list": ("print/index.html", A4),
}
SHEETS = {
    "card": (6, 16),
    "whole": (5, 12),
    "record": (2, 4),
    "form": (4, 8),
    "pick": (1, 2),
    "pick-of-a-choice": (1, 2),
    "list": (1, 1),
}
"""How many sheets of each are sane: below, something is lost; above, the paper is wasted."""
SIZES = """const found = [], words = document.createTreeWalker(document.querySelector('.p-main'), NodeFilter.SHOW_TEXT);
while (words.nextNode()) {
  const around = words.currentNode.parentElement;
  if (words.currentNode.data.trim() && around.checkVisibility() && !around.closest('svg')) {
    found.push(parseFloat(getComputedStyle(around).fontSize));
  }
}
return found;"""
CODED = [kind for kind in KINDS if kind != "list"]


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with browser() as found:
        yield found


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return put_down(sheets_of(REPORT), tmp_path_factory.mktemp("sheets"))


@pytest.fixture(scope="module")
def papers(chromium: Browser, folder: Path) -> dict[str, Printed]:
    chromium.resize(1280)
    return {kind: printed(chromium, folder / address, folder / f"{kind}.pdf") for kind, (address, _) in KINDS.items()}


def steps_of(kind: str) -> list[tuple[int, Step]]:
    """The steps that the whole protocol has, or the card of the scrub nurse, with their numbers."""
    return [
        (number, step)
        for number, step in enumerate(DEMO.steps, start=1)
        if kind == "whole" or "scrub" in {str(step.role), *(str(helper) for helper in step.helpers)}
    ]


def squeezed(text: str) -> str:
    """A text without spaces: a line may end anywhere on paper."""
    return "".join(text.split())


def body(paper: Printed) -> str:
    """The words of a paper without spaces and without what stands at the foot of every sheet."""
    feet = r"(?:Card|Whole protocol)(?:: Scrub nurse)? · Open release[^·]*· version [^·]*· Quillhaven [^·]*· approved"
    return squeezed(" ".join(re.sub(r"Sheet \d+ of \d+", "", re.sub(feet, "", page)) for page in paper.pages))


@pytest.mark.parametrize("kind", KINDS)
def test_each_is_on_its_own_size_of_paper_and_of_a_sane_length(kind: str, papers: dict[str, Printed]) -> None:
    width, height = KINDS[kind][1]
    least, most = SHEETS[kind]
    assert least <= len(papers[kind].sizes) <= most
    for wide, tall in papers[kind].sizes:
        assert wide * POINT == pytest.approx(width, abs=0.5)
        assert tall * POINT == pytest.approx(height, abs=0.5)


@pytest.mark.parametrize("kind", KINDS)
def test_every_sheet_is_numbered_and_says_which_revision_it_is_of(kind: str, papers: dict[str, Printed]) -> None:
    pages = papers[kind].pages
    for number, page in enumerate(pages, start=1):
        assert f"Sheet {number} of {len(pages)}" in page
        if kind != "list":
            assert f"version {DEMO.version}" in page
            assert "approved" in page


@pytest.mark.parametrize("kind", ["card", "whole"])
def test_every_step_stands_on_paper_once_and_in_order(kind: str, papers: dict[str, Printed]) -> None:
    words, last = body(papers[kind]), -1
    steps = steps_of(kind)
    for number, step in steps:
        text = squeezed(step.do.value)
        same = sum(squeezed(other.do.value) == text for _, other in steps)
        assert words.count(text) == same, f"step {number}"
        last = words.index(text, last + 1)
    assert len(steps) >= 20


@pytest.mark.parametrize("kind", ["card", "whole"])
def test_no_step_is_broken_by_the_end_of_a_sheet(kind: str, papers: dict[str, Printed]) -> None:
    pages = [squeezed(page) for page in papers[kind].pages]
    for number, step in steps_of(kind):
        parts = [squeezed(caution.text.value) for caution in step.cautions] + [squeezed(step.do.value)]
        assert any(all(part in page for part in parts) for page in pages), f"step {number}"


@pytest.mark.parametrize("kind", ["card", "whole"])
def test_every_number_of_a_step_stands_on_paper_once_and_in_order(kind: str, papers: dict[str, Printed]) -> None:
    titles = tuple(phase.title for phase in DEMO.phases)
    opening = [
        found
        for page in papers[kind].lined
        for line in page.splitlines()
        if (found := re.match(r"\s*(\d+)(?:\s{2,}(.*))?$", line)) and not (found[2] or "").startswith(titles)
    ]
    assert [int(found[1]) for found in opening] == [number for number, _ in steps_of(kind)]


def test_nothing_on_a_card_is_set_smaller_than_eleven_points(chromium: Browser, folder: Path) -> None:
    chromium.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    try:
        chromium.open(folder / KINDS["card"][0])
        sizes = chromium.run(SIZES)
    finally:
        chromium.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
    assert len(sizes) >= 200
    assert min(sizes) * 72 / 96 >= 11 - 0.01


@pytest.mark.parametrize("kind", ["whole", "record", "pick"])
def test_the_head_of_a_table_stands_again_on_every_sheet_it_runs_over(kind: str, papers: dict[str, Printed]) -> None:
    head = {"whole": "Step Who What After", "record": "Step What is asked for", "pick": "Ready Thing"}[kind]
    pages = papers[kind].pages
    assert all(head in page for page in pages[1 : len(pages) - 1] or pages)


@pytest.mark.parametrize("kind", CODED)
def test_the_code_leads_to_the_sheet_it_stands_on(kind: str, papers: dict[str, Printed]) -> None:
    with pictured(papers[kind], 1, 150) as place, Image.open(place) as picture:
        found = [one.text for one in zxingcpp.read_barcodes(picture)]
    assert found == [f"{URL}{KINDS[kind][0]}"]
    assert squeezed(found[0]) in squeezed(papers[kind].pages[0])


def test_every_entry_of_the_record_sheet_is_on_paper(papers: dict[str, Printed]) -> None:
    words = squeezed(papers["record"].text)
    for name, subject in DEMO.subjects.items():
        if subject.counted:
            assert squeezed(subject.title) in words, name
    for step in DEMO.steps:
        for record in step.records:
            thing, _, what = record.value.rpartition(".")
            title = DEMO.subjects[thing].title
            assert what == "count" or squeezed(f"{title}: {what}") in words, record.value
        assert step.asks is None or squeezed(step.asks.question.value) in words


def test_a_draft_is_marked_across_every_sheet(chromium: Browser, tmp_path: Path) -> None:
    protocol = sample()
    for number in range(40):
        step = {"id": f"more-{number}", "role": "scrub", "do": f"Do the next thing, number {number}."}
        protocol["phases"][1]["steps"].append(step)
    place = put_down(sheets_of(checked({"wrist": protocol}), ""), tmp_path)
    for address in ("print/cards/wrist/scrub.html", "print/protocols/wrist.html"):
        paper = printed(chromium, place / address, tmp_path / "draft.pdf")
        assert len(paper.pages) >= 3
        assert all(page.count("DRAFT") >= 2 for page in paper.pages)  # across, and at the foot
        assert "No code: the address of this site is not set" in paper.text
        with pictured(paper, 1, 100) as shown, Image.open(shown) as picture:
            assert not zxingcpp.read_barcodes(picture)


@pytest.mark.parametrize("width", [390, 1280])
def test_on_the_screen_each_is_accessible_and_asks_for_nothing(width: int, chromium: Browser, folder: Path) -> None:
    chromium.resize(width)
    for address, _ in KINDS.values():
        chromium.open(folder / address)
        asked, errors = chromium.logs()
        assert away(asked) == []
        assert errors == []
        assert chromium.judge() == []
        wide = chromium.run("return document.documentElement.scrollWidth - window.innerWidth")
        assert wide <= 0, address


def test_the_button_prints_and_is_not_there_without_scripts(chromium: Browser, folder: Path) -> None:
    chromium.resize(390)
    page = folder / KINDS["card"][0]
    chromium.open(page)
    box = chromium.run("return document.getElementById('p-print').getBoundingClientRect().toJSON()")
    assert min(box["width"], box["height"]) >= 44
    chromium.run("window.asked = 0; window.print = function () { window.asked += 1; }")
    chromium.run("document.getElementById('p-print').click()")
    assert chromium.run("return window.asked") == 1
    chromium.driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
    try:
        chromium.open(page)
        snapshot = chromium.driver.execute_cdp_cmd("DOMSnapshot.captureSnapshot", {"computedStyles": ["display"]})
    finally:
        chromium.driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": False})
    assert "p-print" in snapshot["strings"]
    assert "Print" not in [_text(snapshot, index) for index in snapshot["documents"][0]["layout"]["text"]]
    assert "Scrub nurse" in [_text(snapshot, index) for index in snapshot["documents"][0]["layout"]["text"]]


def _text(snapshot: dict[str, list[str]], index: int) -> str:
    return snapshot["strings"][index] if index >= 0 else ""
