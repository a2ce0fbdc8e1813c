"""Local changes on the pages of a clinic that adopted its protocols, and the page of all that differs.

What is expected is worked out by hand from the small set in ``tests/adopting/drifting.py``.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from stepfield.checks import check_set
from stepfield.pages import Site, build_site
from tests.adopting.drifting import TAILORING, TODAY, adopted, set_in
from tests.site.browsing import Browser, browser
from tests.site.building import build_small, pages_of
from tests.site.small import Seen

MARK = re.compile(r"sf-local|p-local|#w-local|sf-word-local")
EMPTY = "baseline: {name: Quillhaven Day Surgery, version: 3.2.0}\n"


def site(
    tailoring: str = TAILORING, today: datetime.date = TODAY, *, language: str = "en", alone: bool = False
) -> Site:
    """The site of the small adopted set; ``alone`` forgets that it was adopted."""
    files = adopted(tailoring)
    files["protocols/clinic.yaml"] = files["protocols/clinic.yaml"].replace(b'"en"', f'"{language}"'.encode())
    if alone:
        del files["protocols/tailoring.yaml"], files["protocols/upstream.yaml"]
    return build_site(check_set(set_in(files), today))


def all_of(found: Site) -> dict[str, str]:
    """Every page and document, by address."""
    made = {page.address: page.html for page in found.pages}
    return made | {one.address: one.content.decode() for one in found.assets if one.address.endswith(".html")}


@pytest.fixture(scope="module")
def marked() -> dict[str, str]:
    return all_of(site())


def words(html: str) -> str:
    return " ".join(Seen(html).text.split())


def test_pages_without_a_local_change_are_what_they_were() -> None:
    """To the byte, but for the page of all that differs and the way to it from home."""
    plain, same = all_of(site(alone=True)), all_of(site(EMPTY))
    assert set(same) - set(plain) == {"differs.html"}
    differs = {address for address, text in plain.items() if same[address] != text}
    # The clinic's own protocol is marked as its own; the number of all screens is one.
    assert {address for address in differs if "mine" not in address and not address.startswith("screens/")} == {
        "index.html"
    }
    numbers = re.compile(r"[0-9a-f]{32}")
    for address in (one for one in differs if one.startswith("screens/") and "mine" not in one):
        assert numbers.sub("", plain[address]) == numbers.sub("", same[address])


def test_a_set_of_its_own_has_no_page_of_differences() -> None:
    found = site(alone=True)
    assert all(page.kind != "differs" for page in found.pages)
    assert not any(MARK.search(text) for text in all_of(found).values())


def test_a_changed_step_is_marked_with_its_reason_on_every_page_where_it_shows(marked: dict[str, str]) -> None:
    said = "Differs here from the shared protocol, because: The bench is long."
    for address in (
        "protocols/room.html",
        "protocols/room/runner.html",
        "print/cards/room/runner.html",
        "print/protocols/room.html",
    ):
        assert said in words(marked[address]), address
    assert "Differs here: The bench is long." in words(marked["screens/protocols/room/runner.html"])
    assert "bench is long" not in marked["protocols/room/scrub.html"]
    assert "bench is long" not in marked["print/cards/room/scrub.html"]


def test_a_step_that_is_left_out_is_told_before_the_steps_to_those_it_concerns(marked: dict[str, str]) -> None:
    said = (
        "Left out here: Take a picture. Because: There is no camera. "
        "This was agreed only until 2026-11-01: it must be looked at again."
    )
    for address in (
        "protocols/room.html",
        "protocols/room/scrub.html",
        "print/cards/room/scrub.html",
        "print/protocols/room.html",
        "print/records/room.html",
        "print/picks/room.html",
    ):
        assert said in words(marked[address]), address
    wall = words(marked["screens/protocols/room/scrub.html"])
    assert "Left out here: Take a picture. – There is no camera. This was agreed only until 2026-11-01" in wall
    assert "Take a picture" not in marked["protocols/room/runner.html"]


def test_settled_choices_things_added_steps_and_own_protocols_are_told(marked: dict[str, str]) -> None:
    team = words(marked["protocols/room.html"])
    assert "Settled here for good: Light: Ceiling lamp (1 step is never done here)" in team
    assert "Another thing here: Cloth 30 x 30 cm (in the shared protocol: Cloth)" in team
    assert "Only here, not in the shared protocol, because: It is quiet here." in team
    assert "This protocol is the clinic's own" in words(marked["protocols/mine.html"])


def test_the_picture_marks_the_step_with_a_shape_of_its_own_and_in_words(marked: dict[str, str]) -> None:
    page = marked["protocols/room.html"]
    # Wiping, humming and looking round differ.
    assert page.count('class="sf-word-local"') == 3
    assert page.count("; differs here") == 3
    assert "A small house with the sign for unequal" in page
    assert "A small house" not in marked["protocols/mine.html"]


def test_who_no_longer_does_a_step_is_told(marked: dict[str, str]) -> None:
    entry = "changes: [{protocol: room, step: wipe, set: {role: scrub}, because: She is nearer.}]\n"
    pages = all_of(site(EMPTY + entry))
    said = "No longer done by the same people here: Wipe the bench. Because: She is nearer."
    assert said in words(pages["protocols/room/runner.html"])
    assert said not in words(pages["protocols/room/scrub.html"])


def test_a_line_of_the_record_sheet_that_differs_is_told_there() -> None:
    entry = "changes: [{protocol: room, step: wipe, set: {records: [cloth.lot]}, because: We trace cloths.}]\n"
    pages = all_of(site(EMPTY + entry))
    assert "Differs here: Wipe the bench. Because: We trace cloths." in words(pages["print/records/room.html"])
    assert "We trace cloths" not in pages["print/picks/room.html"]


def test_every_mark_leads_to_its_entry(marked: dict[str, str]) -> None:
    there = set(re.findall(r'id="([^"]+)"', marked["differs.html"]))
    led = [anchor for text in marked.values() for anchor in re.findall(r'differs\.html#([^"]+)"', text)]
    assert len(led) > 10
    assert set(led) <= there
    assert len(there) == len(re.findall(r'id="', marked["differs.html"]))


def test_the_page_tells_grade_by_grade_what_expired_first(marked: dict[str, str]) -> None:
    page = marked["differs.html"]
    assert re.findall(r'<h2 id="([^"]+)"', page) == [
        "expired", "stricter", "neutral", "settled", "renamed", "left_out", "own",
    ]  # fmt: skip
    told = words(page).replace(" ,", ",")
    assert "Harbour Lane beside the shared protocols of Quillhaven Day Surgery, version 3.2.0, as of 2026-11-02" in told
    assert "That no difference is listed does not mean safe." in told
    assert "takes 3 min 4 min" in told
    assert "Why it has this grade: a check is gone" in told
    assert "Helper, in the shared protocols Runner" in told
    assert "Other room" in told


def test_before_its_day_a_looser_change_is_told_as_looser() -> None:
    pages = all_of(site(today=datetime.date(2026, 11, 1)))
    assert '<h2 id="looser"' in pages["differs.html"]
    assert "Agreed by Hygiene board, until 2026-11-01." in words(pages["protocols/room/scrub.html"])


def test_a_looser_change_without_agreement_is_told() -> None:
    pages = all_of(site(EMPTY + "changes: [{protocol: room, drop: photo}]\n"))
    told = words(pages["differs.html"])
    assert "No reason is given." in told
    assert "Nobody is named who agreed." in told


def test_local_changes_that_cannot_be_read_are_told_as_not_known() -> None:
    told = words(all_of(site("baseline: ["))["differs.html"])
    assert "The local changes are not known: their file cannot be read." in told
    assert "No local change" not in told


def test_the_pages_say_it_in_german() -> None:
    pages = all_of(site(language="de"))
    assert "Weicht hier vom gemeinsamen Protokoll ab, Grund: The bench is long." in words(pages["protocols/room.html"])
    assert "Was hier anders ist" in words(pages["differs.html"])


def test_a_reason_cannot_bring_markup_onto_a_page() -> None:
    pages = all_of(site(TAILORING.replace("The bench is long.", '"<script>alert(1)</script>"')))
    assert not any("<script>alert" in text for text in pages.values())
    assert "&lt;script&gt;alert" in pages["protocols/room.html"]


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("local")
    for path, data in adopted().items():
        if path.startswith("protocols/"):
            (folder / path).parent.mkdir(parents=True, exist_ok=True)
            (folder / path).write_bytes(data)
    return build_small(folder, plugin={"stop_on_errors": "never"})


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with browser() as found:
        yield found


def test_the_page_is_in_the_menu_and_on_the_home_page(built: Path) -> None:
    pages = pages_of(built)
    assert 'href="differs.html"' in pages["index.html"]
    assert 'href="../differs.html"' in pages["protocols/room.html"]


@pytest.mark.browser
@pytest.mark.parametrize("width", [1280, 390, 320])
@pytest.mark.parametrize(
    "address",
    ["differs.html", "protocols/room.html", "protocols/room/scrub.html", "print/cards/room/scrub.html"],
)
def test_pages_with_marks_break_no_rule_of_accessibility(
    built: Path, chromium: Browser, width: int, address: str
) -> None:
    """axe-core's rules; at 320 pixels nothing needs scrolling sideways (success criterion 1.4.10 of WCAG 2.2)."""
    chromium.resize(width)
    chromium.open(built / address)
    assert chromium.judge() == []
    if width == 320:
        assert chromium.run("return document.scrollingElement.scrollWidth") <= width
    seen = chromium.run(
        "return [...document.querySelectorAll('svg.sf-here')].filter(e => e.getClientRects().length).length"
    )
    assert seen > 0 or address == "differs.html"
