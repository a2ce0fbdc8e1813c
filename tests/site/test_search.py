"""The search of the built demonstration site: one entry a step, found by every word that stands in the step."""

from __future__ import annotations

import datetime
import html
import json
import re
from collections.abc import Iterator
from typing import Any

import pytest

from stepfield.checks import check_set
from stepfield.language import read_set
from stepfield.language.model import Kind
from stepfield.pages.reading import Reading
from tests.site.building import ROOT, build_demo

Entry = dict[str, Any]
LOW = 0.2


@pytest.fixture(scope="module")
def entries(tmp_path_factory: pytest.TempPathFactory) -> list[Entry]:
    site = build_demo(tmp_path_factory.mktemp("demo") / "site")
    index = json.loads((site / "search" / "search_index.json").read_text(encoding="utf-8"))
    found: list[Entry] = index["docs"]
    return found


@pytest.fixture(scope="module")
def readings() -> list[Reading]:
    report = check_set(read_set(ROOT / "protocols"), datetime.date(2026, 11, 2))
    return [Reading(one, report.facts) for one in report.facts.examined]


def words(text: str) -> set[str]:
    return set(re.findall(r"\w+", html.unescape(re.sub(r"<[^>]+>", " ", text)).casefold()))


def said(entry: Entry) -> set[str]:
    return words(f"{entry['title']} {entry['text']}")


def of_steps(entries: list[Entry], reading: Reading) -> Iterator[tuple[int, Entry]]:
    places = {f"protocols/{reading.protocol.id}.html#{step.id.value}": at for at, step in enumerate(reading.steps)}
    for entry in entries:
        if entry["location"] in places:
            yield places[entry["location"]], entry


def test_every_step_has_one_entry(entries: list[Entry], readings: list[Reading]) -> None:
    for reading in readings:
        assert [at for at, _ in of_steps(entries, reading)] == list(range(len(reading.steps)))


def test_a_step_is_found_by_every_word_of_it(entries: list[Entry], readings: list[Reading]) -> None:
    for reading in readings:
        for at, entry in of_steps(entries, reading):
            step = reading.steps[at]
            texts = [step.do.value, *(caution.text.value for caution in step.cautions)]
            texts += [step.why.value] if step.why is not None else []
            texts += [reading.role(person) for person in reading.people(step)]
            texts += [reading.thing(need.subject.value) for need in step.needs]
            texts += [step.asks.question.value] if step.asks is not None else []
            texts += _things(reading, at)
            missing = set().union(*(words(text) for text in texts)) - said(entry)
            assert not missing, (entry["location"], missing)


def _things(reading: Reading, at: int) -> list[str]:
    subjects = reading.protocol.subjects
    names = {name.value for one in reading.steps[at].effects for name in (one.thing, one.target) if name is not None}
    return [subjects[name].title for name in names if name in subjects and subjects[name].kind is not Kind.PERSON]


def test_a_caution_is_filed_under_its_own_step_and_no_other(entries: list[Entry], readings: list[Reading]) -> None:
    for reading in readings:
        pages = [entry for entry in entries if entry["location"].startswith(f"protocols/{reading.protocol.id}.html")]
        told = dict[str, set[str]]()
        for step in reading.steps:
            for caution in step.cautions:
                told.setdefault(caution.text.value, set()).add(step.id.value)
        for phase in reading.protocol.phases:
            for caution in phase.cautions:
                told.setdefault(caution.text.value, set()).add(f"{phase.id}_phase")
        assert told
        for text, places in told.items():
            found = {entry["location"].partition("#")[2] for entry in pages if text in html.unescape(entry["text"])}
            assert found == places, text


def test_what_a_step_says_stands_in_no_entry_but_its_own(entries: list[Entry], readings: list[Reading]) -> None:
    """Neither pictures, nor lists of meetings, nor the pages of the roles bring a step up a second time."""
    for reading in readings:
        for at, entry in of_steps(entries, reading):
            same = [step.id.value for step in reading.steps if step.do.value == reading.steps[at].do.value]
            holding = [
                other["location"].partition("#")[2]
                for other in entries
                if other["location"].startswith("protocols/") and entry["title"] in f"{other['title']} {other['text']}"
                and other["location"].startswith(f"protocols/{reading.protocol.id}.html")
            ]  # fmt: skip
            assert set(holding) <= set(same), entry["location"]


def test_only_whole_team_pages_have_full_weight(entries: list[Entry]) -> None:
    kinds = {entry["location"].partition("#")[0]: entry.get("boost", 1.0) for entry in entries}
    assert not [page for page in kinds if page.startswith(("protocols/", "roles/", "screens/")) and page.count("/") > 1]
    assert not [page for page in kinds if page.startswith(("roles/", "screens/", "print/"))]
    for page, weight in kinds.items():
        if page != "meaning.html":  # written by hand: its own settings say what it weighs
            assert (weight == 1.0) == page.startswith("protocols/"), page
            assert page.startswith("protocols/") or weight <= LOW


def test_no_entry_holds_markup_of_pictures(entries: list[Entry]) -> None:
    for entry in entries:
        assert not re.search(r"<(?!/?(?:p|li|ol|ul|code|pre|mark|sub|sup)>)", entry["text"]), entry["location"]


def test_the_index_stays_small(entries: list[Entry]) -> None:
    """A search in a page opened from a folder is prepared on the page's own thread; 200 steps stay under a megabyte."""
    assert len(json.dumps(entries)) < 1_000_000
