"""The plugin in whole builds: errors, offline settings, addresses, menu, search, and what a failed build leaves."""

from __future__ import annotations

import json
import logging
from pathlib import Path
from typing import Any

import pytest
from mkdocs.exceptions import Abort, PluginError

from stepfield.pages import build_site
from stepfield.pages.matter import MOST_IN_MENU
from stepfield.pages.searching import for_search
from tests.site.building import ROOT, build_small, pages_of, settings, write_set
from tests.site.small import Seen, checked, sample

Log = pytest.LogCaptureFixture


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    write_set(tmp_path)
    return tmp_path


def broken() -> dict[str, Any]:
    protocol = sample()
    del protocol["phases"][0]["steps"][5]["after"]
    return protocol


def lines(caplog: Log) -> list[str]:
    return [record.getMessage() for record in caplog.records if record.levelno >= logging.WARNING]


def test_a_clean_set_builds_under_strict(folder: Path) -> None:
    pages = pages_of(build_small(folder, strict=True))
    assert {"index.html", "protocols/wrist.html", "protocols/wrist/scrub.html", "problems.html"} <= set(pages)


def test_an_error_fails_the_build_under_strict_and_leaves_the_last_site(folder: Path, caplog: Log) -> None:
    site = build_small(folder, strict=True)
    before = {path: path.read_bytes() for path in site.rglob("*") if path.is_file()}
    write_set(folder, {"wrist": broken()})
    with pytest.raises(Abort):
        build_small(folder, strict=True)
    assert {path: path.read_bytes() for path in site.rglob("*") if path.is_file()} == before
    told = "\n".join(lines(caplog))
    assert "not-available" in told
    assert "protocols/wrist.yaml:" in told


def test_without_strict_the_error_stands_in_a_banner_and_in_the_log(folder: Path, caplog: Log) -> None:
    write_set(folder, {"wrist": broken()})
    pages = pages_of(build_small(folder))
    assert Seen(pages["protocols/wrist/scrub.html"]).with_class("sf-banner-error")
    assert any("not-available" in line for line in lines(caplog))


@pytest.mark.parametrize(("stop", "strict", "fails"), [("always", False, True), ("never", True, False)])
def test_the_settings_say_when_errors_stop_a_build(folder: Path, stop: str, strict: bool, fails: bool) -> None:
    write_set(folder, {"wrist": broken()})
    if fails:
        with pytest.raises(Abort):
            build_small(folder, strict=strict, plugin={"stop_on_errors": stop})
    else:
        build_small(folder, strict=strict, plugin={"stop_on_errors": stop})


def test_a_warning_does_not_fail_a_strict_build(folder: Path) -> None:
    protocol = sample()
    protocol["items"]["spare"] = {"title": "Spare", "starts": "clean"}
    write_set(folder, {"wrist": protocol})
    pages = pages_of(build_small(folder, strict=True))
    assert "unused-name" in pages["problems.html"]


def test_a_day_decides_what_is_overdue(folder: Path) -> None:
    approved = {"by": "The board", "date": "2025-10-01"}
    write_set(folder, {"wrist": sample(status="approved", approved=approved, review_by="2026-10-01")})
    build_small(folder, strict=True, plugin={"today": "2026-09-30"})
    with pytest.raises(Abort):
        build_small(folder, strict=True, plugin={"today": "2026-10-02"})


def test_a_day_that_is_none_is_named(folder: Path, caplog: Log) -> None:
    with pytest.raises(Abort):
        build_small(folder, plugin={"today": "tomorrow"})
    assert any("stepfield.today" in line for line in lines(caplog))


def test_a_missing_folder_is_named(folder: Path, caplog: Log) -> None:
    with pytest.raises(Abort):
        build_small(folder, plugin={"protocols": "gone"})
    assert any("there is no folder 'gone'" in line for line in lines(caplog))


@pytest.mark.parametrize(
    ("more", "name"),
    [
        ({"theme": {"name": "mkdocs"}, "plugins": ["stepfield"]}, "theme"),
        ({"theme": {"name": "material", "features": ["navigation.instant"]}}, "theme.features"),
        ({"theme": {"name": "material", "font": {"text": "Lora"}}}, "theme.font"),
        ({"plugins": ["search", "stepfield"]}, "plugins.offline"),
        ({"repo_url": "https://elsewhere.invalid/x"}, "repo_url"),
        ({"extra_javascript": ["https://elsewhere.invalid/x.js"]}, "extra_javascript"),
        ({"extra_css": ["//elsewhere.invalid/x.css"]}, "extra_css"),
        ({"extra": {"analytics": {"provider": "x"}}}, "extra.analytics"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_a_setting_that_would_make_a_request_leave_is_refused_by_name(
    folder: Path, caplog: Log, more: dict[str, Any], name: str
) -> None:
    with pytest.raises(Abort):
        build_small(folder, **more)
    assert any(f"  {name}: " in line for line in lines(caplog))
    assert not (folder / "site").exists()


def test_the_plugin_turns_off_what_it_can(folder: Path) -> None:
    pages = pages_of(build_small(folder, theme={"name": "material"}))
    assert "fonts.g" not in pages["index.html"]
    assert "unpkg" not in pages["index.html"]
    assert "assets/stepfield/iframe-worker.js" in pages["index.html"]


def test_a_page_that_would_load_from_elsewhere_fails_a_strict_build(folder: Path, caplog: Log) -> None:
    (folder / "pages").mkdir()
    (folder / "pages" / "own.md").write_text("# Own\n\n![x](https://elsewhere.invalid/x.png)\n", encoding="utf-8")
    with pytest.raises(Abort):
        build_small(folder, strict=True)
    assert any("own.md would load something from the network" in line for line in lines(caplog))


@pytest.mark.parametrize("name", ["index.md", "protocols/wrist.md", "Problems.md", "assets/stepfield/stepfield.css"])
def test_two_pages_with_one_address_are_refused(folder: Path, caplog: Log, name: str) -> None:
    own = folder / "pages" / name
    own.parent.mkdir(parents=True)
    own.write_text("# Mine\n", encoding="utf-8")
    with pytest.raises(Abort):
        build_small(folder)
    assert any("would both be" in line and name in line for line in lines(caplog))


def test_a_hand_written_page_stands_beside_the_others(folder: Path) -> None:
    (folder / "pages").mkdir()
    (folder / "pages" / "own.md").write_text("# Own page\n\nText.\n", encoding="utf-8")
    pages = pages_of(build_small(folder, strict=True))
    assert "Text." in pages["own.html"]
    assert 'href="own.html"' in pages["problems.html"]


def menu(html: str) -> set[str]:
    start = html.index('data-md-type="navigation"')
    end = html.index('data-md-type="toc"')
    return {attrs["href"] or "" for tag, attrs in Seen(html[start:end]).tags if tag == "a" and "href" in attrs}


def test_the_menu_holds_no_page_of_a_role(folder: Path) -> None:
    found = menu(pages_of(build_small(folder))["problems.html"])
    assert {"index.html", "protocols/wrist.html", "rules.html", "language.html", "about.html"} <= found
    assert not [href for href in found if href.startswith(("protocols/wrist/", "roles/"))]


def entries(site: Path) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = json.loads((site / "search" / "search_index.json").read_text(encoding="utf-8"))[
        "docs"
    ]
    return found


def test_the_search_has_one_entry_a_step_and_none_from_role_pages_or_pictures(folder: Path) -> None:
    found = entries(build_small(folder))
    steps = [entry for entry in found if entry["location"].startswith("protocols/wrist.html#")]
    assert [entry["location"] for entry in steps if entry["title"] == "Spread the cover over the trolley."] == [
        "protocols/wrist.html#cover"
    ]
    assert not [entry for entry in found if entry["location"].startswith(("protocols/wrist/", "roles/"))]
    said = [entry["location"] for entry in found if "Spread the cover" in entry["title"] + entry["text"]]
    assert [location for location in said if location.startswith("protocols/")] == ["protocols/wrist.html#cover"]
    assert not any("parallel" in entry["text"] or "Picture of phase" in entry["text"] for entry in found)


def test_the_caution_is_not_in_every_entry_of_the_search(folder: Path) -> None:
    assert not [entry for entry in entries(build_small(folder)) if "licensed judgement" in entry["text"]]


def test_pages_lead_back_to_the_file_they_were_written_in(folder: Path) -> None:
    config = settings(folder, site=folder / "site")
    plugin = config.plugins["stepfield"]
    config.plugins.on_startup(command="build", dirty=False)
    config.plugins.on_config(config)
    config.plugins.on_pre_build(config=config)
    files = plugin.on_files(empty_files(), config=config)
    uris = {file.src_uri: file.edit_uri for file in files}
    assert uris["protocols/wrist/scrub.md"] == "../protocols/wrist.yaml"
    assert uris["problems.md"] is None


def empty_files() -> Any:
    from mkdocs.structure.files import Files

    return Files([])


def test_serving_follows_the_protocols_and_the_schemas(folder: Path) -> None:
    class Server:
        def __init__(self) -> None:
            self.watched: list[str] = []

        def watch(self, path: str) -> None:
            self.watched.append(path)

    server = Server()
    config = settings(folder, site=folder / "site")
    config.plugins["stepfield"].on_serve(server, config=config, builder=None)
    assert str((folder / "protocols").resolve()) in server.watched
    assert str(ROOT / "schema") in server.watched


def test_the_plugin_stays_thin() -> None:
    text = (ROOT / "plugins" / "stepfield" / "mkdocs.py").read_text(encoding="utf-8")
    assert text.count("\n") < 300


def test_an_error_of_the_settings_is_no_traceback(folder: Path) -> None:
    config = settings(folder, site=folder / "site", theme={"name": "mkdocs"}, plugins=["stepfield"])
    with pytest.raises(PluginError, match="without a network"):
        config.plugins["stepfield"].on_config(config)


def test_the_search_finds_the_same_in_what_it_is_given_of_a_page(folder: Path) -> None:
    """Judged by the reader of the theme: what is cut out beforehand changes nothing, but that words stand apart."""
    from material.plugins.search.plugin import Parser

    def letters(entries: list[tuple[str, str, str]]) -> list[tuple[str, str, str]]:
        return [(place, title, "".join(text.split())) for place, title, text in entries]

    for page in build_site(checked()).pages:
        if not page.search_weight:
            continue  # is kept from the search
        whole, short = Parser(), Parser()
        whole.feed(page.html)
        short.feed(for_search(page.html))
        assert letters(entries_of(short)) == letters(entries_of(whole)), page.address
        assert entries_of(whole)
        if page.kind == "home":
            assert any("Version 0.3.0" in text for _, _, text in entries_of(short))


def entries_of(read: Any) -> list[tuple[str, str, str]]:
    """What the theme's reader would put into its list, by place; white space does not count."""
    kept = [section for section in read.data if not section.is_excluded()]
    return [
        (section.id, *(" ".join("".join(text).split()) for text in (section.title, section.text))) for section in kept
    ]


def test_the_menu_of_many_protocols_holds_none_of_them(folder: Path) -> None:
    write_set(folder, {f"wrist-{number}": sample(title=f"Release {number}") for number in range(MOST_IN_MENU + 1)})
    pages = pages_of(build_small(folder, strict=True))
    found = menu(pages["problems.html"])
    assert {"index.html", "rules.html"} <= found
    assert not [href for href in found if href.startswith("protocols/")]
    assert 'href="protocols/wrist-7.html"' in pages["index.html"]
