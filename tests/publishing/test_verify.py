"""A published site is judged: every way to break it is told, one at a time, and a sound one is passed."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from stepfield.command import main
from stepfield.publishing import CONTENTS, Flaw, Unreadable, publish_contents, read_contents, verify
from tests.site.building import build_small, write_set
from tests.site.small import sample

PAGE = "protocols/wrist/scrub.html"
SCREEN = "screens/protocols/wrist/scrub.html"


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("published")
    write_set(folder)
    return build_small(folder, strict=True)


@pytest.fixture
def site(built: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(built, tmp_path / "site"))


def relist(site: Path) -> None:
    """Lists the site anew, so that a change is not told of only because the file is changed."""
    publish_contents(site, read_contents((site / CONTENTS).read_bytes()), {})


def add(address: str, text: str) -> Callable[[Path], None]:
    """Puts something into a page before its end."""

    def change(site: Path) -> None:
        page = site / address
        html = page.read_text(encoding="utf-8")
        page.write_text(html.replace("</body>", f"{text}</body>"), encoding="utf-8")
        relist(site)

    return change


def write(address: str, text: str, *, listed: bool = True) -> Callable[[Path], None]:
    def change(site: Path) -> None:
        (site / address).parent.mkdir(parents=True, exist_ok=True)
        (site / address).write_text(text, encoding="utf-8")
        if listed:
            relist(site)

    return change


def remove(address: str) -> Callable[[Path], None]:
    return lambda site: (site / address).unlink()


def turn(address: str, old: str, new: str, *, listed: bool = False) -> Callable[[Path], None]:
    def change(site: Path) -> None:
        text = (site / address).read_text(encoding="utf-8")
        assert old in text
        (site / address).write_text(text.replace(old, new), encoding="utf-8")
        if listed:
            relist(site)

    return change


def half(address: str) -> Callable[[Path], None]:
    def change(site: Path) -> None:
        text = (site / address).read_bytes()
        (site / address).write_bytes(text[: len(text) // 2])
        relist(site)

    return change


def test_a_sound_site_is_passed(site: Path) -> None:
    verdict = verify(site)
    assert verdict.flaws == ()
    assert verdict.build == read_contents((site / CONTENTS).read_bytes()).build
    assert verdict.pages > 10
    assert verdict.files > verdict.pages


BROKEN = {
    "a page is missing": (remove(PAGE), PAGE, "missing"),
    "a role's page is missing": (remove("roles/scrub.html"), "roles/scrub.html", "missing"),
    "a screen is missing": (remove(SCREEN), SCREEN, "missing"),
    "the script of the screens is missing": (remove("screens/version.js"), "screens/version.js", "missing"),
    "a style sheet is missing": (remove("assets/stepfield/stepfield.css"), "assets/stepfield/stepfield.css", "missing"),
    "the list is missing": (remove(CONTENTS), CONTENTS, "no-contents"),
    "the list is none": (write(CONTENTS, "[]", listed=False), CONTENTS, "no-contents"),
    "the list is half a list": (turn(CONTENTS, '"pages"', "<"), CONTENTS, "no-contents"),
    "a page is of another build": (turn(PAGE, "Rub your hands", "Rub a hand"), PAGE, "other-build"),
    "a style sheet is of another build": (
        write("assets/stepfield/stepfield.css", "p { color: red }", listed=False),
        "assets/stepfield/stepfield.css",
        "other-build",
    ),
    "a screen is of another build": (turn(SCREEN, 'data-build="', 'data-build="f', listed=True), SCREEN, "other-build"),
    "screens are told of nothing": (write("screens/version.js", "no()"), "screens/version.js", "other-build"),
    "a page of an earlier build is left": (
        write("protocols/gone.html", "<html></html>", listed=False),
        "protocols/gone.html",
        "left-over",
    ),
    "a page breaks off": (half(PAGE), PAGE, "unfinished"),
    "a file is being written": (
        write("protocols/wrist.html.tmp", "x", listed=False),
        "protocols/wrist.html.tmp",
        "unfinished",
    ),
    "a hidden file is being written": (
        write("screens/.a1b2.part", "x", listed=False),
        "screens/.a1b2.part",
        "unfinished",
    ),
    "a link leads nowhere": (add(PAGE, '<a href="../gone.html">x</a>'), PAGE, "broken-link"),
    "a link leads to no place": (add(PAGE, '<a href="../wrist.html#gone">x</a>'), PAGE, "broken-link"),
    "a link leads to no place on the page": (add(PAGE, '<a href="#gone">x</a>'), PAGE, "broken-link"),
    "a link leads out of the site": (add(PAGE, '<a href="../../../etc/passwd">x</a>'), PAGE, "broken-link"),
    "a link works from a server's root only": (add(PAGE, '<a href="/index.html">x</a>'), PAGE, "broken-link"),
    "a link runs a script": (add(PAGE, '<a href="java\tscript:x()">x</a>'), PAGE, "broken-link"),
    "a page loads what is not there": (add(PAGE, '<img src="gone.png">'), PAGE, "missing"),
}
"""How a site is broken, and what is told of it: the file and the kind of flaw."""


@pytest.mark.parametrize(("change", "address", "kind"), BROKEN.values(), ids=BROKEN)
def test_each_way_to_break_a_site_is_told(site: Path, change: Callable[[Path], None], address: str, kind: str) -> None:
    change(site)
    found = verify(site).flaws
    assert (address, kind) in {(flaw.address, flaw.kind) for flaw in found}
    assert all(flaw.message.endswith(".") for flaw in found)


LEAVES = (
    '<img src="https://elsewhere.invalid/x.png">',
    '<img src="//elsewhere.invalid/x.png">',
    '<img src="ht&#9;tps://elsewhere.invalid/x.png">',
    '<img src="\\\\elsewhere.invalid/x.png">',
    '<img srcset="a.png 1x, https://elsewhere.invalid/x.png 2x" src="data:,">',
    '<script src="http://elsewhere.invalid/x.js"></script>',
    '<link rel="stylesheet" href="https://elsewhere.invalid/x.css">',
    '<link rel="dns-prefetch" href="//elsewhere.invalid">',
    '<iframe src="https://elsewhere.invalid/"></iframe>',
    "<iframe srcdoc=\"<img src='https://elsewhere.invalid/x.png'>\"></iframe>",
    '<object data="https://elsewhere.invalid/x"></object>',
    '<video poster="https://elsewhere.invalid/x.png"></video>',
    '<form action="https://elsewhere.invalid/"></form>',
    '<a href="#sf_top" ping="https://elsewhere.invalid/">x</a>',
    '<base href="https://elsewhere.invalid/">',
    '<meta http-equiv="refresh" content="0; url=https://elsewhere.invalid/">',
    '<svg><use href="https://elsewhere.invalid/x.svg#a"/></svg>',
    '<svg><image xlink:href="https://elsewhere.invalid/x.png"/></svg>',
    '<p style="background: url(https://elsewhere.invalid/x.png)">x</p>',
    "<style>p { background: url('https://elsewhere.invalid/x.png') }</style>",
    '<style>@import "//elsewhere.invalid/x.css";</style>',
)


@pytest.mark.parametrize("tag", LEAVES)
def test_whatever_would_ask_another_machine_is_told(site: Path, tag: str) -> None:
    add(PAGE, tag)(site)
    assert (PAGE, "leaves") in {(flaw.address, flaw.kind) for flaw in verify(site).flaws}


@pytest.mark.parametrize(
    "css", ["p { background: url( 'https://elsewhere.invalid/x' ) }", "@import url(//elsewhere.invalid/x);"]
)
def test_a_style_sheet_that_would_ask_another_machine_is_told(site: Path, css: str) -> None:
    write("assets/own.css", css)(site)
    assert ("assets/own.css", "leaves") in {(flaw.address, flaw.kind) for flaw in verify(site).flaws}


@pytest.mark.parametrize(
    "tag",
    [
        '<a href="https://elsewhere.invalid/">a reader may go there</a>',
        '<a href="mailto:somebody@elsewhere.invalid">x</a>',
        '<link rel="canonical" href="https://elsewhere.invalid/">',
        '<img src="data:image/png;base64,AAAA">',
        '<a href="../wrist.html#sf_top">x</a>',
        '<a href="../wrist.html?x=1#sf_top">x</a>',
        "<style>/* url(https://elsewhere.invalid/) */</style>",
    ],
)
def test_what_asks_nobody_is_passed(site: Path, tag: str) -> None:
    add(PAGE, tag)(site)
    assert verify(site).flaws == ()


@pytest.mark.parametrize("address", ["../x", "/etc/passwd", "a/../../x", "a\\b", "./x"])
def test_a_list_that_names_something_outside_the_site_is_refused(site: Path, address: str) -> None:
    said: dict[str, Any] = json.loads((site / CONTENTS).read_bytes())
    said["digests"][address] = "0" * 64
    with pytest.raises(Unreadable):
        read_contents(json.dumps(said).encode())


def told(*words: str) -> tuple[int, str]:
    result = CliRunner().invoke(main, list(words))
    return result.exit_code, result.output


def test_the_command_ends_with_0_for_a_sound_site_and_1_for_a_broken_one(site: Path) -> None:
    code, text = told("verify", str(site))
    assert code == 0
    assert text.startswith("Nothing is wrong with this site")
    (site / PAGE).unlink()
    code, text = told("verify", str(site))
    assert code == 1
    assert f"{site}/{PAGE}: missing: This page (part) is on the list of the build, but not there." in text
    assert "Looked at" in text.splitlines()[-1]


def test_the_command_ends_with_2_where_there_is_nothing_to_judge(site: Path) -> None:
    assert told("verify", str(site / "gone"))[0] == 2
    assert told("verify", str(site), "--protocols", str(site / "gone"))[0] == 2


def test_a_site_is_held_against_the_protocols_that_it_should_show(site: Path, tmp_path: Path) -> None:
    protocols = write_set(tmp_path)
    assert told("verify", str(site), "--protocols", str(protocols))[0] == 0
    write_set(tmp_path, {"wrist": sample(), "second": sample(title="Second")})
    code, text = told("verify", str(site), "--protocols", str(protocols))
    assert code == 1
    assert "protocols/second/scrub.html: missing: The protocols ask for this page (part)" in text
    assert "other-set: The site was built from other files than these protocols" in text


def test_a_page_that_the_protocols_no_longer_ask_for_is_told(site: Path, tmp_path: Path) -> None:
    protocols = write_set(tmp_path, {"other": sample()})
    text = told("verify", str(site), "--protocols", str(protocols))[1]
    assert f"{PAGE}: other-set: The protocols do not ask for this page" in text


def test_a_site_whose_generator_passed_the_plugin_over_is_told_by_the_protocols(tmp_path: Path) -> None:
    (tmp_path / "site").mkdir()
    (tmp_path / "site" / "index.html").write_text("<html><body>Welcome</body></html>", encoding="utf-8")
    code, text = told("verify", str(tmp_path / "site"), "--protocols", str(write_set(tmp_path)))
    assert code == 1
    assert "passed the plugin over" in text
    assert "protocols/wrist.html: missing" in text


def test_flaws_are_told_once_and_in_the_order_of_the_files(site: Path) -> None:
    add(PAGE, '<a href="gone.html">x</a><a href="gone.html">y</a>')(site)
    found = verify(site).flaws
    assert len(found) == 1
    assert sorted([*found, Flaw("a", "b", "c")])[0].address == "a"
