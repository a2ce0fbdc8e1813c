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


FIT = """
const out = [], root = document.documentElement, seen = new Set();
const count = root.getAttribute('data-seconds-' + (innerWidth >= innerHeight ? 'lying' : 'standing')).split(',').length;
const names = 'data-' + (innerWidth >= innerHeight ? 'lying' : 'standing');
document.getElementById('w-pause').click();
const canvas = document.createElement('canvas').getContext('2d');
let least = 1e9, small = 1e9;
for (let n = 0; n < count; n++) {
  const shown = [...document.querySelectorAll('.w-section:not(.w-off)')];
  if (shown.length !== 1) out.push(n + ': ' + shown.length + ' sections');
  if (root.classList.contains('w-misfit')) out.push(n + ': too much');
  const main = document.getElementById('w-main').getBoundingClientRect();
  const box = shown[0].querySelector('.w-cards').getBoundingClientRect();
  for (const card of shown[0].querySelectorAll('.w-card:not(.w-off)')) {
    if (card.getAttribute(names) !== String(n)) out.push(n + ': a card of ' + card.getAttribute(names));
    seen.add(card);
    for (const e of [card, ...card.querySelectorAll('p, .w-mark, .w-sign')]) {
      const r = e.getBoundingClientRect();
      if (r.left < 0 || r.right > innerWidth || r.top < box.top - 1 || r.bottom > box.bottom + 1)
        out.push(n + ': ' + e.className + ' ' + e.textContent.slice(0, 40) + ' outside');
      const sign = e.matches('.w-mark, .w-sign') && e.closest('.w-gutter');
      const text = sign && sign.parentElement.querySelector('p').getBoundingClientRect();
      if (text && r.left < text.right - 1 && r.right > text.left + 1) out.push(n + ': a sign on the text');
      if (e.scrollWidth > e.clientWidth + 1 && e.matches('p, .w-mark'))
        out.push(n + ': wide ' + e.textContent.slice(0, 40));
    }
  }
  for (const e of document.querySelectorAll('.w-marks, .w-below, .w-foot, .w-buttons button, #w-place, #w-status')) {
    const r = e.getBoundingClientRect();
    if (r.width && (r.right > innerWidth || r.bottom > innerHeight || r.left < 0))
      out.push(n + ": " + e.className + e.id);
    if (r.width && e.scrollHeight > e.clientHeight + 2) out.push(n + ': high ' + e.className + e.id);
  }
  for (const e of shown[0].querySelectorAll('.w-card:not(.w-off) p, .w-line, .w-marks, .w-below, .w-protocol')) {
    const style = getComputedStyle(e);
    canvas.font = style.fontSize + ' ' + style.fontFamily;
    const capital = canvas.measureText('H').actualBoundingBoxAscent;
    if (e.closest('.w-small, .w-below, .w-protocol')) small = Math.min(small, capital);
    else least = Math.min(least, capital);
  }
  if (root.scrollHeight > innerHeight || root.scrollWidth > innerWidth) out.push(n + ': the page scrolls');
  document.getElementById('w-next').click();
}
const missed = [...document.querySelectorAll('.w-card[' + names + ']')].filter(card => !seen.has(card)).length;
if (missed) out.push(missed + ' cards never shown');
const buttons = [...document.querySelectorAll('button')].map(e => e.getBoundingClientRect());
return [out, least, small, Math.min(...buttons.map(r => Math.min(r.width, r.height))), count];
"""
"""Turns through all screenfuls: what does not fit, the least capital in pixels of what is read and of what accompanies
it, the least side of a button, and how many screenfuls there are."""

CONTRAST = """
const channel = v => (v /= 255) <= 0.04045 ? v / 12.92 : Math.pow((v + 0.055) / 1.055, 2.4);
const light = c => { const [r, g, b] = c.match(/[0-9.]+/g).map(Number);
  return 0.2126 * channel(r) + 0.7152 * channel(g) + 0.0722 * channel(b); };
const ground = e => { for (; e; e = e.parentElement) { const c = getComputedStyle(e).backgroundColor;
  if (!/, 0\\)$/.test(c) && c !== 'transparent') return c; } return 'rgb(255,255,255)'; };
const ratio = (a, b) => { const [x, y] = [light(a), light(b)].sort((p, q) => q - p); return (x + 0.05) / (y + 0.05); };
const probe = ratio('rgb(255,129,0)', 'rgb(100,0,58)');
return [probe, [...document.querySelectorAll('body *')].filter(e => e.offsetParent && [...e.childNodes].some(
  n => n.nodeType === 3 && n.nodeValue.trim())).map(e => [ratio(getComputedStyle(e).color, ground(e)), e.className])];
"""
"""The contrast of a published example, and of all text that is shown, by the formula of WCAG 2.2."""


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
