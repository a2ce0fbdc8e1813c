"""A role's page: its own steps in order and no others, with what each waits for, warns of and leads to."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest

from stepfield.checks import Report, check_set
from stepfield.language import read_set
from stepfield.language.model import Level
from stepfield.pages import Page, build_site
from stepfield.pages.addresses import Links, part_page
from stepfield.pages.hands import Hands
from stepfield.pages.speech import speech
from stepfield.pages.states import in_brief
from stepfield.pages.steps import phase_views, step_view
from stepfield.pages.views import StepView
from tests.site.small import CLINIC, Seen, checked, drawn, page, reading, sample

ROOT = Path(__file__).parents[2]


def view(step: str, role: str | None, report: Report | None = None) -> StepView:
    found = reading(report or checked())
    address = part_page("wrist", role) if role else "protocols/wrist.html"
    return step_view(found, found.index[step], Links(address), role)


@pytest.fixture(scope="module")
def demo() -> tuple[Report, dict[str, Page]]:
    report = check_set(read_set(ROOT / "protocols", "protocols"), datetime.date(2026, 11, 2))
    return report, {one.address: one for one in build_site(report).pages}


def test_every_page_of_a_role_has_exactly_its_steps_in_their_order(demo: tuple[Report, dict[str, Page]]) -> None:
    report, pages = demo
    count = 0
    for protocol in report.facts.protocol_set.protocols:
        for role in (one.value for one in protocol.team):
            own = [
                step.id.value
                for step in protocol.steps
                if step.role is not None and role in (step.role.value, *(helper.value for helper in step.helpers))
            ]
            seen = Seen(pages[part_page(protocol.id, role)].html)
            assert [one.get("id") for one in seen.with_class("sf-step")] == own
            count += len(own)
    assert count > 100


def test_every_step_of_a_protocol_has_its_place_on_the_whole_teams_page(demo: tuple[Report, dict[str, Page]]) -> None:
    report, pages = demo
    for protocol in report.facts.protocol_set.protocols:
        html = pages[f"protocols/{protocol.id}.html"].html
        assert [tag[1]["id"] for tag in Seen(html).tags if tag[0] == "h3"] == [step.id.value for step in protocol.steps]


def test_a_step_one_only_takes_part_in_says_whose_it_is() -> None:
    assert view("pause", "surgeon").is_own
    assert view("pause", "surgeon").helpers == ("Circulating nurse",)
    assert not view("pause", "circulating").is_own
    assert view("pause", "circulating").owner == "Surgeon"
    assert "Together with: Surgeon (whose step it is)" in Seen(drawn("protocols/wrist/circulating.html")).text


def test_what_a_step_waits_for_is_said_in_words_on_both_sides() -> None:
    (wait,) = view("cover", "scrub").waits
    assert (wait.who, wait.done) == ("circulating nurse", "opened the hand pack")
    assert wait.href == "../wrist.html#open"
    assert (
        "Wait until the circulating nurse has opened the hand pack ." in Seen(drawn("protocols/wrist/scrub.html")).text
    )
    assert view("open", "circulating").waited_by == ("Scrub nurse",)
    assert "Waiting for you: Scrub nurse" in Seen(drawn("protocols/wrist/circulating.html")).text


def test_a_step_that_can_not_be_put_in_words_is_quoted() -> None:
    (wait,) = view("dress-hands", "scrub").waits
    assert wait.done is None
    assert "Wait for the surgeon to finish step 8 : Wash ." in Seen(drawn("protocols/wrist/scrub.html")).text


def test_cautions_stand_before_what_they_warn_of() -> None:
    html = drawn("protocols/wrist/scrub.html")
    assert html.index("Mind the drip.") < html.index("Hand over the swab.")
    assert html.index("Disinfectant hurts the eyes.") < html.index(
        'id="check.fetch"' if "check.fetch" in html else 'id="rub"'
    )
    assert "Splash" in Seen(html).text


def test_a_phases_caution_stands_on_the_pages_of_those_who_do_something_in_it() -> None:
    report = checked({"wrist": sample(team=["surgeon", "scrub", "circulating"])})
    found = reading(report)
    for role in ("surgeon", "scrub", "circulating"):
        room = phase_views(found, Links(part_page("wrist", role)), role)[0]
        assert [caution.text for caution in room.cautions] == ["Disinfectant hurts the eyes."]


def test_conditions_stand_in_words() -> None:
    assert view("second", "scrub").only_if == ("Draping: Two split sheets",)
    assert "Only if Draping: Two split sheets" in Seen(drawn("protocols/wrist/scrub.html")).text


def test_questions_say_what_follows_from_each_answer() -> None:
    asked = view("check.look", "circulating").asked
    assert asked is not None
    assert [answer.text for answer in asked.answers] == ["whole", "damaged"]
    whole, damaged = asked.answers
    assert whole.back is None
    assert damaged.back is not None
    assert damaged.back.href == "#check.fetch"
    assert damaged.back.text.startswith("1: Fetch the pack")


def test_an_answer_leads_to_the_steps_that_depend_on_it() -> None:
    ask = {"question": "Allergic?", "answers": ["yes", "none"]}
    steps = [
        {"id": "ask", "role": "surgeon", "do": "Ask.", "asks": ask},
        {"id": "other", "role": "surgeon", "when": {"ask": "none"}, "do": "Take the usual one."},
    ]
    report = checked({"wrist": sample(phases=[{"phase": "p", "title": "P", "steps": steps}])})
    asked = view("ask", "surgeon", report).asked
    assert asked is not None
    assert [[link.href for link in answer.leads] for answer in asked.answers] == [[], ["#other"]]
    assert view("other", "surgeon", report).only_if == ("step 1 is answered: none",)


def test_times_records_and_facts() -> None:
    assert view("wipe", "circulating").takes == "2 min to 5 min, usually 3 min"
    assert view("press", "surgeon").bounds == (
        "Not before 3 min after step 10 (Paint the palm).",
        "Done within 1 h after step 4 (Open the hand pack, far corner first).",
    )
    assert view("check.look", "circulating").records == ("Hand pack: lot",)
    assert view("pause", "surgeon").requires == ("painted",)
    assert view("paint", "scrub").confirms == ("painted",)


def test_hand_overs_are_told_to_both() -> None:
    (given,) = view("give-swab", "scrub").hand_overs
    assert (given.kind, given.thing, given.taker, given.inward) == ("give", "Swab", "Surgeon", False)
    entries = [
        entry
        for phase in phase_views(reading(checked()), Links(part_page("wrist", "surgeon")), "surgeon")
        for entry in phase.entries
    ]
    arrivals = [entry.arrival for entry in entries if entry.arrival is not None]
    assert [(arrival.hand_over.kind, arrival.hand_over.thing, arrival.number) for arrival in arrivals] == [
        ("dress", "Surgeon's gloves", 9),
        ("give", "Swab", 12),
    ]
    assert all(arrival.hand_over.inward for arrival in arrivals)
    text = Seen(drawn("protocols/wrist/surgeon.html")).text
    assert "You get Swab from: Scrub nurse" in text
    assert "Surgeon's gloves is put on your hands by: Scrub nurse" in text


def test_hands_before_and_after_are_computed() -> None:
    shown = reading(checked())

    def hands(step: str, role: str, *, after: bool) -> Hands:
        assert shown.hands is not None
        found = shown.hands.at(shown.index[step], role, after=after)
        assert found is not None
        return found

    assert in_brief(speech("en"), hands("rub", "scrub", after=False)) == "contaminated"
    assert in_brief(speech("en"), hands("rub", "scrub", after=True)) == "disinfected"
    assert in_brief(speech("en"), hands("glove", "scrub", after=True)) == "sterile, gloved"
    assert hands("dress-hands", "scrub", after=False) == hands("dress-hands", "scrub", after=True)
    assert hands("pause", "surgeon", after=False).level is Level.STERILE


def test_without_a_proof_the_page_says_that_hands_are_not_known() -> None:
    looped = sample()
    looped["phases"][0]["steps"][2]["after"] = ["cover"]
    report = checked({"wrist": looped})
    assert reading(report).hands is None
    assert "The state of your hands is not shown" in Seen(drawn("protocols/wrist/scrub.html", report)).text


def test_a_role_without_steps_has_a_page_that_says_so() -> None:
    clinic = {**CLINIC, "roles": {**CLINIC["roles"], "runner": {"title": "Runner"}}}
    report = checked({"wrist": sample(team=["surgeon", "scrub", "circulating", "runner"])}, clinic=clinic)
    text = Seen(drawn("protocols/wrist/runner.html", report)).text
    assert text.count("nothing for you to do") == 2


def test_two_steps_of_one_name_do_not_share_a_place() -> None:
    twice = sample()
    twice["phases"][0]["steps"][1]["id"] = "rub"
    report = checked({"wrist": twice})
    seen = Seen(drawn("protocols/wrist.html", report))
    assert len(seen.ids) == len(set(seen.ids))


def test_a_step_nobody_owns_is_shown_on_the_whole_teams_page() -> None:
    orphan = sample()
    del orphan["phases"][1]["steps"][0]["role"]
    report = checked({"wrist": orphan})
    assert "Nobody yet" in Seen(drawn("protocols/wrist.html", report)).text


def test_pages_lead_to_each_other() -> None:
    site = build_site(checked())
    part = page(site, "protocols/wrist/scrub.html").html
    hrefs = {attrs.get("href") for tag, attrs in Seen(part).tags if tag == "a"}
    assert {"../../index.html", "../wrist.html", "surgeon.html", "circulating.html", "../../roles/scrub.html"} <= hrefs


def test_text_in_another_language_says_so_and_is_quoted() -> None:
    report = checked(clinic={**CLINIC, "language": "de"})
    assert [tag for tag, attrs in Seen(drawn("protocols/wrist/scrub.html", report)).tags if attrs.get("lang") == "de"]
    assert view("cover", "scrub", report).waits[0].done is None
