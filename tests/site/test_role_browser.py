"""A role's page in Chromium: choices, countdowns, from step to step, with keys, on a phone, in odd cases."""

from __future__ import annotations

import copy
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from stepfield.asepsis import explore
from stepfield.asepsis.sharing import Settlings
from tests.site.browsing import Browser, away, browser
from tests.site.building import THEME, build_small, write_set
from tests.site.odd_roles import choosing, odd_set
from tests.site.screening import CLOCK, served
from tests.site.small import CLINIC, checked

pytestmark = pytest.mark.browser
PAGES = {
    "usual": "wrist/scrub.html",
    "two choices": "choosing/scrub.html",
    "no steps": "wrist/runner.html",
    "200 steps": "many/scrub.html",
    "long title": "long/circulating.html",
    "from the right": "arabic/scrub.html",
    "errors": "broken/scrub.html",
}


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with browser() as found:
        yield found


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("roles")
    clinic = copy.deepcopy(CLINIC)
    clinic["roles"]["runner"] = {"title": "Runner"}
    write_set(folder, odd_set(), clinic)
    return build_small(folder, theme={**THEME, "palette": {"scheme": "default"}}) / "protocols"


@pytest.fixture
def clock(chromium: Browser) -> Iterator[None]:
    """Pages opened meanwhile have a clock that stands still."""
    made = chromium.driver.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": CLOCK})
    yield
    chromium.driver.execute_cdp_cmd("Page.removeScriptToEvaluateOnNewDocument", made)
    chromium.run("sessionStorage.clear()")
    chromium.driver.get("about:blank")


def until(asked: Callable[[], Any], seconds: float = 10.0) -> Any:
    end = time.monotonic() + seconds
    while not (found := asked()) and time.monotonic() < end:
        time.sleep(0.05)
    return found


def visit(chromium: Browser, page: Path, search: str = "", *, width: int = 1280) -> None:
    chromium.resize(width)
    chromium.driver.get("about:blank")
    chromium.logs()
    chromium.driver.get(page.as_uri() + search)


def press(chromium: Browser, what: str) -> None:
    element = chromium.driver.find_element(By.CSS_SELECTOR, what)
    chromium.run("arguments[0].scrollIntoView({block: 'center'})", element)
    element.click()


def shown(chromium: Browser, what: str = ".sf-step") -> list[str]:
    """The ids of the steps that can be seen."""
    script = """return [...document.querySelectorAll(arguments[0])].filter(each => each.getClientRects().length)
        .map(each => each.id)"""
    return list(chromium.run(script, what))


def current(chromium: Browser) -> str:
    return str(chromium.run("return (document.querySelector('[aria-current=step]') || {id: ''}).id"))


@pytest.mark.parametrize(("kind", "width"), [*((kind, 390) for kind in PAGES), ("two choices", 1280), ("errors", 1280)])
def test_odd_pages_make_sense_are_accessible_and_ask_for_nothing(
    chromium: Browser, site: Path, kind: str, width: int
) -> None:
    visit(chromium, site / PAGES[kind], width=width)
    asked, errors = chromium.logs()
    assert away(asked) == []
    assert errors == []
    assert chromium.run("return document.scrollingElement.scrollWidth") <= width
    if kind != "200 steps":  # the same things 200 times over
        assert chromium.judge() == []


def done_with(site: Path, protocol: str) -> dict[tuple[str, ...], set[str]]:
    """For each settling of the choices looked at the steps that some order of it does, as the engine explored them."""
    report = checked(odd_set(), clinic={**CLINIC, "roles": {**CLINIC["roles"], "runner": {"title": "Runner"}}})
    one = report.facts.by_id[protocol]
    assert one.proof is not None
    found = explore(one.proof.graph, 20_000)
    assert found.complete
    settlings = Settlings(found)
    done: dict[tuple[str, ...], set[str]] = {}
    for combination in range(settlings.count):
        chosen = settlings.settled(combination)
        done[tuple(f"{name}={option}" for name, option in chosen.items())] = {
            one.protocol.steps[edge.step].id.value
            for node, edges in enumerate(found.edges)
            for edge in edges
            if settlings.along(node, edge) >> combination & 1
        }
    return done


@pytest.mark.parametrize("role", ["scrub", "surgeon"])
def test_with_choices_picked_the_steps_shown_are_those_the_engine_does(
    chromium: Browser, site: Path, role: str
) -> None:
    done = done_with(site, "choosing")
    assert len(done) == 6
    steps = checked({"choosing": choosing()}).facts.by_id["choosing"].protocol.steps
    own = [step.id.value for step in steps if role in {str(one) for one in (step.role, *step.helpers)}]
    page = site / "choosing" / f"{role}.html"
    seen = set()
    for chosen, ids in done.items():
        visit(chromium, page, "?" + "&".join(chosen))
        assert shown(chromium) == [step for step in own if step in ids]
        seen.add(tuple(shown(chromium)))
    assert len(seen) > 3
    visit(chromium, page)
    assert shown(chromium) == own


@pytest.mark.parametrize("way", ["folder", "server"])
def test_a_pick_is_in_the_address_and_goes_along_to_other_pages(chromium: Browser, site: Path, way: str) -> None:
    if way == "folder":
        pick_and_go_on(chromium, (site / "choosing" / "scrub.html").as_uri())
        return
    with served(site.parent) as port:
        pick_and_go_on(chromium, f"http://127.0.0.1:{port}/protocols/choosing/scrub.html")


def pick_and_go_on(chromium: Browser, address: str) -> None:
    chromium.resize(1280)
    chromium.logs()
    chromium.driver.get(address)
    whole = chromium.run("return document.querySelectorAll('.sf-step').length")
    press(chromium, "input[value=two]")
    press(chromium, "input[value=left]")
    assert chromium.driver.current_url.endswith("scrub.html?draping=two&side=left")
    text = chromium.run("return document.querySelector('.sf-matching').textContent")
    assert text == f"{len(shown(chromium))} of {whole} steps are shown."
    press(chromium, ".sf-others a[href*='surgeon.html']")
    assert chromium.driver.current_url.endswith("surgeon.html?draping=two&side=left")
    assert chromium.run("return document.querySelector('input[value=two]').checked")
    press(chromium, ".sf-others a[href*='/choosing.html']")
    assert chromium.driver.current_url.endswith("choosing.html?draping=two&side=left")
    press(chromium, ".sf-cell-who a[href*='scrub.html']")
    assert "scrub.html?draping=two&side=left" in chromium.driver.current_url
    press(chromium, "input[name=draping][value='']")
    assert "?side=left" in chromium.driver.current_url
    assert chromium.logs()[1] == []


def test_steps_under_an_open_question_stay_with_their_condition(chromium: Browser, site: Path) -> None:
    visit(chromium, site / "choosing" / "scrub.html", "?side=right")
    assert "more-4" in shown(chromium)
    only = chromium.run("return document.getElementById('more-4').querySelector('.sf-only').innerText")
    assert only.startswith("Only if")
    visit(chromium, site / "choosing" / "scrub.html", "?side=left")
    assert "more-4" not in shown(chromium)


def test_a_phase_left_without_steps_says_so_and_hand_overs_follow_the_choice(chromium: Browser, site: Path) -> None:
    visit(chromium, site / "choosing" / "scrub.html", "?side=right")
    idle = chromium.driver.find_elements(By.CSS_SELECTOR, ".sf-phase .sf-idle")
    assert [each.text for each in idle if each.is_displayed()] == [
        "With these choices there is nothing for you to do in this phase."
    ]
    arrivals = "return [...document.querySelectorAll('.sf-arrival')].filter(one => one.getClientRects().length).length"
    assert chromium.run(arrivals) == 0
    visit(chromium, site / "choosing" / "scrub.html", "?side=both")
    assert chromium.run(arrivals) == 1


@pytest.mark.parametrize("search", ["?side=nowhere&x=%3Cb%3E", "?__proto__=left&side", "?side=%zz&draping"])
def test_an_address_that_makes_no_sense_changes_nothing(chromium: Browser, site: Path, search: str) -> None:
    visit(chromium, site / "choosing" / "scrub.html", search)
    assert len(shown(chromium)) == chromium.run("return document.querySelectorAll('.sf-step').length")
    assert chromium.logs()[1] == []


def test_a_link_to_a_step_shows_it_whatever_the_choices(chromium: Browser, site: Path) -> None:
    visit(chromium, site / "choosing" / "scrub.html", "?draping=two&side=right#left-only")
    assert "left-only" in shown(chromium)
    assert current(chromium) == "left-only"
    assert chromium.driver.current_url.endswith("?draping=two#left-only")


def timer(chromium: Browser, step: str) -> list[Any]:
    """Whether a step's timer can be started, what it shows, whether it is over, what it said, and the tab's title."""
    script = """const box = document.getElementById(arguments[0]).querySelector('.sf-timer');
        const seen = name => box.querySelector(name).getClientRects().length > 0;
        return [seen('.sf-timer-go'), seen('.sf-timer-run') ? box.querySelector('.sf-timer-left').textContent : null,
            seen('.sf-timer-over'), box.querySelector('.sf-timer-said').textContent, document.title]"""
    return list(chromium.run(script, step))


@pytest.mark.usefixtures("clock")
def test_a_countdown_runs_by_the_clock_and_tells_its_end(chromium: Browser, site: Path) -> None:
    visit(chromium, site / "wrist" / "scrub.html")
    title = chromium.driver.title
    press(chromium, "[id='rub'] .sf-timer-go")
    assert timer(chromium, "rub") == [False, "0:20", False, "Countdown started: 0:20.", f"⏳ 0:20 {title}"]
    chromium.run("advance(4)")
    assert timer(chromium, "rub")[:4] == [False, "0:16", False, "Countdown started: 0:20."]
    chromium.run("advance(6)")
    assert timer(chromium, "rub")[:4] == [False, "0:10", False, "Half of the time is over: 0:10 left."]
    chromium.run("advance(9.7)")
    assert timer(chromium, "rub")[1] == "0:01"
    chromium.run("advance(0.5)")
    assert timer(chromium, "rub") == [False, None, True, "Time is up: step 5.", f"⏰ Time is up: step 5. {title}"]
    press(chromium, "[id='rub'] .sf-timer-clear")
    assert timer(chromium, "rub") == [True, None, False, "", title]


@pytest.mark.usefixtures("clock")
def test_a_tab_that_slept_shows_the_right_time_when_it_wakes(chromium: Browser, site: Path) -> None:
    """No tick comes while the clock goes on: what counts is the clock."""
    visit(chromium, site / "wrist" / "scrub.html")
    press(chromium, "[id='rub'] .sf-timer-go")
    chromium.run(
        "const now = Date.now(); Date.now = () => now + 13000; document.dispatchEvent(new Event('visibilitychange'))"
    )
    assert timer(chromium, "rub")[1] == "0:07"
    chromium.run(
        "const now = Date.now(); Date.now = () => now + 8000; document.dispatchEvent(new Event('visibilitychange'))"
    )
    assert timer(chromium, "rub")[2]


@pytest.mark.usefixtures("clock")
def test_a_clock_set_back_never_ends_a_countdown_early(chromium: Browser, site: Path) -> None:
    visit(chromium, site / "wrist" / "scrub.html")
    press(chromium, "[id='rub'] .sf-timer-go")
    chromium.run("const real = Date.now; Date.now = () => real() - 3600000; advance(10)")
    assert timer(chromium, "rub")[1] == "0:11"
    chromium.run("advance(12)")
    assert timer(chromium, "rub")[2]


@pytest.mark.usefixtures("clock")
def test_a_countdown_can_be_stopped_and_survives_a_reload(chromium: Browser, site: Path) -> None:
    visit(chromium, site / "wrist" / "scrub.html")
    press(chromium, "[id='rub'] .sf-timer-go")
    chromium.run("advance(5)")
    assert timer(chromium, "rub")[1] == "0:15"
    chromium.driver.refresh()
    left = timer(chromium, "rub")[1]  # the clock of the new page starts at the real time
    assert left in ("0:19", "0:20", "0:18", "0:17")
    press(chromium, "[id='rub'] .sf-timer-stop")
    assert timer(chromium, "rub")[:4] == [True, None, False, "Countdown stopped."]
    chromium.driver.refresh()
    assert timer(chromium, "rub")[:3] == [True, None, False]


@pytest.mark.usefixtures("clock")
def test_the_end_is_heard_and_a_stopped_countdown_is_not(chromium: Browser, site: Path) -> None:
    """The tones are planned on the sound's own clock, so that a slowed-down tab is heard in time."""
    visit(chromium, site / "wrist" / "scrub.html")
    chromium.run("""window.tones = [];
        for (const name of ['start', 'stop']) {
            const real = OscillatorNode.prototype[name];
            OscillatorNode.prototype[name] = function (at) { tones.push([name, at, this.context.currentTime]);
                return real.apply(this, arguments); };
        }""")
    assert chromium.run("return tones.length") == 0
    press(chromium, "[id='rub'] .sf-timer-go")
    starts = [at - now for name, at, now in chromium.run("return tones") if name == "start"]
    assert len(starts) == 6
    assert min(starts) == pytest.approx(20, abs=0.5)
    press(chromium, "[id='rub'] .sf-timer-stop")
    assert len([name for name, at, _ in chromium.run("return tones") if name == "stop" and at is None]) == 6


def test_a_running_countdown_and_one_that_is_over_are_accessible(chromium: Browser, site: Path) -> None:
    visit(chromium, site / "wrist" / "scrub.html")
    press(chromium, "[id='rub'] .sf-timer-go")
    assert timer(chromium, "rub")[1] in ("0:20", "0:19")
    assert chromium.judge() == []
    name = chromium.run("return Object.keys(sessionStorage).find(name => name.startsWith('stepfield-timer'))")
    chromium.run("sessionStorage.setItem(arguments[0], JSON.stringify({end: Date.now() - 5, seconds: 20}))", name)
    chromium.driver.refresh()
    assert timer(chromium, "rub")[2]
    assert chromium.judge() == []
    chromium.run("sessionStorage.clear()")


def keys(chromium: Browser, *which: str) -> None:
    chromium.driver.switch_to.active_element.send_keys(*which)


def test_keys_lead_from_step_to_step_and_one_at_a_time(chromium: Browser, site: Path) -> None:
    visit(chromium, site / "wrist" / "scrub.html")
    chromium.run("sessionStorage.clear()")
    steps = shown(chromium)
    keys(chromium, Keys.ARROW_RIGHT)
    assert current(chromium) == steps[0]
    for _ in steps[1:]:
        keys(chromium, Keys.ARROW_RIGHT)
    assert current(chromium) == steps[-1]
    keys(chromium, Keys.ARROW_RIGHT)
    assert current(chromium) == steps[-1]
    assert chromium.run("return document.activeElement.id") == steps[-1]
    keys(chromium, Keys.ARROW_LEFT)
    assert current(chromium) == steps[-2]
    assert chromium.driver.current_url.endswith(f"#{steps[-2]}")
    press(chromium, ".sf-walk-one")
    assert shown(chromium) == [steps[-2]]
    assert chromium.judge() == []
    keys(chromium, Keys.HOME)
    assert shown(chromium) == [steps[0]]
    place = chromium.run("return document.querySelector('.sf-walk-place').textContent")
    assert place == f"Step 5: 1 of {len(steps)}"
    chromium.driver.refresh()
    assert shown(chromium) == [steps[0]]
    keys(chromium, Keys.ESCAPE)
    assert shown(chromium) == steps


def test_big_buttons_do_the_same_on_a_phone(chromium: Browser, site: Path) -> None:
    visit(chromium, site / "wrist" / "surgeon.html", width=390)
    chromium.run("sessionStorage.clear()")
    sizes = chromium.run(
        """return [...document.querySelectorAll('.sf-press, .sf-choices label')].filter(e => e.getClientRects().length)
        .map(e => [e.getBoundingClientRect().width, e.getBoundingClientRect().height])"""
    )
    assert len(sizes) > 3
    assert all(wide >= 44 and high >= 44 for wide, high in sizes)
    press(chromium, ".sf-walk-one")
    entries = "ol.sf-steps > li"
    seen = []
    while chromium.driver.find_element(By.CSS_SELECTOR, ".sf-walk-on").is_enabled():
        seen += [chromium.run("return document.querySelector('[aria-current=step]').dataset.number")]
        press(chromium, ".sf-walk-on")
    seen += [chromium.run("return document.querySelector('[aria-current=step]').dataset.number")]
    assert seen == chromium.run(
        "return [...document.querySelectorAll(arguments[0])].map(e => e.dataset.number)", entries
    )
    standing = chromium.driver.find_element(By.CSS_SELECTOR, ".sf-foot")
    assert standing.is_displayed()
    assert chromium.driver.find_element(By.CSS_SELECTOR, ".sf-mark-draft").is_displayed()
    press(chromium, ".sf-walk-one")
    assert len(shown(chromium)) > 1


def test_the_focus_is_not_hidden_under_the_bar(chromium: Browser, site: Path) -> None:
    visit(chromium, site / "wrist" / "scrub.html", width=390)
    script = """const now = document.activeElement, box = now.getBoundingClientRect();
        const bar = document.querySelector('.sf-walk').getBoundingClientRect();
        const head = document.querySelector('.md-header').getBoundingClientRect();
        if (!now.closest('.sf-page') || now.closest('.sf-walk')) { return null; }
        return box.top < bar.top - 20 && box.bottom > head.bottom"""
    seen = []
    for _ in range(60):
        keys(chromium, Keys.TAB)
        seen.append(chromium.run(script))
    assert seen.count(True) > 20
    assert False not in seen


def test_without_scripts_all_steps_stand_there_and_nothing_that_would_not_work(chromium: Browser, site: Path) -> None:
    chromium.driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
    try:
        chromium.resize(390)
        chromium.driver.get((site / "choosing" / "scrub.html").as_uri() + "?side=left")
        steps = chromium.driver.find_elements(By.CSS_SELECTOR, ".sf-step")
        assert len(steps) > 8
        assert all(step.is_displayed() for step in steps)
        assert not [
            one for one in chromium.driver.find_elements(By.CSS_SELECTOR, "button.sf-press") if one.is_displayed()
        ]
        assert not chromium.driver.find_element(By.CSS_SELECTOR, ".sf-choices").is_displayed()
        assert "Only if Side: Left or Both" in chromium.driver.find_element(By.ID, "more-1").text
    finally:
        chromium.driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": False})


def test_paper_says_which_choices_it_is_for(chromium: Browser, site: Path) -> None:
    chromium.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    try:
        visit(chromium, site / "choosing" / "scrub.html", "?side=left")
        labels = [
            one for one in chromium.driver.find_elements(By.CSS_SELECTOR, ".sf-choices label") if one.is_displayed()
        ]
        assert [one.text for one in labels] == ["Not settled: show all", "Left"]
        assert not chromium.driver.find_element(By.CSS_SELECTOR, ".sf-walk").is_displayed()
        visit(chromium, site / "choosing" / "scrub.html")
        assert not chromium.driver.find_element(By.CSS_SELECTOR, ".sf-choices").is_displayed()
    finally:
        chromium.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
