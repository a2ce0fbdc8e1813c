"""One page of every kind in Chromium: from a folder and over HTTP, enlarged, by keyboard, and in forced colours."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.site.browsing import Browser, away, browser
from tests.site.building import build_demo
from tests.site.contrast import colour, ratio
from tests.site.kinds import kinds_of
from tests.site.screening import served

pytestmark = pytest.mark.browser

MOST_STEPS = 60
"""How far the keyboard walks on a long page."""
LEAST_KINDS = 11


@dataclass(frozen=True)
class Visit:
    """A browser, and one page of each kind, both in a folder and behind a server on loopback."""

    chromium: Browser
    site: Path
    server: str
    kinds: dict[str, str]

    def each(self) -> Iterator[tuple[str, str]]:
        """Opens one page of each kind from the folder, and gives its kind and address."""
        for kind, address in self.kinds.items():
            self.chromium.open(self.site / address)
            yield kind, address


@pytest.fixture(scope="module")
def visit(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Visit]:
    site = build_demo(tmp_path_factory.mktemp("every") / "site")
    with browser() as chromium, served(site) as port:
        yield Visit(chromium, site, f"http://127.0.0.1:{port}/", kinds_of(site))


def test_there_are_pages_of_many_kinds(visit: Visit) -> None:
    assert len(visit.kinds) >= LEAST_KINDS
    assert {"home", "role", "team", "part", "problems", "hand-written", "screens-index"} <= set(visit.kinds)


def test_no_request_leaves_and_nothing_goes_wrong_from_a_folder(visit: Visit) -> None:
    visit.chromium.resize(1280)
    for kind, _ in visit.each():
        asked, errors = visit.chromium.logs()
        assert asked, kind
        assert [one for one in asked if not one.startswith(("file:", "data:", "blob:"))] == [], kind
        assert errors == [], kind
        language, headings, title = visit.chromium.run(
            "return [document.documentElement.lang, document.querySelectorAll('h1').length, document.title]"
        )
        assert language, kind
        assert headings == 1, kind
        assert title, kind


def test_no_request_leaves_and_nothing_goes_wrong_over_http(visit: Visit) -> None:
    visit.chromium.resize(1280)
    for kind, address in visit.kinds.items():
        visit.chromium.driver.get("about:blank")
        visit.chromium.logs()
        visit.chromium.driver.get(visit.server + address)
        asked, errors = visit.chromium.logs()
        assert visit.server + address in asked
        assert [one for one in away(asked) if not one.startswith(visit.server)] == [], kind
        assert errors == [], kind


def test_enlarged_pages_break_no_rule_of_accessibility_and_need_no_scrolling_sideways(visit: Visit) -> None:
    """1280 pixels at 200 % are 640 wide, at 400 % 320: success criteria 1.4.4 and 1.4.10 of WCAG 2.2."""
    visit.chromium.resize(640)
    for kind, _ in visit.each():
        assert visit.chromium.judge() == [], kind
        for width in (640, 320):
            visit.chromium.resize(width)
            assert visit.chromium.run("return document.scrollingElement.scrollWidth") <= width, kind
        visit.chromium.resize(640)


WALK = """
window.walked = []; window.unseen = [];
window.inside = document.querySelector('.sf-page') || document.querySelector('main') || document.body;
window.look = each => [each, each.parentElement, each.nextElementSibling, ...each.querySelectorAll('*')]
  .filter(Boolean).slice(0, 8).map(one => { const s = getComputedStyle(one);
  return [s.outlineStyle, s.outlineWidth, s.outlineColor, s.boxShadow, s.backgroundColor, s.borderColor, s.stroke,
    s.strokeWidth, s.color, s.textDecorationLine].join(); }).join(';');
var before = null, seen = null;
window.told = each => each.tagName + ' ' + (each.getAttribute('aria-label') || each.textContent || each.id).trim();
document.addEventListener('focusin', event => {
  if (before && inside.contains(before) && look(before) === seen) { unseen.push(told(before)); }
  before = event.target; seen = look(before); walked.push(before);
}, true);
"""
REACHABLE = """
const all = [...inside.querySelectorAll('a[href], button, input, select, textarea, summary, [tabindex="0"]')];
const open = all.filter(each => !each.disabled && each.tabIndex >= 0 && each.checkVisibility(
    {visibilityProperty: true, opacityProperty: false}) && each.getClientRects().length
  && (each.type !== 'radio' || each.checked || !document.querySelector('[name="' + each.name + '"]:checked')));
const last = walked.length >= arguments[0] ? walked[walked.length - 1] : null;
const due = last ? open.filter(each => last.compareDocumentPosition(each) & Node.DOCUMENT_POSITION_PRECEDING) : open;
return [due.filter(each => !walked.includes(each)).map(told), due.length, unseen];
"""


def press_tab(chromium: Browser) -> None:
    values = {"type": "rawKeyDown", "key": "Tab", "code": "Tab", "windowsVirtualKeyCode": 9}
    chromium.driver.execute_cdp_cmd("Input.dispatchKeyEvent", values)


def test_the_keyboard_reaches_all_and_is_seen_where_it_is(visit: Visit) -> None:
    """Tab by Tab, every visible link and button is reached, looks different while it has the focus, and is left."""
    visit.chromium.resize(1280)
    met = 0
    for kind, _ in visit.each():
        visit.chromium.run(WALK)
        for _ in range(MOST_STEPS):
            press_tab(visit.chromium)
        missed, count, unseen = visit.chromium.run(REACHABLE, MOST_STEPS)
        assert missed == [], kind
        assert unseen == [], kind
        met += count
    assert met > 150


TEXTS = """
const clear = value => value === 'transparent' || value === 'rgba(0, 0, 0, 0)';
const ground = each => { for (let at = each; at; at = at.parentElement) {
    const value = getComputedStyle(at).backgroundColor; if (!clear(value)) { return value; } }
  return 'rgb(255, 255, 255)'; };
return [...document.querySelectorAll('body *')].filter(each => !each.closest('svg') && each.checkVisibility(
    {visibilityProperty: true, opacityProperty: true}) && [...each.childNodes].some(
    one => one.nodeType === 3 && one.data.trim())).map(each =>
  [getComputedStyle(each).color, ground(each), each.textContent.trim().slice(0, 40)]);
"""
DRAWN = """
return [...document.querySelectorAll('svg.sf-level')].filter(each => each.getClientRects().length).map(each => {
  const s = getComputedStyle(each); return [s.color, s.fill, each.outerHTML.slice(0, 80)]; });
"""


def force(chromium: Browser, scheme: str) -> None:
    features = [{"name": "forced-colors", "value": "active"}, {"name": "prefers-color-scheme", "value": scheme}]
    chromium.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": features if scheme else []})


def test_forced_colours_leave_every_text_and_sign_readable(visit: Visit) -> None:
    """Also where the page was set to the opposite of what the machine wants."""
    grounds = {"light": ("slate", "rgb(255, 255, 255)"), "dark": ("default", "rgb(0, 0, 0)")}
    visit.chromium.resize(1280)
    signs = 0
    for kind, _ in visit.each():
        for scheme, (other, canvas) in grounds.items():
            force(visit.chromium, scheme)
            assert visit.chromium.run("return matchMedia('(forced-colors: active)').matches"), kind
            visit.chromium.run("document.body.setAttribute('data-md-color-scheme', arguments[0])", other)
            texts = visit.chromium.run(TEXTS)
            assert texts, kind
            weak = [said for ink, ground, said in texts if ratio(colour(ink), colour(ground)) < 4.5]
            drawn = visit.chromium.run(DRAWN)
            weak += [said for ink, _, said in drawn if ratio(colour(ink), colour(canvas)) < 3]
            assert weak == [], (kind, scheme)
            signs += len(drawn)
        force(visit.chromium, "")
    assert signs > 100
