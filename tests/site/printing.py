"""Cards and sheets as files and as PDF: what Chromium prints, its sizes, its words, and the codes that stand on it."""

from __future__ import annotations

import base64
import re
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import pytest

from stepfield.checks import Report
from stepfield.pages.reading import Reading
from stepfield.pages.sheets import sheets
from stepfield.pages.site import assets
from tests.site.browsing import Browser

URL = "https://protocols.quillhaven.example/"
A4, A5 = (210.0, 297.0), (148.0, 210.0)
"""Sides in mm: ISO 216, main series A."""


def sheets_of(report: Report, url: str = URL) -> dict[str, str]:
    """Every card, sheet and style sheet of paper of a checked set, by address."""
    readings = tuple(Reading(one, report.facts) for one in report.facts.examined)
    return {address: content.decode() for address, content in sheets(report, readings, url)}


def put_down(files: dict[str, str], folder: Path) -> Path:
    """Writes cards and sheets with what they load into a folder, as on a site."""
    loaded = {asset.address: asset.content for asset in assets() if "/sheets." in asset.address}
    for address, content in {**loaded, **{address: text.encode() for address, text in files.items()}}.items():
        place = folder / address
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes(content)
    return folder


@dataclass(frozen=True)
class Printed:
    """A PDF."""

    path: Path

    @cached_property
    def sizes(self) -> list[tuple[float, float]]:
        """Width and height of every page in points, as the file states them."""
        told = _told("pdfinfo", "-l", "-1", str(self.path))
        found = re.findall(r"^Page +\d+ size: +([\d.]+) x ([\d.]+) pts", told, re.MULTILINE)
        return [(float(width), float(height)) for width, height in found]

    @cached_property
    def lined(self) -> list[str]:
        """The words of every page, line by line as they stand on it."""
        return _told("pdftotext", "-layout", "-enc", "UTF-8", str(self.path), "-").split("\f")[:-1]

    @cached_property
    def pages(self) -> list[str]:
        """The words of every page, in the order of the file, with single spaces."""
        told = _told("pdftotext", "-raw", "-enc", "UTF-8", str(self.path), "-")
        return [" ".join(page.split()) for page in told.split("\f")[:-1]]

    @property
    def text(self) -> str:
        """The words of all pages."""
        return " ".join(self.pages)


def printed(chromium: Browser, page: Path, target: Path) -> Printed:
    """Prints a page the way a reader does who leaves paper and margins to the page."""
    chromium.open(page)
    taken = chromium.driver.execute_cdp_cmd("Page.printToPDF", {"preferCSSPageSize": True, "printBackground": False})
    target.write_bytes(base64.b64decode(taken["data"]))
    return Printed(target)


def _told(program: str, *values: str) -> str:
    if shutil.which(program) is None:
        pytest.fail(f"{program} is missing: apt-get install poppler-utils", pytrace=False)
    return subprocess.run([program, *values], check=True, capture_output=True, text=True, encoding="utf-8").stdout


@contextmanager
def pictured(pdf: Printed, sheet: int, dots: int) -> Iterator[Path]:
    """One sheet as a picture of so many dots an inch, for a while."""
    target = pdf.path.with_suffix(f".{sheet}")
    _told(
        "pdftoppm",
        "-r",
        str(dots),
        "-f",
        str(sheet),
        "-l",
        str(sheet),
        "-singlefile",
        "-png",
        str(pdf.path),
        str(target),
    )
    picture = target.with_name(f"{target.name}.png")
    try:
        yield picture
    finally:
        picture.unlink()
