"""What a review says: to each role, of versions, of findings; and that text stays text in every form."""

from __future__ import annotations

import json
import re

import pytest

from stepfield.changes import RULES, review_sets
from stepfield.changes.as_json import json_review
from stepfield.changes.as_markdown import markdown_review
from stepfield.changes.as_text import text_review
from stepfield.checks.examples import DAY, files_of
from stepfield.checks.manual import Example, read_page
from stepfield.language import build_set

from .sets import FILES, changed, dressing, review

WORD = ("Wipe the whole trolley", "Wipe all of the trolley")
WORK = ("takes: 1 min", "takes: 2 min")
SAFE = ("{prep-trolley: disinfected, scrub", "{prep-trolley: clean, scrub")


@pytest.mark.parametrize(
    ("edit", "version", "raised"),
    [
        (WORD, "1.2.3", False),
        (WORD, "1.2.4", True),
        (WORD, "1.2.2", False),
        (WORD, "2.0.0", True),
        (WORK, "1.2.4", False),
        (WORK, "1.3.0", True),
        (WORK, "1.2.10", False),
        (SAFE, "1.3.0", False),
        (SAFE, "2.0.0", True),
    ],
)
def test_the_version_must_be_raised_as_the_grade_asks(edit: tuple[str, str], version: str, raised: bool) -> None:
    found = review(changed(edit, ("version: 1.2.3", f"version: {version}")))
    assert [finding.key for finding in found.unraised] == (
        [] if raised else [("version-not-raised", "dressing", "", "version")]
    )


def test_a_renewed_approval_stands_for_a_higher_first_number() -> None:
    renewed = ("board, date: 2026-10-01", "board, date: 2026-10-20")
    assert review(changed(SAFE, renewed)).unraised == ()
    assert len(review(changed(WORK, renewed)).unraised) == 1
    assert len(review(changed(SAFE, ("board, date: 2026-10-01", "board, date: 2026-09-01"))).unraised) == 1


def test_a_new_protocol_and_a_draft_without_a_version_need_none() -> None:
    alone = {name: text for name, text in FILES.items() if not name.endswith("dressing.yaml")}
    found = review(FILES, alone)
    assert [one.state for one in found.protocols] == ["added"]
    assert found.unraised == ()
    assert [one.state for one in review(alone, FILES).protocols] == ["removed"]
    head = ("version: 1.2.3\nstatus: approved\n", "")
    drafts = changed(head), changed(head, SAFE)
    assert review(drafts[1], drafts[0]).unraised == ()


def before_of(example: Example) -> Example:
    """The example as it was: what a comment says stood in a line before."""
    return Example(re.sub(r"\S[^#\n]*# before: (.*)", r"\1", example.body), example.limit)


def test_the_page_of_the_rule_shows_it_and_its_mend() -> None:
    (rule,) = RULES
    page = read_page(rule.page)
    for example, count in ((page.example, 1), (page.instead, 0)):
        sets = [build_set(files_of(one)) for one in (before_of(example), example)]
        assert [each.problems for each in sets] == [(), ()]
        assert len(review_sets(sets[0], sets[1], ("a", "b"), DAY).unraised) == count


def test_each_role_is_told_its_own_part_and_who_must_read_again() -> None:
    found = dressing(changed(WORD, SAFE))
    assert found is not None
    duties = {duty.role: duty for duty in found.duties}
    assert [change.name for change in duties["scrub"].own] == ["lay-cover"]
    assert [change.name for change in duties["circulating"].own] == ["wipe-trolley"]
    assert {role for role, duty in duties.items() if duty.must_read} == {"scrub"}
    assert duties["surgeon"].own == ()


def test_whoever_waits_for_a_changed_step_must_read_again() -> None:
    found = dressing(changed(("        counts: [swab]\n", "")))
    assert found is not None
    duties = {duty.role: duty for duty in found.duties}
    assert [change.name for change in duties["surgeon"].near] == ["count-swabs"]
    assert duties["surgeon"].must_read


def test_findings_appear_and_vanish_and_a_renamed_step_keeps_its_own() -> None:
    worse = changed(("        makes: {prep-trolley: disinfected}\n", ""))
    found = review(worse)
    assert ("needs-not-met", "dressing", "lay-cover", "prep-trolley") in {one.key for one in found.appeared}
    assert {one.key for one in review(FILES, worse).vanished} == {one.key for one in found.appeared}
    renamed = {**worse, "protocols/dressing.yaml": worse["protocols/dressing.yaml"].replace("lay-cover", "place-cover")}
    again = review(renamed, worse)
    assert (again.appeared, again.vanished) == ((), ())


def test_a_change_of_a_part_is_told_once() -> None:
    found = review(changed(("until they are dry", "until both are dry"), file="protocols/parts/hand-rub.yaml"))
    for text in (text_review(found), markdown_review(found)):
        listed = text.partition("For you as")[0].partition("What changes for you")[0]
        assert listed.count("both are dry") == 1
    (shared,) = json.loads(json_review(found))["shared"]
    assert shared["places"] == [
        {"protocol": "dressing", "step": "hands.rub"},
        {"protocol": "dressing", "step": "again.rub"},
    ]


def test_text_of_a_protocol_stays_text() -> None:
    bad = "Wipe <img src=x> `code` [a](http://x) | **b** @team #1"
    found = review(changed((f"do: {WORD[0]} from the far side towards you, and let it dry.", f"do: {json.dumps(bad)}")))
    text = markdown_review(found)
    assert "<img" not in text
    assert "](http" not in text
    assert "**b**" not in text
    assert "\\@team" in text
    assert json.loads(json_review(found))["protocols"][0]["changes"][0]["details"][0]["gained"] == [bad]


def test_a_file_that_cannot_be_read_is_told_and_its_findings_too() -> None:
    found = review(changed(("kind: protocol", "kind: [")))
    assert [one.state for one in found.protocols] == ["unreadable"]
    assert "bad-yaml" in {one.rule for one in found.appeared}
    assert "cannot be compared" in text_review(found)
