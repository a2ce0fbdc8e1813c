"""What in a site's settings, or in a finished page, would make a browser ask another machine for something."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

SHIM = "iframe-worker.js"
"""The script that lets the theme's search run in a page opened from a folder; without one the theme fetches it."""

_ELSEWHERE = re.compile(r"\s*(?:[a-z][a-z0-9+.-]*:)?//", re.IGNORECASE)
_LOADED = re.compile(
    r"""<(?:script|img|iframe|audio|video|source|track|embed|input|object|use|image)\b[^>]*?\s(?:src|srcset|poster|data|xlink:href|href)\s*=\s*["']?\s*(?:https?:)?//[^\s"'>]*"""
    r"""|<link\b(?=[^>]*\brel\s*=\s*["']?(?:stylesheet|icon|preload|preconnect|dns-prefetch|manifest|modulepreload))[^>]*?\shref\s*=\s*["']?\s*(?:https?:)?//[^\s"'>]*""",
    re.IGNORECASE,
)
_FONTS = {"text": "Roboto", "code": "Roboto Mono"}


@dataclass(frozen=True, slots=True)
class Settings:
    """The settings of a site that decide what its pages load, as plain values."""

    theme: str | None
    features: tuple[str, ...]
    font: object
    logo: object
    favicon: object
    plugins: frozenset[str]
    extra: Mapping[str, Any]
    scripts: tuple[str, ...]
    styles: tuple[str, ...]
    repo_url: str | None
    extensions: Mapping[str, Any]


def leaks(settings: Settings) -> Iterator[tuple[str, str]]:
    """Every setting that would make a request leave the machine: its name, and what to do instead."""
    if settings.theme != "material":
        yield "theme", "use the theme 'material': others load scripts and fonts from the network"
    for name in ("search", "offline"):
        if not {name, f"material/{name}"} & settings.plugins:
            yield f"plugins.{name}", f"add the plugin '{name}', so that the search works from a folder"
    for feature in settings.features:
        if feature.startswith("navigation.instant"):
            yield "theme.features", f"leave out '{feature}': it fetches pages, which no page in a folder can do"
    if settings.font is not False and settings.font != _FONTS:
        yield "theme.font", "set it to false: other fonts are fetched from the network"
    if settings.repo_url:
        yield "repo_url", "leave it out: the theme asks that address for figures"
    for name in ("analytics", "version"):
        if settings.extra.get(name):
            yield f"extra.{name}", "leave it out: it sends or fetches something on every page"
    yield from _addresses(settings)
    yield from _extensions(settings.extensions)


def _addresses(settings: Settings) -> Iterator[tuple[str, str]]:
    listed: tuple[tuple[str, Iterable[object]], ...] = (
        ("extra_javascript", settings.scripts),
        ("extra_css", settings.styles),
        ("extra.polyfills", settings.extra.get("polyfills") or ()),
        ("theme.logo", (settings.logo,)),
        ("theme.favicon", (settings.favicon,)),
    )
    for name, values in listed:
        for value in values:
            if _ELSEWHERE.match(str(value or "")):
                yield name, f"keep a copy beside the site's own pages instead of '{value}'"


def _extensions(extensions: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    if "pymdownx.emoji" in extensions:
        options = extensions["pymdownx.emoji"] or {}
        maker = options.get("emoji_generator")
        if getattr(maker, "__module__", "").split(".")[0] != "material":
            yield (
                "markdown_extensions.pymdownx.emoji",
                "set its emoji_generator to the theme's own, which draws them into the page",
            )
    fences = (extensions.get("pymdownx.superfences") or {}).get("custom_fences") or ()
    for fence in fences:
        if isinstance(fence, Mapping) and "mermaid" in (fence.get("name"), fence.get("class")):
            yield (
                "markdown_extensions.pymdownx.superfences",
                "leave out mermaid: its script is fetched from the network",
            )


def loads_from_elsewhere(html: str) -> tuple[str, ...]:
    """The tags of a page that load something from another machine; links that a reader may follow are none."""
    return tuple(found.group(0)[:200] for found in _LOADED.finditer(html))
