"""Text of a protocol set is shown as text: on pages, in pictures, in titles, menus and the search."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import yaml

from stepfield.checks import Report
from stepfield.pages import Heading, Page, build_site
from stepfield.pages.matter import front_matter
from tests.site.building import build_small, pages_of, write_set
from tests.site.hostile import HOSTILE, everywhere, harmless
from tests.site.small import CHECK, Seen, checked

Shape = set[tuple[str, frozenset[str]]]


def hostile_set(text: str) -> Report:
    clinic, protocol, evidence = everywhere(text)
    return checked({"wrist": protocol}, clinic=clinic, files={"parts/check": CHECK, "evidence": evidence})


def shape(html: str) -> Shape:
    """Which tags a page has, with which attributes."""
    return {(tag, frozenset(attrs)) for tag, attrs in Seen(html).tags}


def addresses(html: str) -> set[str]:
    return {value for _, attrs in Seen(html).tags for name in ("href", "src") if (value := attrs.get(name))}


@pytest.mark.parametrize("text", HOSTILE)
def test_no_text_becomes_markup(text: str) -> None:
    """The pages have the tags and attributes they have with harmless text, and lead to the same places."""
    report = hostile_set(text)
    assert not [found.message for found in report.findings if found.rule in ("bad-shape", "bad-yaml", "unknown-name")]
    tame = {page.address: page.html for page in build_site(hostile_set(harmless(text))).pages}
    for page in build_site(report).pages:
        assert shape(page.html) <= shape(tame[page.address]), page.address
        assert addresses(page.html) == addresses(tame[page.address]), page.address


@pytest.mark.parametrize("text", HOSTILE)
def test_all_text_is_still_there_to_read(text: str) -> None:
    pages = {page.address: Seen(page.html).text for page in build_site(hostile_set(text)).pages}
    said = " ".join(text.split())
    for address in ("index.html", "protocols/wrist.html", "protocols/wrist/scrub.html"):
        assert said in pages[address], address


def test_the_source_lines_of_problems_are_text_too() -> None:
    clinic, protocol, _ = everywhere("<script>window.hit=1</script>")
    protocol["phases"][0]["steps"][1]["<img src=x onerror=window.hit=1>"] = "x"
    report = checked({"wrist": protocol}, clinic=clinic)
    html = next(page.html for page in build_site(report).pages if page.address == "problems.html")
    assert "onerror" in Seen(html).text
    assert "script" not in {tag for tag, _ in Seen(html).tags}
    assert "img" not in {tag for tag, _ in Seen(html).tags}


@pytest.mark.parametrize("text", [*HOSTILE, "a\u2028b\x85c\ufeffd \U0001f9e4"])
def test_front_matter_reads_back_as_the_escaped_title(text: str) -> None:
    page = Page("a.html", "part", text, "", (Heading(text, "sf_top", 1),), False, 0.0)
    matter = front_matter(page)
    assert matter.startswith("---\n")
    assert matter.endswith("\n---\n")
    assert matter.count("\n") == 3
    read: Any = yaml.safe_load(matter.strip("-\n"))
    assert read["search"] == {"exclude": True}
    assert "<" not in read["title"]
    assert '"' not in read["title"]
    assert Seen(read["title"]).text == " ".join(text.split())


def test_front_matter_weighs_pages_for_the_search() -> None:
    page = Page("a.html", "rules", "A", "", (), True, 0.2)
    assert json.loads(front_matter(page).split("\n")[1]) == {"title": "A", "hide": [], "search": {"boost": 0.2}}


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, str], dict[str, str]]:
    """The whole site with all hostile texts in one, and the same with harmless text."""
    sites = []
    for text in (" ".join(HOSTILE), harmless(" ".join(HOSTILE))):
        folder = tmp_path_factory.mktemp("hostile")
        clinic, protocol, evidence = everywhere(text)
        write_set(folder, {"wrist": protocol, "evidence": evidence}, clinic)
        sites.append(pages_of(build_small(folder)))
    return sites[0], sites[1]


def test_nothing_comes_alive_in_the_whole_site(built: tuple[dict[str, str], dict[str, str]]) -> None:
    """Here the theme has put titles into menus, headings and meta tags, too."""
    wild, tame = built
    assert set(wild) == set(tame)
    for address, html in wild.items():
        assert shape(html) <= shape(tame[address]), address
        assert sum(tag == "script" for tag, _ in Seen(html).tags) == sum(
            tag == "script" for tag, _ in Seen(tame[address]).tags
        )


def test_text_is_never_read_as_markdown_or_template(built: tuple[dict[str, str], dict[str, str]]) -> None:
    text = Seen(built[0]["protocols/wrist.html"]).text
    assert "{{ 7 * 7 }}" in text
    assert "[x](javascript:window.hit=1)" in text
    assert '--8<-- "mkdocs.yml"' in text


def test_the_search_holds_escaped_text(tmp_path: Path) -> None:
    clinic, protocol, evidence = everywhere("<img src=x onerror=window.hit=1>")
    write_set(tmp_path, {"wrist": protocol, "evidence": evidence}, clinic)
    site = build_small(tmp_path)
    index = json.loads((site / "search" / "search_index.json").read_text(encoding="utf-8"))
    texts = [entry[name] for entry in index["docs"] for name in ("title", "text")]
    assert any("onerror" in text for text in texts)
    assert not any("<img" in text for text in texts)
