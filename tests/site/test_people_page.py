"""The page on how few people can do each protocol: only if asked for, with reasons and links to their steps."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from stepfield.checks import Report
from stepfield.checks.staffing import staffing
from stepfield.pages import Site, build_site
from stepfield.pages.fewest import Names, fewest_of
from stepfield.pages.speech import speech
from stepfield.planning.slipping import Slipping
from stepfield.planning.teams import AtOnce, Judged, Late, Reason, Teams, Verdict
from tests.site.building import build_small, pages_of, write_set
from tests.site.small import Seen, checked, page, sample


def judged(report: Report) -> dict[str, Teams | str]:
    whole = report.facts.protocol_set
    return {one.id: staffing(one, whole, None) for one in whole.protocols}


@pytest.fixture(scope="module")
def site() -> Site:
    report = checked()
    return build_site(report, teams=judged(report))


def test_every_team_is_there_with_links_to_the_steps_it_fails_at(site: Site) -> None:
    html = page(site, "people.html").html
    text = " ".join(Seen(html).text.split())
    assert "The smallest team has" in text
    assert "no word on safety" in text
    targets = set(re.findall(r'href="(protocols/wrist\.html#[^"]+)"', html))
    assert targets
    ids = set(re.findall(r'\bid="([^"]+)"', page(site, "protocols/wrist.html").html))
    assert {target.partition("#")[2] for target in targets} <= ids


def test_the_ways_there_are_on_the_home_page_and_on_the_page_of_the_team(site: Site) -> None:
    assert 'href="people.html"' in page(site, "index.html").html
    assert 'href="../people.html#people_wrist"' in page(site, "protocols/wrist.html").html


def test_without_being_asked_there_is_no_such_page() -> None:
    plain = build_site(checked())
    assert "people.html" not in {one.address for one in plain.pages}
    assert not [one.address for one in plain.pages if "people.html" in one.html]


def test_what_cannot_be_judged_says_so() -> None:
    protocol = sample()
    protocol["phases"][0]["steps"][0]["after"] = ["nowhere-at-all"]
    report = checked({"wrist": protocol})
    html = page(build_site(report, teams=judged(report)), "people.html").html
    assert "must be mended first" in Seen(html).text


@pytest.mark.parametrize("asked", [True, False])
def test_the_setting_switches_the_page(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, asked: bool) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "home"))
    write_set(tmp_path)
    built = build_small(tmp_path, strict=True, plugin={"teams": asked})
    assert ("people.html" in pages_of(built)) is asked
    assert bool(list((tmp_path / "home").rglob("teams-*.json"))) is asked


NAMES = Names(speech("en"), str.title, str, str)
SLIP = Slipping("needs-not-met", "x.hands", "clean", "b", "a", "a", "x", "b", "y", ("a", "b"))


def told(*teams: Judged, **more: object) -> tuple[str, list[str]]:
    """The sentence on the smallest, and all else that is said of these teams."""
    values = {"foreseen": (), "all_scenarios": True, "unknown": 0, "solver": True, **more}
    found = fewest_of(Teams(("x", "y"), teams, **values), NAMES)  # type: ignore[arg-type]
    rows = [text for size in found.sizes for row in size.rows for text in (row.time, *row.told)]
    return found.smallest, [*rows, *found.notes]


def team(*verdicts: Verdict) -> Judged:
    return Judged((("x", "y"),), verdicts)


@pytest.mark.parametrize(
    ("verdict", "said"),
    [
        (Verdict({}, True, least=60.0, most=60.0, always=True), ["1 min", "Every order keeps asepsis."]),
        (Verdict({}, True, least=60.0, most=120.0, always=True),
         ["between 1 min and 2 min", "Every order keeps asepsis."]),
        (Verdict({}, True, least=4000.0), [
            "at least 1 h 7 min; no plan is known that keeps every time limit",
            "Not every order keeps asepsis: who does what first has to be agreed.",
        ]),
        (Verdict({}, None), ["", "More than 40,000 states: whether some order keeps asepsis was not found out."]),
        (Verdict({}, False, (AtOnce("lift", ("x", "y")),)),
         ["", "Step lift takes two of one person's roles at the same moment: X, Y."]),
        (Verdict({}, False, (Late(("a", "b")),)),
         ["", "Waits and time limits cannot all be kept; there are such in the steps a, b."]),
        (Verdict({}, False, (SLIP,)), [
            "",
            "Between step a (as X) and step b (as Y) one person would have to be clean and not.",
            "No order keeps asepsis. In the one that comes farthest: x.hands: not clean before step b.",
        ]),
    ],
)  # fmt: skip
def test_each_verdict_is_said(verdict: Verdict, said: list[str]) -> None:
    assert told(team(verdict))[1] == said


def test_a_scenario_is_named_where_only_that_one_fails() -> None:
    reason: Reason = AtOnce("lift", ("x", "y"))
    fails, works = Verdict({"way": "left"}, False, (reason,)), Verdict({"way": "right"}, True, least=1.0, most=1.0)
    assert "This is so with: way: left." in told(team(works, fails))[1]
    assert "This is so with: way: left." not in told(team(fails))[1]


def test_what_is_not_known_is_said() -> None:
    smallest, notes = told(
        Judged((("x", "y"),), (Verdict({}, None),)),
        Judged((("x",), ("y",)), (Verdict({}, True, least=1.0, most=2.0),)),
        foreseen=("a",), all_scenarios=False, unknown=1, solver=False,
    )  # fmt: skip
    assert smallest == "The smallest team has 2 people. Of some smaller teams it was not found out."
    assert notes[-4:] == [
        "Answers that change what is done are taken as known beforehand: steps a.",
        "1 step says no duration and counts as taking no time.",
        "There are more scenarios than were looked at; in the others it may be otherwise.",
        "Where two bounds stand for a time, the optional planner is not installed that narrows them.",
    ]
    assert told(Judged((("x", "y"),), (Verdict({}, False, (SLIP,)),)))[0] == "No team was found that can do it."
