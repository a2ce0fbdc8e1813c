"""The home page and the pages of the roles: roles first, every protocol with its standing, and what stands beside."""

from __future__ import annotations

from stepfield.pages.home import protocol_cards, ways
from stepfield.pages.speech import speech
from tests.site.small import CLINIC, Seen, checked, drawn, reading, sample


def test_roles_come_before_protocols_and_these_before_all_else() -> None:
    ids = Seen(drawn("index.html")).ids
    places = [ids.index(name) for name in ("choose_role", "choose_protocol", "whats_new", "behind_it")]
    assert places == sorted(places)


def test_a_card_tells_version_status_and_review_and_marks_a_draft() -> None:
    seen = Seen(drawn("index.html"))
    assert "Version 0.3.0 Status draft Review by not set" in seen.text
    assert seen.with_class("sf-mark-draft")
    approved = {"by": "The board", "date": "2026-10-01"}
    protocol = sample(status="approved", approved=approved, review_by="2027-10-01")
    seen = Seen(drawn("index.html", checked({"wrist": protocol})))
    assert "Version 0.3.0 Status approved Review by 2027-10-01" in seen.text
    assert not seen.with_class("sf-mark")
    assert "2027-10-01" in [attrs.get("data-review-by") for _, attrs in seen.tags]


def test_an_overdue_review_is_marked_on_the_card() -> None:
    approved = {"by": "The board", "date": "2025-10-01"}
    protocol = sample(status="approved", approved=approved, review_by="2026-10-01")
    assert Seen(drawn("index.html", checked({"wrist": protocol}))).with_class("sf-mark-overdue")


def test_what_is_new_says_plainly_that_nothing_is_compared() -> None:
    assert "Nothing is compared yet" in Seen(drawn("index.html")).text


def test_the_page_of_a_role_leads_to_its_part_of_each_protocol() -> None:
    report = checked({"wrist": sample(), "hand": sample(title="Hand")})
    html = drawn("roles/scrub.html", report)
    links = {attrs.get("href") for tag, attrs in Seen(html).tags if tag == "a"}
    assert {"../protocols/wrist/scrub.html", "../protocols/hand/scrub.html"} <= links


def test_a_card_of_a_role_counts_its_steps() -> None:
    found = reading(checked())
    for role in found.roles:
        (card,) = protocol_cards([found], "x.html", role)
        assert card.own == sum(role in found.people(step) for step in found.steps)
        assert card.steps == len(found.steps)
    assert "You take part in 8 of 16 steps" in Seen(drawn("roles/scrub.html")).text


def test_a_role_without_a_step_is_told_so() -> None:
    clinic = {**CLINIC, "roles": {**CLINIC["roles"], "runner": {"title": "Runner"}}}
    protocol = sample(team=["surgeon", "scrub", "circulating", "runner"])
    html = drawn("roles/runner.html", checked({"wrist": protocol}, clinic=clinic))
    assert "There is nothing for you to do" in Seen(html).text


def test_home_leads_to_screens_and_sheets_only_where_there_are_some() -> None:
    said = speech("en")
    assert ways(frozenset(), "index.html", said) == ()
    both = ways(frozenset({"screens/index.html", "print/index.html", "screens/x.html"}), "index.html", said)
    assert [link.href for link in both] == ["screens/index.html", "print/index.html"]
    assert [link.href for link in ways(frozenset({"print/index.html"}), "roles/x.html", said)] == [
        "../print/index.html"
    ]
