"""Settings and pages that would make a request leave the machine are named."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from stepfield.pages.offline import Settings, leaks, loads_from_elsewhere

QUIET = Settings(
    theme="material",
    features=("navigation.top",),
    font=False,
    logo=None,
    favicon="assets/images/favicon.png",
    plugins=frozenset({"material/search", "material/offline", "stepfield"}),
    extra={},
    scripts=("js/own.js",),
    styles=("css/own.css",),
    repo_url=None,
    extensions={"admonition": None},
)


def inlined() -> None:
    """Stands in for the theme's own emoji generator."""


inlined.__module__ = "material.extensions.emoji"


def test_quiet_settings_have_no_leak() -> None:
    assert list(leaks(QUIET)) == []


def test_the_themes_own_font_setting_is_no_leak_because_it_is_turned_off() -> None:
    assert list(leaks(replace(QUIET, font={"text": "Roboto", "code": "Roboto Mono"}))) == []


@pytest.mark.parametrize(
    ("change", "name"),
    [
        ({"theme": "mkdocs"}, "theme"),
        ({"theme": None}, "theme"),
        ({"features": ("navigation.instant",)}, "theme.features"),
        ({"features": ("navigation.instant.preview",)}, "theme.features"),
        ({"font": {"text": "Lora"}}, "theme.font"),
        ({"logo": "https://elsewhere.invalid/logo.svg"}, "theme.logo"),
        ({"favicon": "//elsewhere.invalid/icon.png"}, "theme.favicon"),
        ({"plugins": frozenset({"material/search"})}, "plugins.offline"),
        ({"plugins": frozenset({"material/offline"})}, "plugins.search"),
        ({"extra": {"analytics": {"provider": "google"}}}, "extra.analytics"),
        ({"extra": {"version": {"provider": "mike"}}}, "extra.version"),
        ({"extra": {"polyfills": ["https://elsewhere.invalid/x.js"]}}, "extra.polyfills"),
        ({"scripts": ("HTTPS://elsewhere.invalid/x.js",)}, "extra_javascript"),
        ({"scripts": (" //elsewhere.invalid/x.js",)}, "extra_javascript"),
        ({"styles": ("http://elsewhere.invalid/x.css",)}, "extra_css"),
        ({"repo_url": "https://elsewhere.invalid/x"}, "repo_url"),
        ({"extensions": {"pymdownx.emoji": None}}, "markdown_extensions.pymdownx.emoji"),
        (
            {"extensions": {"pymdownx.superfences": {"custom_fences": [{"name": "mermaid", "class": "mermaid"}]}}},
            "markdown_extensions.pymdownx.superfences",
        ),
    ],
    ids=str,
)
def test_each_leak_is_named(change: dict[str, Any], name: str) -> None:
    ((found, advice),) = leaks(replace(QUIET, **change))
    assert found == name
    assert advice


def test_what_is_drawn_into_the_page_is_no_leak() -> None:
    quiet = {"pymdownx.emoji": {"emoji_generator": inlined}, "pymdownx.superfences": {"custom_fences": [{"name": "x"}]}}
    assert list(leaks(replace(QUIET, extensions=quiet))) == []


@pytest.mark.parametrize(
    "tag",
    [
        "<script src='https://elsewhere.invalid/x.js'></script>",
        '<img alt="x" src="//elsewhere.invalid/x.png">',
        "<img src=http://elsewhere.invalid/x.png>",
        '<link rel="stylesheet" href="https://elsewhere.invalid/x.css">',
        '<link href="https://elsewhere.invalid/x.css" rel=preconnect>',
        '<iframe src="https://elsewhere.invalid/"></iframe>',
        '<img srcset="https://elsewhere.invalid/x.png 2x">',
        '<IMG\n  SRC="HTTPS://elsewhere.invalid/x.png">',
        '<object data="https://elsewhere.invalid/x"></object>',
    ],
)
def test_what_a_page_loads_from_elsewhere_is_found(tag: str) -> None:
    assert len(loads_from_elsewhere(f"<p>before</p>{tag}<p>after</p>")) == 1


@pytest.mark.parametrize(
    "tag",
    [
        '<a href="https://elsewhere.invalid/">a link to follow</a>',
        '<img src="data:image/png;base64,//8=">',
        '<script src="assets/own.js"></script>',
        '<link rel="canonical" href="https://elsewhere.invalid/">',
        '<svg xmlns="http://www.w3.org/2000/svg"></svg>',
        "<p>&lt;img src=https://elsewhere.invalid/x&gt;</p>",
    ],
)
def test_what_stays_at_home_is_left_alone(tag: str) -> None:
    assert loads_from_elsewhere(tag) == ()
