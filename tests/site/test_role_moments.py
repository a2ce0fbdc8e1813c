"""The moment of each step on a role's page: whose steps, how one stands, what may be touched, what is timed."""

from __future__ import annotations

import datetime
import itertools
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from stepfield.asepsis import explore
from stepfield.asepsis.queries import Before, Person, before_step
from stepfield.checks import Report, check_set
from stepfield.language import build_set, read_set
from stepfield.language.model import Level, Protocol
from stepfield.pages import Site, build_site
from stepfield.pages.addresses import Links, part_page
from stepfield.pages.hands import Hands
from stepfield.pages.moment import MOST_NEAR, Group, Moment, Touch, moments, when_of
from stepfield.pages.reading import Reading
from stepfield.pages.speech import speech
from stepfield.pages.states import state_of
from stepfield.pages.timing import timers_of
from stepfield.pages.touch import moments_of
from tests.large.making import large_set
from tests.oracle.small_protocols import small_protocols
from tests.site.small import CLINIC, TODAY, Seen, checked, drawn, page, reading, sample
from tests.site.test_team import long_lane

ROOT = Path(__file__).parents[2]
MOST_BYTES = 270_000
"""A page of 300 KB less what the theme adds to it."""


@pytest.fixture(scope="module")
def demo() -> Report:
    return check_set(read_set(ROOT / "protocols", "protocols"), datetime.date(2026, 11, 2))


@pytest.fixture(scope="module")
def made_up() -> Report:
    return check_set(build_set(large_set(2)), TODAY)


def moments_on(found: Reading, role: str) -> dict[int, Moment]:
    return moments(found, Links(part_page(found.protocol.id, role)), role, certain=True, rest=True)


def own_steps(protocol: Protocol, role: str) -> list[str]:
    """The steps of a role, from the model alone."""
    return [
        step.id.value
        for step in protocol.steps
        if role in {str(person) for person in (step.role, *step.helpers) if person is not None}
    ]


def check_steps(report: Report, site: Site) -> int:
    """Every role's page has the role's steps and no other's; gives how many pages were looked at."""
    count = 0
    for protocol in report.facts.protocol_set.protocols:
        numbers = {str(number): step for number, step in enumerate(protocol.steps, start=1)}
        for role in dict.fromkeys(one.value for one in protocol.team):
            seen = Seen(page(site, part_page(protocol.id, role)).html)
            shown = [numbers[str(one["data-number"])].id.value for one in seen.with_class("sf-step")]
            assert shown == own_steps(protocol, role)
            for arrival in seen.with_class("sf-arrival"):
                step = numbers[str(arrival["data-number"])]
                targets = {str(effect.target) for effect in step.effects if effect.field == "passes"}
                worn = {effect.thing.value.rpartition(".")[0] for effect in step.effects if effect.field == "covers"}
                assert role in targets | worn
            count += 1
    return count


def test_every_page_has_the_steps_of_its_role_and_no_others(demo: Report, made_up: Report) -> None:
    assert check_steps(demo, build_site(demo)) == 7
    assert check_steps(made_up, build_site(made_up)) == 8


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(small_protocols())
def test_of_any_protocol_every_page_has_the_steps_of_its_role(case: dict[str, Any]) -> None:
    report = checked({"wrist": case["protocol"], "evidence": case["evidence"]}, clinic=case["clinic"])
    check_steps(report, build_site(report))


def people_at(report: Report) -> Iterator[tuple[Reading, int, str, Before, Person]]:
    """Every step and every role that takes part in it, with the engine's answer to how it stands just before."""
    for one in report.facts.examined:
        found = Reading(one, report.facts)
        assert one.proof is not None
        explored = explore(one.proof.graph, 20_000)
        for number, step in enumerate(found.steps):
            before = before_step(explored, number)
            for person in before.people:
                if person.role in found.people(step):
                    yield found, number, person.role, before, person


def test_states_are_those_of_the_engine_before_and_after(demo: Report) -> None:
    count = 0
    for found, number, role, _, person in people_at(demo):
        assert found.moments is not None
        hands, body, _ = person.parts
        for told, part in ((hands, "hands"), (body, "body")):
            seen = found.moments.part(number, role, part)
            assert seen is not None
            assert (seen.level, seen.varies, seen.soiled) == (told.level, told.level != told.highest, told.soiled)
            assert (seen.covered == "no") == (told.coverings == (None,))
            after = found.moments.part(number, role, part, after=True)
            subject = found.moments.graph.parts[role, part]
            assert after is not None
            assert after.level == min(found.moments.found.levels(number, subject, after=True))
        moment = moments_on(found, role)[number + 1] if number % 7 == 0 else None
        if moment is not None:
            assert moment.before[0].level == hands.level.word
            count += 1
    assert count > 20


def titles(groups: tuple[Group, ...]) -> set[str]:
    return {thing for group in groups for thing in group.things}


def test_lists_are_those_of_the_engine_and_nothing_is_called_safe_that_is_not(demo: Report) -> None:
    told_of: dict[tuple[str, str], dict[int, Moment]] = {}
    count = 0
    for found, number, role, before, person in people_at(demo):
        name = found.protocol.id, role
        if name not in told_of:
            told_of[name] = moments_on(found, role)
        moment = told_of[name][number + 1]
        touch = moment.touch
        assert touch is not None
        safe = {thing for thing in person.safe if thing not in person.less_clean}
        own = f"{role}."
        named = {thing: found.thing(thing) for thing in person.safe if not thing.startswith(own)}
        refused = {found.thing(one.thing) for one in person.not_now if not one.thing.startswith(own)}
        called_safe = titles(touch.safe) | titles(touch.more_safe)
        assert not called_safe & refused
        allowed = {named[thing] for thing in safe if thing in named and thing not in before.in_place}
        allowed -= set(touch.deed)
        if moment.before[0].scrubbed:
            assert not called_safe
            assert allowed <= titles(touch.not_now) | titles(touch.more_not)
        else:
            assert {title for title in called_safe if not title.startswith("your own")} == allowed
        assert sum(len(group.things) for group in (*touch.safe, *touch.not_now)) <= 2 * MOST_NEAR
        count += 1
    assert count > 150


def moment_at(step: str, role: str, report: Report | None = None) -> Moment:
    found = reading(report or checked())
    return moments_on(found, role)[found.index[step] + 1]


def one_phase(*steps: dict[str, Any]) -> Report:
    return checked({"wrist": sample(phases=[{"phase": "p", "title": "P", "steps": list(steps)}])})


def step(name: str, **more: Any) -> dict[str, Any]:
    return {"id": name, "role": "scrub", "do": "Do it.", **more}


WASH = step("wash", makes={"scrub.hands": "clean"})
RUB = step("rub", makes={"scrub.hands": "disinfected"})
WAIT = step("wait")
GLOVE = step("glove", dons=["gloves"])
LIFT = step("lift", touches=["swab"])


def test_scrubbed_hands_touch_nothing_before_the_gloves_are_on() -> None:
    report = one_phase(RUB, WAIT, GLOVE, LIFT)
    (state,) = moment_at("wait", "scrub", report).before
    assert (state.level, state.words) == ("disinfected", "Hands scrubbed")
    assert state.advice == "Keep them up, touch nothing but what the step puts into them."
    touch = moment_at("wait", "scrub", report).touch
    assert touch is not None
    assert (touch.safe, touch.more_safe) == ((), ())
    assert moment_at("glove", "scrub", report).after[0].words == "Sterile gloves"


def test_disinfected_hands_that_get_no_gloves_are_not_called_scrubbed() -> None:
    for steps in ((RUB, WAIT), (RUB, WAIT, WASH, GLOVE)):
        (state,) = moment_at("wait", "scrub", one_phase(*steps)).before
        assert state.words == "Disinfected hands"


def test_with_sterile_gloves_only_what_is_sterile_is_safe() -> None:
    touch = moment_at("wait", "scrub", one_phase(RUB, GLOVE, WAIT, LIFT)).touch
    assert touch is not None
    assert [(group.say, group.things) for group in touch.safe] == [("", ("Swab",))]
    assert "Prep trolley" in titles(touch.more_not)
    lift = moment_at("lift", "scrub", one_phase(RUB, GLOVE, WAIT, LIFT)).touch
    assert lift is not None
    assert lift.deed == ("Swab",)


def not_now(touch: Touch | None) -> dict[str, set[str]]:
    """All that must not be touched, by what is said of it."""
    assert touch is not None
    told: dict[str, set[str]] = {}
    for group in (*touch.not_now, *touch.more_not):
        told.setdefault(group.say, set()).update(group.things)
    return told


def test_a_reason_stands_beside_what_must_not_be_touched() -> None:
    report = one_phase(WASH, WAIT, LIFT, step("open", opens=["pack"]), GLOVE)
    told = not_now(moment_at("wait", "scrub", report).touch)
    assert "Swab" in told["Would no longer be sterile"]
    assert told["Still in its pack"] == {"Table cover"}
    assert "Prep trolley" in told["Would make your hands less clean"]


def test_what_would_get_less_clean_is_not_called_safe() -> None:
    wipe = step("wipe", makes={"trolley": "disinfected"})
    told = not_now(moment_at("wait", "scrub", one_phase(wipe, WASH, WAIT)).touch)
    assert told["Would be less clean afterwards"] == {"Prep trolley"}


@pytest.mark.parametrize(
    ("part", "seen", "words"),
    [
        ("hands", Hands(Level.CLEAN, True, "no", False, "no"), "Hands: at least clean"),
        ("hands", Hands(Level.CLEAN, False, "maybe", True, "maybe"), "Hands or gloves: clean, perhaps soiled"),
        ("hands", Hands(Level.STERILE, False, "yes", True, "yes"), "Sterile gloves, soiled"),
        ("hands", Hands(Level.STERILE, False, "yes", False, "no"), "Covered hands: sterile"),
        ("body", Hands(Level.STERILE, False, "yes", True, "no"), "Sterile gown"),
        ("body", Hands(Level.CLEAN, False, "no", False, "no"), "Clothes: clean"),
    ],
)  # fmt: skip
def test_a_state_in_words(part: str, seen: Hands, words: str) -> None:
    assert state_of(speech("en"), part, seen).words == words


def test_every_state_has_its_words() -> None:
    for part, level, flags in itertools.product(("hands", "body"), Level, itertools.product((False, True), repeat=2)):
        for covered, soiled in itertools.product(("no", "maybe", "yes"), repeat=2):
            if level is Level.STERILE and flags[0]:
                continue  # nothing is better than sterile
            assert state_of(speech("en"), part, Hands(level, flags[0], covered, flags[1], soiled), scrubbed=True).words


def times(name: str, role: str, report: Report) -> list[tuple[str, float, bool]]:
    found = reading(report)
    return [(timer.key, timer.seconds, timer.plain) for timer in timers_of(found, found.index[name], role)]


def test_least_times_are_counted_down() -> None:
    report = checked()
    assert times("wipe", "circulating", report) == [("wipe", 120, True)]
    assert times("press", "surgeon", report) == [("press paint", 180, False)]
    assert times("paint", "scrub", report) == []
    assert times("glove", "scrub", report) == []


def test_a_wait_can_be_started_where_it_begins_if_it_is_ones_own() -> None:
    dry = step("dry", waits=[{"for": "rub", "at_least": "30 s"}])
    report = one_phase(RUB, dry)
    assert times("rub", "scrub", report) == times("dry", "scrub", report) == [("dry rub", 30, False)]


def test_a_limit_of_a_requirement_counts_unless_a_wait_keeps_it() -> None:
    evidence = {"requirements": {"long": {"text": "Long.", "source": "invented", "limit": {"at_least": "2 min"}}}}
    rub = {**RUB, "meets": ["long"], "takes": {"least": "150 s", "likely": "3 min", "most": "4 min"}}
    dry = step("dry", waits=[{"for": "rub", "at_least": "2 min"}])

    def report(*steps: dict[str, Any]) -> Report:
        phases = [{"phase": "p", "title": "P", "steps": list(steps)}]
        return checked({"wrist": sample(phases=phases), "evidence": evidence})

    assert times("rub", "scrub", report(rub)) == [("rub", 150, False)]
    assert times("rub", "scrub", report({**rub, "takes": "1 min"})) == [("rub", 120, False)]
    assert times("rub", "scrub", report({**rub, "takes": "1 min"}, dry)) == [("rub", 60, True), ("dry rub", 120, False)]


def test_the_scrub_of_the_demonstration_set_is_timed(demo: Report) -> None:
    found = reading(demo, "wrist-release")
    (timer,) = timers_of(found, found.index["scrub-scrub.scrub"], "scrub")
    assert (timer.seconds, timer.plain, timer.say) == (300, False, "This step takes at least 5 min.")


def test_conditions_on_choices_are_told_to_the_script_and_those_on_answers_are_not() -> None:
    found = reading(checked())
    assert when_of(found, found.steps[found.index["second"]].when) == "draping=two"
    ask = step("ask", asks={"question": "Well?", "answers": ["yes", "other"]})
    report = one_phase(ask, step("go", when={"ask": "yes", "draping": ["one", "two"]}))
    assert moment_at("go", "scrub", report).when == "draping=one|two"


def test_sources_stand_at_the_foot_with_their_steps(demo: Report) -> None:
    html = page(build_site(demo), "protocols/wrist-release/scrub.html").html
    foot = html[html.index('id="sf_sources"') :]
    assert "Scrubb" in foot or "scrub" in foot
    assert '<a href="#scrub-scrub.scrub">15</a>' in foot
    seen = Seen(html)
    links = {attrs.get("href") for tag, attrs in seen.tags if tag == "a"}
    places = {f"#{place}" for place in seen.ids if place.startswith("source_")}
    assert len(places) > 10
    assert places <= links


def test_a_protocol_with_errors_calls_nothing_safe() -> None:
    broken = sample()
    del broken["phases"][0]["steps"][5]["after"]
    report = checked({"wrist": broken})
    seen = Seen(drawn("protocols/wrist/scrub.html", report))
    assert "Errors were found: how you stand and what you may touch is not shown" in seen.text
    assert not seen.with_class("sf-touch")
    assert not seen.with_class("sf-stand")
    assert Seen(drawn("protocols/wrist/scrub.html")).with_class("sf-touch")


def test_too_many_orders_are_said_and_never_guessed() -> None:
    proof = reading(checked()).examined.proof
    assert moments_of(proof, 5) is None
    assert moments_of(None) is None
    assert moments_of(proof) is not None
    lanes = [
        step(f"{role}-{number}", role=role) for number in range(40) for role in ("scrub", "surgeon", "circulating")
    ]
    text = Seen(drawn("protocols/wrist/scrub.html", one_phase(*lanes))).text
    assert "What is safe to touch is not shown" in text
    assert "Contaminated hands" in text


def test_a_role_without_steps_is_told_so() -> None:
    clinic = {**CLINIC, "roles": {**CLINIC["roles"], "runner": {"title": "Runner"}}}
    report = checked({"wrist": sample(team=["surgeon", "scrub", "circulating", "runner"])}, clinic=clinic)
    seen = Seen(drawn("protocols/wrist/runner.html", report))
    assert "No step of this protocol is yours." in seen.text
    assert not seen.with_class("sf-choices")
    assert not seen.with_class("sf-walk")


def test_two_hundred_steps_of_one_role_make_no_heavy_page() -> None:
    html = drawn("protocols/wrist/scrub.html", checked({"wrist": long_lane(200)}))
    assert len(Seen(html).with_class("sf-step")) == 200
    assert len(html.encode()) < MOST_BYTES
