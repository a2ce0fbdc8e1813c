"""Building whole sites in a test: the demonstration set, or a small set written to a folder."""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from mkdocs.commands.build import build
from mkdocs.config import load_config

from tests.site.small import CHECK, CLINIC, SAMPLE, written

ROOT = Path(__file__).parents[2]
TODAY = "2026-11-02"
THEME: dict[str, Any] = {"name": "material", "font": False}


def write_set(folder: Path, protocols: Mapping[str, Any] | None = None, clinic: Any = CLINIC) -> Path:
    """Writes a protocol set (the sample, if none is told) into ``folder/protocols``."""
    place = folder / "protocols"
    (place / "parts").mkdir(parents=True, exist_ok=True)
    files = {"clinic": clinic, "parts/check": CHECK, **(protocols or {"wrist": SAMPLE})}
    for name, content in files.items():
        (place / f"{name}.yaml").write_text(written(content), encoding="utf-8")
    return place


def settings(folder: Path, *, site: Path, strict: bool = False, **more: Any) -> Any:
    """The settings of a site over the protocol set in a folder; ``plugin`` sets Stepfield's own."""
    pages = folder / "pages"
    pages.mkdir(exist_ok=True)
    config = folder / "mkdocs.yml"
    config.write_text("site_name: Placeholder\n", encoding="utf-8")
    plugin = {"protocols": "protocols", "today": TODAY, **more.pop("plugin", {})}
    values = {
        "site_name": "Quillhaven",
        "docs_dir": str(pages),
        "site_dir": str(site),
        "theme": dict(THEME),
        "plugins": ["search", "offline", {"stepfield": plugin}],
        "strict": strict,
        **more,
    }
    return load_config(str(config), **values)


def build_small(folder: Path, *, site: Path | None = None, strict: bool = False, **more: Any) -> Path:
    """Builds the site of the set in a folder; gives where it is."""
    target = site or folder / "site"
    build(settings(folder, site=target, strict=strict, **more))
    return target


def build_demo(site: Path, *, protocols: Path | None = None, strict: bool = True) -> Path:
    """Builds the demonstration site as it is set up, or with the protocols of another folder, judged on a fixed day."""
    folder = site.parent / f"{site.name}-source"
    folder.mkdir(parents=True)
    shutil.copy(ROOT / "mkdocs.yml", folder)
    shutil.copytree(ROOT / "site_demo", folder / "site_demo")
    shutil.copytree(protocols or ROOT / "protocols", folder / "protocols")
    config = load_config(str(folder / "mkdocs.yml"), site_dir=str(site), strict=strict)
    config.plugins["stepfield"].config["today"] = TODAY
    build(config)
    return site


def pages_of(site: Path) -> dict[str, str]:
    """The text of every page of a built site, by address."""
    return {
        path.relative_to(site).as_posix(): path.read_text(encoding="utf-8") for path in sorted(site.rglob("*.html"))
    }
