"""Pictures of every kind of page at every size it is read in, to be looked at.

    python -m tests.site.pictures [FOLDER]

Needs Chromium with its driver, and pdftoppm for the printed pages.
"""

from __future__ import annotations

import base64
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.site.browsing import Browser, browser
from tests.site.building import ROOT, build_demo
from tests.site.kinds import kinds_of

SIZES = {
    "phone": (390, 844),
    "desktop": (1280, 800),
    "wall": (1920, 1080),
    "wall-large": (3840, 2160),
    "wall-standing": (1080, 1920),
}
MOST_HEIGHT = 6000
"""Longer pages are cut off here in the pictures of phones and desktops; a wall shows what fits."""


def shot(chromium: Browser, page: Path, target: Path, width: int, height: int) -> None:
    """One picture of a page at one size."""
    chromium.resize(width, height)
    chromium.open(page)
    whole = min(int(chromium.run("return document.documentElement.scrollHeight")), MOST_HEIGHT)
    tall = height if target.stem.endswith(("wall", "large", "standing")) else max(height, whole)
    chromium.resize(width, tall)
    taken = chromium.driver.execute_cdp_cmd("Page.captureScreenshot", {"format": "png"})
    target.write_bytes(base64.b64decode(taken["data"]))


def printed(chromium: Browser, page: Path, target: Path) -> None:
    """Pictures of the first sheets of a page on paper."""
    chromium.resize(1280)
    chromium.open(page)
    taken = chromium.driver.execute_cdp_cmd("Page.printToPDF", {"preferCSSPageSize": True, "printBackground": False})
    with tempfile.TemporaryDirectory() as name:
        sheet = Path(name) / "sheet.pdf"
        sheet.write_bytes(base64.b64decode(taken["data"]))
        subprocess.run(["pdftoppm", "-r", "70", "-l", "3", "-png", str(sheet), str(target)], check=True)


def main() -> None:
    """Makes all pictures."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "build" / "pictures"
    if shutil.which("pdftoppm") is None:
        sys.exit("pdftoppm is missing: sudo apt-get install poppler-utils")
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    with tempfile.TemporaryDirectory() as name, browser() as chromium:
        site = build_demo(Path(name) / "site")
        for kind, address in kinds_of(site).items():
            for size, (width, height) in SIZES.items():
                shot(chromium, site / address, folder / f"{kind}-{size}.png", width, height)
            printed(chromium, site / address, folder / f"{kind}-print")
    sys.stdout.write(f"{len(list(folder.iterdir()))} pictures in {folder}\n")


if __name__ == "__main__":
    main()
