"""A headless Chromium that can reach nothing, and what it saw: requests, errors, and the judgement of axe-core."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from selenium import webdriver
from selenium.webdriver.chrome.service import Service

from tests.site.building import ROOT

AXE = ROOT / ".cache" / "axe-core" / "axe.min.js"
SWITCHES = (
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--hide-scrollbars",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
)
HOME_SCHEMES = ("file:", "data:", "blob:", "about:", "chrome:", "devtools:")


class Browser:
    """Chromium, driven: opens pages, keeps what it asked for and what it complained of."""

    def __init__(self, driver: webdriver.Chrome) -> None:
        self.driver = driver

    def resize(self, width: int, height: int = 900) -> None:
        """Makes the window as wide as told, in CSS pixels."""
        values = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600}
        self.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", values)

    def open(self, page: Path, place: str = "") -> None:
        """Opens a file, afresh."""
        self.driver.get("about:blank")
        self.logs()
        self.driver.get(page.as_uri() + (f"#{place}" if place else ""))

    def run(self, script: str, *values: Any) -> Any:
        """What a script in the page returns."""
        return self.driver.execute_script(script, *values)

    def logs(self) -> tuple[list[str], list[str]]:
        """What was asked for and what went wrong since the last call: (addresses, error messages)."""
        asked = []
        for entry in self.driver.get_log("performance"):
            message = json.loads(entry["message"])["message"]
            if message["method"] == "Network.requestWillBeSent":
                asked.append(message["params"]["request"]["url"])
        errors = [entry["message"] for entry in self.driver.get_log("browser") if entry["level"] == "SEVERE"]
        return asked, errors

    def judge(self) -> list[str]:
        """The violations of WCAG 2.2 A and AA that axe-core finds on the page; a missing axe-core fails the test."""
        if not AXE.is_file():
            pytest.fail(f"axe-core is missing at {AXE.relative_to(ROOT)}; `make test` fetches it", pytrace=False)
        self.run(AXE.read_text(encoding="utf-8"))
        tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
        script = "const done = arguments[1]; axe.run(document, {runOnly: arguments[0]}).then(done)"
        found = self.driver.execute_async_script(script, tags)
        return [
            f"{one['id']}: {node['target']} {node['failureSummary'].splitlines()[-1].strip()}"
            for one in found["violations"]
            for node in one["nodes"]
        ]


def away(asked: list[str]) -> list[str]:
    """The addresses that lie outside the machine."""
    return [address for address in asked if not address.startswith(HOME_SCHEMES)]


@contextmanager
def browser() -> Iterator[Browser]:
    """A browser for a while. Fails the test if Chromium or its driver is not installed."""
    for program in ("chromium", "chromedriver"):
        if shutil.which(program) is None:
            pytest.fail(f"{program} is not installed; the site is tried in it", pytrace=False)
    options = webdriver.ChromeOptions()
    options.binary_location = shutil.which("chromium") or ""
    for switch in SWITCHES:
        options.add_argument(switch)
    options.set_capability("goog:loggingPrefs", {"performance": "ALL", "browser": "ALL"})
    driver = webdriver.Chrome(options=options, service=Service(shutil.which("chromedriver")))
    driver.set_page_load_timeout(60)
    driver.set_script_timeout(60)
    try:
        yield Browser(driver)
    finally:
        driver.quit()
