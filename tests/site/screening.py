"""Wall screens in a test: written to a folder, served on loopback, opened in a browser whose clock stands still."""

from __future__ import annotations

import functools
import http.server
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from stepfield.checks import Report, check_set
from stepfield.language import read_set
from stepfield.pages.screens import screens
from tests.site.building import ROOT
from tests.site.small import CHECK, CLINIC, SAMPLE, TODAY, checked, sample

ASSETS = ROOT / "plugins" / "stepfield" / "pages" / "assets"
LONG = "Hold the gown open at arm's length while the colleague walks both hands down the sleeves. " * 3
DAYS: dict[str, Any] = {
    "monday": {
        "title": "Monday",
        "cases": [{"protocol": "wrist", "choices": {"draping": "two"}}, {"protocol": "wrist"}],
    }
}

CLOCK = """(function () {
  var start = Date.now(), passed = 0, queue = [], last = 0, Old = Date;
  function Now(value) { return arguments.length ? new Old(value) : new Old(start + passed); }
  Now.now = function () { return start + passed; };
  Now.prototype = Old.prototype;
  window.Date = Now;
  performance.now = function () { return passed; };
  function later(act, wait, every) {
    queue.push({ id: last += 1, at: passed + (+wait || 0), act: act, every: every });
    return last;
  }
  window.setTimeout = function (act, wait) { return later(act, wait, 0); };
  window.setInterval = function (act, wait) { return later(act, wait, wait); };
  window.clearTimeout = window.clearInterval = function (id) {
    queue = queue.filter(function (one) { return one.id !== id; });
  };
  window.advance = function (seconds) {
    var end = passed + seconds * 1000, one;
    for (;;) {
      queue.sort(function (a, b) { return a.at - b.at; });
      if (!queue.length || queue[0].at > end) { break; }
      one = queue.shift();
      passed = Math.max(passed, one.at);
      if (one.every) { queue.push({ id: one.id, at: one.at + one.every, act: one.act, every: one.every }); }
      one.act();
    }
    passed = end;
  };
}());"""
"""Stands in for the clock of a page: time passes only by advance(seconds)."""


def demo_report() -> Report:
    """The demonstration set, checked."""
    return check_set(read_set(ROOT / "protocols", "protocols"), TODAY)


def small_report(
    protocols: Mapping[str, Any] | None = None, days: Mapping[str, Any] | None = None, **more: Any
) -> Report:
    """The sample set, with screens.yaml."""
    return checked(
        {
            **(protocols or {"wrist": SAMPLE}),
            "screens": {**({"days": days} if days else {}), **more.pop("settings", {})},
        },
        **more,
    )


def hard_report(language: str = "en") -> Report:
    """A draft that is hard to show: broken, with long steps and titles, and a role that does nothing."""
    protocol = sample(title="Release of the tunnel at the wrist " * 9, team=["surgeon", "scrub", "circulating", "idle"])
    steps = protocol["phases"][0]["steps"]
    del steps[5]["after"]
    steps[1]["do"] = LONG.replace(". ", ", ") * 3
    steps[2]["do"] = "Unauseinandergenommenes" * 13
    steps[4]["do"] = "اِغسل يديك بالماء والصابون قبل أن تلمس أي شيء آخر في الغرفة"
    steps[6]["cautions"] = [{"kind": kind, "text": LONG} for kind in ("fire", "splash", "sharps")]
    protocol["phases"][1]["title"] = "Operate with great care and in good light " * 4
    clinic = {
        **CLINIC,
        "language": language,
        "roles": {**CLINIC["roles"], "idle": {"title": "Somebody who only looks on from the corner"}},
    }
    days = {"monday": {"title": "Monday", "cases": [{"protocol": "wrist"}, {"protocol": "gone"}]}}
    viewing = {"distance": "4.3 m", "width": 1920, "height": 1080, "diagonal": "1.1 m"}
    return small_report(
        {"wrist": protocol}, days, clinic=clinic, files={"parts/check": CHECK}, settings={"viewing": viewing}
    )


def write(folder: Path, report: Report) -> Path:
    """Puts the screens of a set and what they load into a folder; gives the folder of the screens."""
    for address, content in screens(report):
        (folder / address).parent.mkdir(parents=True, exist_ok=True)
        (folder / address).write_bytes(content)
    place = folder / "assets" / "stepfield"
    place.mkdir(parents=True, exist_ok=True)
    for name in ("wall.css", "wall.js"):
        (place / name).write_bytes((ASSETS / name).read_bytes())
    return folder / "screens"


class _Quiet(http.server.SimpleHTTPRequestHandler):
    def log_message(self, *args: Any) -> None:
        pass


@contextmanager
def served(folder: Path, port: int = 0) -> Iterator[int]:
    """Serves a folder on loopback for a while; gives the port."""
    server = http.server.ThreadingHTTPServer(("127.0.0.1", port), functools.partial(_Quiet, directory=str(folder)))
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02})
    thread.start()
    try:
        yield server.server_address[1]
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


def many_report() -> Report:
    """A lane of a hundred and twenty steps."""
    steps = [{"id": f"s{n}", "role": "scrub", "do": f"Count swab number {n}."} for n in range(1, 121)]
    phase = {"phase": "count", "title": "Count", "steps": steps}
    protocol = {"title": "Count", "purpose": "x", "version": "1.0.0", "status": "draft", "owner": "x"}
    return small_report({"wrist": {"kind": "protocol", **protocol, "team": ["scrub"], "phases": [phase]}}, files={})
