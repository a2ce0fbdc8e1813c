"""The site shown while it is written: an edit is soon seen, and a broken file ends nothing."""

from __future__ import annotations

import shutil
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from mkdocs.commands.build import build
from mkdocs.exceptions import Abort

from tests.site.building import ROOT, pages_of, settings, write_set
from tests.site.small import CHECK, CLINIC, Seen, sample

SOON = 2.0
"""Seconds from an edit to the page that shows it, on an idle machine with two cores."""
PATIENCE = 60.0


class Session:
    """One session of the site generator: settings read and a site built after each change, with one plugin."""

    def __init__(self, folder: Path, command: str = "serve") -> None:
        self.folder = folder
        self.config().plugins.on_startup(command=command, dirty=False)

    def config(self) -> Any:
        return settings(self.folder, site=self.folder / "site", strict=True, plugin={"stop_on_errors": "strict"})

    def again(self) -> dict[str, str]:
        """Builds from the files as they lie there."""
        build(self.config())
        return pages_of(self.folder / "site")

    def build(self, protocols: dict[str, Any] | None = None, clinic: Any = CLINIC) -> dict[str, str]:
        """Writes the protocols, and builds."""
        write_set(self.folder, protocols, clinic)
        return self.again()

    def put(self, name: str, text: str) -> dict[str, str]:
        """Writes one file, and builds."""
        (self.folder / "protocols" / name).write_text(text, encoding="utf-8")
        return self.again()


@pytest.fixture
def session(tmp_path: Path) -> Iterator[Session]:
    write_set(tmp_path)
    yield Session(tmp_path)
    Session(tmp_path, "build")  # the site generator keeps the plugin for whatever is built next


def test_a_file_that_cannot_be_read_keeps_its_last_good_pages_with_what_is_wrong(session: Session) -> None:
    good = session.build()
    pages = session.put("wrist.yaml", "kind: protocol\ntitle: [\n")
    assert {address for address in good if not address.startswith(("screens/", "print/"))} <= set(pages)
    for address in ("protocols/wrist.html", "protocols/wrist/scrub.html", "roles/scrub.html"):
        seen = Seen(pages[address])
        assert "cannot be read now" in seen.text
        assert any(href.endswith("problems.html#problem_1") for _, attrs in seen.tags if (href := attrs.get("href")))
    assert "Rub your hands" in pages["protocols/wrist/scrub.html"]
    assert "bad-yaml" in pages["problems.html"]
    assert Seen(session.build()["protocols/wrist.html"]).text == Seen(good["protocols/wrist.html"]).text


def test_a_broken_file_stays_broken_over_several_builds_and_keeps_its_pages(session: Session) -> None:
    session.build()
    text = [session.put("wrist.yaml", "[" * count) for count in (1, 2, 3)][-1]["protocols/wrist.html"]
    assert text.count("cannot be read now") == 1


def test_a_broken_part_keeps_the_pages_of_what_uses_it(session: Session) -> None:
    session.build()
    assert "cannot be read now" in session.put("parts/check.yaml", "[")["protocols/wrist.html"]
    assert "Fetch the pack" in session.build({"wrist": sample(), "parts/check": CHECK})["protocols/wrist.html"]


def test_a_file_that_is_taken_away_takes_its_pages_with_it(session: Session) -> None:
    session.build({"wrist": sample(), "second": sample(title="Second")})
    (session.folder / "protocols" / "second.yaml").unlink()
    assert "protocols/second.html" not in session.again()


def test_errors_do_not_end_a_strict_session_and_stand_in_a_banner(session: Session) -> None:
    protocol = sample()
    del protocol["phases"][0]["steps"][5]["after"]
    assert Seen(session.build({"wrist": protocol})["protocols/wrist.html"]).with_class("sf-banner-error")


@pytest.mark.parametrize("clinic", [[], {"clinic": 3}, {"clinic": "Quillhaven", "roles": {}}])
def test_a_broken_clinic_ends_nothing(session: Session, clinic: Any) -> None:
    session.build()
    pages = session.build(clinic=clinic)
    assert "problems.html" in pages
    assert "protocols/wrist.html" in pages


def test_a_changed_schema_is_read_anew(session: Session) -> None:
    from stepfield.language.schemas import schema

    before = schema("protocol")
    session.build()
    assert schema("protocol") == before
    assert schema("protocol") is not before


def test_a_build_keeps_no_page_of_a_file_that_cannot_be_read(tmp_path: Path) -> None:
    write_set(tmp_path)
    session = Session(tmp_path, "build")
    session.build()
    with pytest.raises(Abort):
        session.put("wrist.yaml", "[")
    build(settings(tmp_path, site=tmp_path / "site", plugin={"stop_on_errors": "never"}))
    assert "protocols/wrist.html" not in pages_of(tmp_path / "site")


def until(asked: Callable[[], bool], seconds: float = PATIENCE) -> float:
    """How long it takes until something is so; fails when it takes too long."""
    start = time.monotonic()
    while not asked():
        assert time.monotonic() - start < seconds
        time.sleep(0.05)
    return time.monotonic() - start


@pytest.fixture
def served(tmp_path: Path) -> Iterator[tuple[Path, str]]:
    """The demonstration site served by the command; gives its folder and its address."""
    for name in ("mkdocs.yml", "protocols", "site_demo"):
        source = ROOT / name
        (shutil.copytree if source.is_dir() else shutil.copy)(source, tmp_path / name)
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        address = f"127.0.0.1:{probe.getsockname()[1]}"
    command = [sys.executable, "-m", "mkdocs", "serve", "--strict", "--dev-addr", address]
    with subprocess.Popen(command, cwd=tmp_path, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as process:
        yield tmp_path, f"http://{address}/"
        process.terminate()


def shown(address: str) -> str:
    try:
        with urllib.request.urlopen(address, timeout=PATIENCE) as answer:  # noqa: S310 - loopback
            return str(answer.read().decode())
    except (urllib.error.URLError, ConnectionError):
        return ""


def test_an_edit_of_a_step_is_soon_shown_by_the_server_and_a_broken_file_does_not_end_it(
    served: tuple[Path, str], record_property: Callable[[str, object], None]
) -> None:
    folder, address = served
    page = f"{address}protocols/wrist-release.html"
    until(lambda: "wrist tunnel" in shown(page))
    path = folder / "protocols" / "wrist-release.yaml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("title: Operate", "title: Work on the tunnel and operate", 1), encoding="utf-8")
    took = until(lambda: "Work on the tunnel and operate" in shown(page))
    record_property("seconds from an edit to its page", round(took, 2))
    path.write_text(text + "\n[", encoding="utf-8")
    until(lambda: "cannot be read now" in shown(page))
    path.write_text(text, encoding="utf-8")
    until(lambda: "cannot be read now" not in shown(page) and "wrist tunnel" in shown(page))
    print(f"an edit was shown after {took:.2f} s")  # noqa: T201 - told with -s
