"""The problems page and the banners: every finding told with its place, its story and what to do."""

from __future__ import annotations

import datetime
import re
from typing import Any

from stepfield.checks import Report
from stepfield.language import Span
from stepfield.pages import build_site
from stepfield.pages.problems import Places, counted, problems
from stepfield.pages.speech import speech
from stepfield.reports import checked_of
from tests.site.small import CLINIC, Seen, checked, drawn, page, reading, sample


def broken(**changes: Any) -> Report:
    """The sample, where nobody waits for the pack to be opened."""
    protocol = sample(**changes)
    del protocol["phases"][0]["steps"][5]["after"]
    return checked({"wrist": protocol, "other": sample(title="Another", status="draft")})


def test_the_sample_itself_is_clean() -> None:
    assert checked().findings == ()


def test_a_finding_stands_with_its_place_and_its_story() -> None:
    report = broken()
    (problem,) = [
        one for one in problems(report, {"wrist": reading(report)}, speech("en")) if one.rule.text == "not-available"
    ]
    assert problem.severity == "error"
    assert problem.rule.href == "rules.html#rule_not-available"
    assert problem.protocol is not None
    assert problem.protocol.href == "protocols/wrist.html#cover"
    assert problem.place.marked.strip('"') == "cover"
    assert problem.place.where.startswith("protocols/wrist.yaml, line ")
    assert [told.do for told in problem.story][-1] == "Spread the cover over the trolley."
    assert problem.story[-1].who == "Scrub nurse"
    text = Seen(drawn("problems.html", report)).text
    assert "Some orders avoid it" in text
    assert "What to do:" in text


def test_scenarios_are_told_in_the_words_of_the_choices() -> None:
    protocol = sample()
    protocol["phases"][1]["steps"][4]["touches"] = ["palm"]
    protocol["phases"][1]["steps"].insert(
        5, {"id": "stop", "role": "scrub", "do": "Stop.", "requires": ["second-laid"]}
    )
    protocol["phases"][1]["steps"][4]["confirms"] = ["second-laid"]
    report = checked({"wrist": protocol})
    told = [
        one.scenarios
        for one in problems(report, {"wrist": reading(report)}, speech("en"))
        if one.rule.text == "fact-missing"
    ]
    assert told == [("Draping: One sheet",)]


def test_a_story_tells_the_answers_on_its_way() -> None:
    report = broken()
    text = Seen(drawn("problems.html", report)).text
    assert "Look at the wrapper from all sides. Answer: whole." in text


def test_what_happens_in_every_case_names_no_case() -> None:
    report = broken()
    assert all(
        problem.scenarios == ()
        for problem in problems(report, {"wrist": reading(report)}, speech("en"))
        if problem.story
    )


def test_the_end_of_a_long_story_stands_open() -> None:
    report = broken()
    told = problems(report, {"wrist": reading(report), "other": reading(report, "other")}, speech("en"))
    long = [problem for problem in told if len(problem.story) > 8]
    for problem in told:
        assert problem.earlier + problem.end == problem.story
    assert all(len(problem.end) == 6 for problem in long)


def test_every_finding_is_told_in_the_order_of_the_report() -> None:
    report = broken()
    seen = Seen(drawn("problems.html", report))
    assert [name for name in seen.ids if name.startswith("problem_")] == [
        f"problem_{number}" for number in range(1, len(report.findings) + 1)
    ]
    assert sum(map(int, re.findall("[0-9]+", counted(report, speech("en"))))) == len(report.findings)


def test_errors_stand_in_a_banner_on_the_pages_they_concern_and_no_others() -> None:
    site = build_site(broken())
    marked = {one.address for one in site.pages if Seen(one.html).with_class("sf-banner-error")}
    assert marked == {
        "index.html",
        "roles/surgeon.html",
        "roles/scrub.html",
        "roles/circulating.html",
        "protocols/wrist.html",
        "protocols/wrist/surgeon.html",
        "protocols/wrist/scrub.html",
        "protocols/wrist/circulating.html",
    }
    banner = page(site, "protocols/wrist/scrub.html").html
    assert 'href="../../problems.html#problem_' in banner


def test_what_is_wrong_with_the_whole_set_stands_on_every_protocol() -> None:
    report = checked(clinic={**CLINIC, "colour": "blue"})
    assert Seen(drawn("protocols/wrist.html", report)).with_class("sf-banner-error")


def test_a_long_list_of_errors_is_cut_and_counted() -> None:
    protocol = sample()
    protocol["phases"][1]["steps"] = protocol["phases"][1]["steps"][:1] + [
        {"id": f"s-{number}", "role": "scrub", "do": "Stop.", "requires": [f"fact-{number}"]} for number in range(9)
    ]
    text = Seen(drawn("protocols/wrist.html", checked({"wrist": protocol}))).text
    assert "and 7 more" in text


def test_without_findings_the_page_says_what_that_means() -> None:
    text = Seen(drawn("problems.html")).text
    assert "Nothing was found. That is a statement about the text and the rules, never about a patient." in text


def test_a_protocol_that_can_not_be_read_is_named_on_the_home_page() -> None:
    report = checked({"wrist": sample(), "torn": {"kind": "protocol"}})
    assert report.facts.protocol_set.unreadable == ("torn",)
    text = Seen(drawn("index.html", report)).text
    assert "These files could not be read as protocols" in text
    assert "torn" in text


def test_orders_that_were_not_tried_stand_in_a_banner() -> None:
    protocol = sample()
    protocol["phases"][0]["steps"][2]["after"] = ["cover"]
    seen = Seen(drawn("protocols/wrist.html", checked({"wrist": protocol})))
    assert seen.with_class("sf-banner-unproved")
    assert "Not every order of these steps was checked." in seen.text


def test_the_page_on_what_is_checked_tells_how_many_orders_are_covered() -> None:
    report = checked()
    orders = checked_of([report]).orders
    assert orders.exact
    assert orders.at_least > 1
    assert f" states in all. Every one of {orders.at_least:,} orders is covered. 0 errors" in _about(report)


def test_the_page_on_what_is_checked_covers_no_order_that_was_not_tried() -> None:
    protocol = sample()
    protocol["phases"][0]["steps"][2]["after"] = ["cover"]
    text = _about(checked({"wrist": protocol}))
    assert " states in all. Not every order was tried. 1 error" in text
    assert "covered" not in text


def _about(report: Report) -> str:
    return " ".join(Seen(drawn("about.html", report)).text.split())


def test_a_place_is_the_line_in_three_pieces() -> None:
    place = Places({"a.yaml": "one\n  x word y\nthree"}, speech("en")).at(Span("a.yaml", 2, 5, 2, 9))
    assert (place.where, place.before, place.marked, place.after) == ("a.yaml, line 2", "x ", "word", " y")


def test_a_place_that_runs_over_lines_is_marked_to_the_end_of_its_first() -> None:
    place = Places({"a.yaml": "ab cd\nef"}, speech("en")).at(Span("a.yaml", 1, 3, 2, 2))
    assert place.marked == " cd"


def test_a_place_without_text_only_says_where() -> None:
    for line in (1, 7):
        assert Places({"a.yaml": ""}, speech("en")).at(Span("a.yaml", line, 1, line, 1)).marked == ""
    assert Places({}, speech("en")).at(Span("gone.yaml", 1, 1, 1, 1)).where == "gone.yaml, line 1"


def marks(address: str, report: Report) -> list[str]:
    return [attrs["class"] or "" for attrs in Seen(drawn(address, report)).with_class("sf-mark")]


def test_what_is_not_approved_is_marked_on_every_page_of_it() -> None:
    for status in ("draft", "in-review", "retired"):
        report = checked({"wrist": sample(status=status)})
        for address in ("index.html", "roles/scrub.html", "protocols/wrist.html", "protocols/wrist/scrub.html"):
            assert marks(address, report) == [f"sf-mark sf-mark-{status}"], address


def test_the_foot_of_every_sheet_says_so_too() -> None:
    html = drawn("protocols/wrist/scrub.html")
    foot = html[html.index("sf-running") :]
    assert '<strong class="sf-running-mark">Draft</strong>' in foot
    assert "version 0.3.0" in foot


def approved(review_by: str) -> Report:
    protocol = sample(status="approved", approved={"by": "The board", "date": "2026-10-01"}, review_by=review_by)
    return checked({"wrist": protocol}, today=datetime.date(2026, 11, 2))


def test_an_approved_protocol_has_no_mark_until_its_review_is_due() -> None:
    assert marks("protocols/wrist.html", approved("2027-10-01")) == []
    assert marks("protocols/wrist.html", approved("2026-11-01")) == ["sf-mark sf-mark-overdue"]
    text = Seen(drawn("protocols/wrist/scrub.html", approved("2027-10-01"))).text
    assert "Approved by The board, 2026-10-01" in text
    assert "Review by 2027-10-01" in text


def test_every_page_carries_the_caution_and_the_clinics_notice() -> None:
    for one in build_site(checked()).pages:
        text = Seen(one.html).text
        assert "Local policy, manufacturers' instructions and licensed judgement come first." in text, one.address
        assert "The unit's own policy comes first." in text, one.address
