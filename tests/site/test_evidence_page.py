"""The page of what the protocols rest on: both ways, the gaps first; its table, its forms, and its weight."""

from __future__ import annotations

import csv
import io
from typing import Any

from stepfield.pages import Site, build_site
from stepfield.pages.page import HEAVY
from tests.site.screening import demo_report
from tests.site.small import CHECK, Seen, checked, sample

EVIDENCE: dict[str, Any] = {
    "requirements": {
        "wiped": {
            "text": "The table is wiped <for> a while.",
            "source": "A handbook",
            "section": "Part 1",
            "year": 2009,
            "limit": {"at_least": "2 min"},
            "applies_to": "Every table",
            "certainty": "read in the source",
            "link": "https://example.org/a",
        },
        "aired": {"text": "The room is aired.", "source": "Another handbook", "limit": {"at_least": "15 ACH"}},
        "apart": {"text": "Furniture stands apart.", "source": "A handbook", "limit": {"at_least": "2.5 cm"}},
        "clear": {
            "text": "The air clears.",
            "source": "A table",
            "year": 2020,
            "cases": {
                "slow": {"applies_to": "Few changes", "limit": {"at_least": "18 min"}},
                "none": {"applies_to": "None"},
            },
        },
    },
    "sets": {"room": ["wiped", "aired"]},
}


def wrist(**more: Any) -> dict[str, Any]:
    protocol = {**sample(), "adopts": ["room"], **more}
    step = next(one for one in protocol["phases"][0]["steps"] if one.get("id") == "wipe")
    step |= {"meets": ["wiped"], "keeps": {"apart": "3 cm"}}
    return protocol


def with_evidence(evidence: dict[str, Any]) -> dict[str, Any]:
    return {"parts/check": CHECK, "evidence": evidence}


def site_of(**protocols: Any) -> Site:
    return build_site(checked(protocols or {"wrist": wrist()}, files=with_evidence(EVIDENCE)), "https://q.example/")


def page(**protocols: Any) -> str:
    return next(one.html for one in site_of(**protocols).pages if one.address == "evidence.html")


def files(**protocols: Any) -> dict[str, str]:
    return {
        one.address: one.content.decode("utf-8-sig")
        for one in site_of(**protocols).assets
        if one.address.endswith((".html", ".csv"))
    }


def words(html: str) -> str:
    return " ".join(Seen(html).text.split())


def test_the_gaps_stand_first() -> None:
    text = words(page())
    gaps = text.index("Adopted, and no step answers it")
    assert text[gaps:].startswith("Adopted, and no step answers it The room is aired. – Release of the wrist tunnel")
    assert (
        gaps < text.index("2 requirements are adopted by no protocol") < text.index("From the requirement to the steps")
    )
    assert "1 requirement has a source of more than 10 years The table is wiped" in text
    assert "steps that guard somebody answer no requirement" in text


def test_a_requirement_tells_its_limit_its_source_how_sure_it_is_and_its_steps() -> None:
    html = page()
    text = words(html)
    facts = [
        "Limit at least 2 min For whom or what Every table",
        "Source A handbook, Part 1, 2009 more than 10 years old How sure read in the source",
        "Where to read it https://example.org/a Name wiped",
        "at least 15 air changes an hour",
        "at least 2.5 cm",
        "How sure not said",
        "no value in the source",
    ]
    assert [told for told in facts if told not in text] == []
    assert "&lt;for&gt;" in html
    assert 'href="https://example.org' not in html
    assert 'href="protocols/wrist.html#wipe" dir="auto">3</a>' in html
    assert "adopted, and no step answers it" in text
    assert "step 3 (3 cm) answered, though not adopted" in text


def test_a_step_leads_back_to_what_it_answers() -> None:
    html = page()
    back = html[html.index('id="from_steps"') :]
    assert 'href="protocols/wrist.html#wipe"' in back
    assert 'href="#req_wiped"' in back
    assert 'href="#req_apart"' in back
    assert {"req_wiped", "req_aired", "req_apart", "req_clear"} <= set(Seen(html).ids)


def test_where_nothing_is_lacking_it_says_what_that_means() -> None:
    protocol = wrist()
    protocol["phases"][0]["steps"][1]["meets"] = ["wiped", "aired"]
    protocol["phases"][0]["steps"][1]["keeps"] = {"apart": "3 cm", "aired": "20 ACH"}
    text = words(page(wrist=protocol))
    assert "Every requirement that a protocol adopts is answered by one of its steps." in text
    assert "never about a patient" in text


def test_without_evidence_the_page_says_so_and_there_is_no_table_and_no_form() -> None:
    site = build_site(checked({"wrist": sample()}))
    html = next(one.html for one in site.pages if one.address == "evidence.html")
    assert "nothing here names what it rests on" in html
    addresses = {one.address for one in site.assets}
    assert not {one for one in addresses if one.startswith("print/forms") or one == "evidence.csv"}


def test_the_table_beside_it_is_read_by_another_reader() -> None:
    rows = list(csv.DictReader(io.StringIO(files()["evidence.csv"])))
    assert [(row["requirement"], row["protocol"], row["state"]) for row in rows] == [
        ("wiped", "wrist", "met"),
        ("aired", "wrist", "adopted, not met"),
        ("apart", "wrist", "met, not adopted"),
        ("clear-slow", "", "not adopted"),
        ("clear-none", "", "not adopted"),
    ]
    assert [row["steps"] for row in rows] == ["wipe", "", "wipe (3 cm)", "", ""]


def test_the_form_of_a_protocol_has_a_line_for_each_requirement_the_unmet_first_and_room_to_sign() -> None:
    html = files()["print/forms/wrist.html"]
    seen = Seen(html)
    found = [(attrs.get("data-requirement"), attrs.get("data-state")) for tag, attrs in seen.tags if tag == "tr"]
    assert [one for one in found if one[0]] == [("aired", "unmet"), ("wiped", "met"), ("apart", "extra")]
    text = words(html)
    assert "Wipe the trolley. (3 cm)" in text
    for told in ("Version 0.3.0", "Approved not yet", "1 requirement is adopted and answered by no step", "Signature",
                 "more than 10 years old", "Local policy, manufacturers' instructions"):  # fmt: skip
        assert told in text, told


def test_the_demonstration_has_every_requirement_and_every_step_that_answers_one() -> None:
    report = demo_report()
    whole = report.facts.protocol_set
    html = next(one.html for one in build_site(report).pages if one.address == "evidence.html")
    assert len(html.encode()) < HEAVY
    ids = set(Seen(html).ids)
    assert {f"req_{one.table or one.id.value}" for one in whole.requirements} <= ids
    for protocol in whole.protocols:
        for step in protocol.steps:
            if step.meets:
                assert html.count(f'href="protocols/{protocol.id}.html#{step.id}"') >= 1 + len(step.meets), step.id


def test_the_page_of_a_large_set_stays_light_and_leads_to_the_forms() -> None:
    many = {f"wrist-{number}": wrist(title=f"Release {number}") for number in range(30)}
    more = {f"more-{n}": {"text": f"Requirement {n} is met.", "source": "A handbook"} for n in range(60)}
    evidence = {**EVIDENCE, "requirements": {**EVIDENCE["requirements"], **more}}
    for protocol in many.values():
        step = next(one for one in protocol["phases"][0]["steps"] if one.get("id") == "wipe")
        step["meets"] = [*step["meets"], *more]
    site = build_site(checked(many, files=with_evidence(evidence)))
    html = next(one.html for one in site.pages if one.address == "evidence.html")
    assert len(html.encode()) < HEAVY
    assert "30 protocols adopt or answer it; their forms tell with which steps." in words(html)
    assert all(f'href="print/forms/wrist-{number}.html"' in html for number in range(30))
    assert sum("print/forms/" in one.address for one in site.assets) == 30
