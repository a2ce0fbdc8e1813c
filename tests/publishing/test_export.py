"""The exported Markdown says what the pages say, whoever renders it, and its links hold."""

from __future__ import annotations

import datetime
import json
import logging
import re
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import markdown
import pytest
from click.testing import CliRunner
from mkdocs.commands.build import build
from mkdocs.config import load_config

from stepfield.checks import check_set
from stepfield.command import main
from stepfield.language import read_set
from stepfield.pages import Site, build_site
from stepfield.publishing import CONTENTS, Exported, contents_of, exported, read_contents, verify, write_export
from tests.site.building import ROOT
from tests.site.hostile import HOSTILE, everywhere
from tests.site.small import Seen, checked, sample

DAY = datetime.date(2026, 11, 2)


def drawn() -> Site:
    return build_site(check_set(read_set(ROOT / "protocols", "protocols"), DAY))


def export_of(site: Site) -> Exported:
    return exported(site, contents_of(site, "protocols", DAY.isoformat()))


@pytest.fixture(scope="module")
def demo() -> Site:
    return drawn()


@pytest.fixture(scope="module")
def plain(demo: Site) -> Exported:
    return export_of(demo)


def rendered(text: str) -> str:
    """What a reader sees of Markdown, with tables as the only extension; its head is not part of it."""
    body = text.split("---\n", 2)[2]
    return Seen(markdown.markdown(body, extensions=["tables"])).text


def squeezed(text: str) -> str:
    return "".join(text.split())


def steps(site: Site) -> dict[str, list[str]]:
    """What is to be done by page, in order, from the text of the protocols themselves."""
    protocols = read_set(ROOT / "protocols", "protocols").protocols
    return {f"protocols/{one.id}.md": [step.do.value for step in one.steps] for one in protocols}


def test_every_page_is_written_with_its_title(demo: Site, plain: Exported) -> None:
    assert len(plain.pages) == len(demo.pages)
    for page in demo.pages:
        text = plain.files[page.address.replace(".html", ".md")].decode()
        head = re.match(r'---\ntitle: (".*")\n---\n', text)
        assert head is not None
        assert json.loads(head[1]) == page.title


def test_the_team_page_says_every_step_in_order(demo: Site, plain: Exported) -> None:
    for address, told in steps(demo).items():
        text = squeezed(rendered(plain.files[address].decode()))
        place = 0
        for do in told:
            first = squeezed(re.split(r"(?<=[.!?])\s", do)[0])
            place = text.index(first, place) + len(first)
        assert len(told) > 10


def test_a_role_page_says_what_the_html_page_says_of_each_step(demo: Site, plain: Exported) -> None:
    count = 0
    for page in (page for page in demo.pages if page.kind == "part"):
        said = [said for _, said in re.findall(r'<(\w+) class="sf-do\b[^>]*>(.*?)</\1>', page.html, re.DOTALL)]
        text = squeezed(rendered(plain.files[page.address.replace(".html", ".md")].decode()))
        for html in said:
            assert squeezed(Seen(html).text) in text, page.address
        count += len(said)
    assert count > 60


def test_hostile_text_stays_text() -> None:
    clinic, protocol, evidence = everywhere(" ".join(HOSTILE))
    site = build_site(checked({"wrist": protocol, "evidence": evidence}, clinic=clinic))
    for address, content in export_of(site).files.items():
        if not address.endswith(".md"):
            continue
        body = content.decode().split("---\n", 2)[2]
        tags = {tag for tag, _ in Seen(markdown.markdown(body, extensions=["tables"])).tags}
        assert not tags & {"script", "iframe", "style", "form", "svg", "input"}, address
        for tag, said in Seen(markdown.markdown(body, extensions=["tables"])).tags:
            assert not [name for name in said if name.startswith("on")], address
            assert tag != "img" or (said["src"] or "").endswith(".svg")
            assert not (said.get("href") or "").startswith(("java", "http", "data")), address


@pytest.mark.parametrize(
    "text",
    [
        "1. not a list",
        "# no heading",
        "- no list",
        "+ no list",
        "* no list *no stress*",
        "> no quote",
        "=====",
        "a_b_c __d__ *e* **f**",
        "`no code`",
        "[no](link) ![no](picture) [no]: link",
        "<b>no</b> &amp; &lt; &#65;",
        "a | b || c",
        "{{ no }} {% no %} {.no} {: .no}",
        "~~no~~ ==no== ^^no^^ ++no++",
        ":no: :::no !!! no ??? no",
        "\\* \\\\ C:\\new",
        "$x$ $$y$$",
        "100 % 2.5 min -- 3 --- 4",
        "    no code",
        "! no",
    ],
)
def test_signs_of_markdown_are_text(text: str) -> None:
    """Each as the do, the why and a title: what is rendered is what was written."""
    protocol = sample(title=f"Title {text} end")
    protocol["phases"][0]["steps"][1]["do"] = text
    protocol["phases"][0]["steps"][1]["why"] = text
    files = export_of(build_site(checked({"wrist": protocol}))).files
    page = rendered(files["protocols/wrist/circulating.md"].decode())
    assert squeezed(page).count(squeezed(text)) >= 2
    assert squeezed(f"Title {text} end") in squeezed(rendered(files["protocols/wrist.md"].decode()))


def test_the_links_hold_in_another_generator(plain: Exported, tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    """Built strictly, without the plugin and with another theme: a link or a place that is not there is a warning."""
    write_export(tmp_path / "docs", plain)
    (tmp_path / "mkdocs.yml").write_text("site_name: Plain\n", encoding="utf-8")
    levels: Any = {"not_found": "warn", "anchors": "warn", "unrecognized_links": "warn", "absolute_links": "warn"}
    config = load_config(
        str(tmp_path / "mkdocs.yml"),
        docs_dir=str(tmp_path / "docs"),
        site_dir=str(tmp_path / "site"),
        theme={"name": "mkdocs", "highlightjs": False},
        use_directory_urls=False,
        plugins=[],
        validation={"links": levels},
        strict=True,
    )
    build(config)
    assert not [record for record in caplog.records if record.levelno >= logging.WARNING]
    for address in plain.pages:
        assert (tmp_path / "site" / address.replace(".md", ".html")).is_file()
    assert verify(tmp_path / "site").flaws == ()


def test_pictures_stand_alone(plain: Exported) -> None:
    pictures = {name: content for name, content in plain.files.items() if name.startswith("pictures/")}
    assert len(pictures) >= 3
    for content in pictures.values():
        root = ElementTree.fromstring(content)  # noqa: S314 - our own
        assert root.tag == "{http://www.w3.org/2000/svg}svg"
        text = content.decode()
        assert "--sf-ink:" in text
        assert set(re.findall(r'<use[^>]*href="#([^"]*)"', text)) <= set(re.findall(r' id="([^"]*)"', text))
        assert not re.search(r'href="(?!#)', text)


def test_what_the_screens_load_is_written_too(plain: Exported) -> None:
    assert {"screens/index.html", "screens/version.js", "assets/stepfield/wall.js"} <= set(plain.files)
    assert "assets/stepfield/stepfield.css" in plain.files
    assert "assets/stepfield/iframe-worker.js" not in plain.files


def test_the_list_goes_along_so_that_what_is_made_of_it_can_be_judged(demo: Site, plain: Exported) -> None:
    listed = read_contents(plain.files[CONTENTS])
    assert set(listed.pages) == {page.address for page in demo.pages}
    assert set(listed.documents) < set(plain.files)


def test_the_command_writes_into_an_empty_folder_only(tmp_path: Path) -> None:
    words = ["export", str(tmp_path / "plain"), "--protocols", str(ROOT / "protocols")]
    first = CliRunner().invoke(main, words)
    assert first.exit_code == 0
    assert "pages and" in first.output
    before = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    second = CliRunner().invoke(main, words)
    assert second.exit_code == 2
    assert "nothing is overwritten" in second.output
    assert {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()} == before


def test_the_command_names_a_folder_that_holds_no_set(tmp_path: Path) -> None:
    result = CliRunner().invoke(main, ["export", str(tmp_path / "plain"), "--protocols", str(tmp_path)])
    assert result.exit_code == 2
    assert "it has no clinic.yaml" in result.output
    assert not (tmp_path / "plain").exists()
