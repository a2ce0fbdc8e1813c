"""What the record sheet and the pick lists ask for is what the model has: no line too few, none too many."""

from __future__ import annotations

import collections

import pytest

from stepfield.language.model import Kind, Protocol
from stepfield.pages.sheets.picks import runs
from tests.site.printing import sheets_of
from tests.site.screening import demo_report
from tests.site.small import Seen, checked, sample

REPORT = demo_report()
PROTOCOLS = REPORT.facts.protocol_set.protocols


@pytest.fixture(scope="module")
def demo() -> dict[str, str]:
    return sheets_of(REPORT)


def told(html: str, name: str) -> list[str]:
    return [value for _, attrs in Seen(html).tags if (value := attrs.get(name)) is not None]


def records_of(protocol: Protocol) -> collections.Counter[str]:
    return collections.Counter(record.value for step in protocol.steps for record in dict.fromkeys(step.records))


def pick_rows(html: str) -> dict[str, list[str]]:
    """The cells of every line of a pick list, in words, by the name of the thing."""
    found = {}
    for part in html.split("<tr ")[1:]:
        name = part.partition('data-pick="')[2].partition('"')[0]
        if name:
            cells = [
                cell.partition(">")[2] for cell in part.partition("</tr>")[0].replace("<th", "<td").split("<td")[1:]
            ]
            found[name] = [Seen(cell).text for cell in cells]
    return found


@pytest.mark.parametrize("protocol", PROTOCOLS, ids=lambda one: one.id)
def test_the_record_sheet_has_a_place_for_every_entry(protocol: Protocol, demo: dict[str, str]) -> None:
    asked = records_of(protocol)
    assert asked
    assert collections.Counter(told(demo[f"print/records/{protocol.id}.html"], "data-record")) == asked


@pytest.mark.parametrize("protocol", PROTOCOLS, ids=lambda one: one.id)
def test_the_record_sheet_has_every_question_with_its_answers(protocol: Protocol, demo: dict[str, str]) -> None:
    html = demo[f"print/records/{protocol.id}.html"]
    asking = [(number, step) for number, step in enumerate(protocol.steps, start=1) if step.asks is not None]
    assert asking
    assert told(html, "data-question") == [str(number) for number, _ in asking]
    for _, step in asking:
        assert step.asks is not None
        assert step.asks.question.value in Seen(html).text
        assert all(answer.value.replace("-", " ") in Seen(html).text for answer in step.asks.answers)


@pytest.mark.parametrize("protocol", PROTOCOLS, ids=lambda one: one.id)
def test_the_record_sheet_has_a_line_for_everything_counted_and_a_column_for_every_count(
    protocol: Protocol, demo: dict[str, str]
) -> None:
    html = demo[f"print/records/{protocol.id}.html"]
    counting = [
        number
        for number, step in enumerate(protocol.steps, start=1)
        if any(effect.field == "counts" for effect in step.effects)
    ]
    counted = {subject.name.value for subject in protocol.subjects.values() if subject.counted}
    assert len(counting) >= 2
    assert set(told(html, "data-counted")) == counted
    assert [int(number) for number in told(html, "data-count")] == counting
    assert f"First count, step {counting[0]}" in Seen(html).text
    assert f"Closing count, step {counting[-1]}" in Seen(html).text


@pytest.mark.parametrize("protocol", PROTOCOLS, ids=lambda one: one.id)
def test_the_record_sheet_has_the_times_and_a_place_for_every_signature(
    protocol: Protocol, demo: dict[str, str]
) -> None:
    html = demo[f"print/records/{protocol.id}.html"]
    number = {step.id.value: place for place, step in enumerate(protocol.steps, start=1)}
    bounds = [
        f"{number[bound.step.value]}-{number[step.id.value]}"
        for step in protocol.steps
        for bound in (*step.waits, *step.within)
    ]
    assert told(html, "data-bound") == bounds
    assert len(told(html, "data-signs")) == len({role.value for role in protocol.team})


def test_no_field_asks_who_the_patient_is(demo: dict[str, str]) -> None:
    for address, html in demo.items():
        if address.startswith("print/records/"):
            seen = Seen(html)
            assert "Place for the clinic's own label" in seen.text
            assert not {"input", "textarea", "form"} & {tag for tag, _ in seen.tags}
            labels = seen.text.casefold()
            assert not [word for word in ("patient name", "surname", "birth", "address of") if word in labels]


def test_a_count_recorded_twice_keeps_both_places() -> None:
    protocol = sample()
    protocol["items"]["swab"]["counted"] = True
    protocol["phases"][1]["steps"][1:1] = [
        {"id": "count", "role": "scrub", "do": "Count.", "counts": ["swab"], "records": ["swab.count"]},
        {"id": "again", "role": "scrub", "do": "Write it once more.", "records": ["swab.count", "swab.maker"]},
    ]
    html = sheets_of(checked({"wrist": protocol}))["print/records/wrist.html"]
    assert collections.Counter(told(html, "data-record")) == {"swab.count": 2, "swab.maker": 1, "pack.lot": 1}
    assert len(told(html, "data-count")) == 1


def test_what_no_step_counts_stands_on_the_record_sheet_all_the_same() -> None:
    protocol = sample()
    protocol["items"]["swab"]["counted"] = True
    text = sheets_of(checked({"wrist": protocol}))["print/records/wrist.html"]
    assert told(text, "data-counted") == ["swab"]
    assert "No step of this protocol counts these." in Seen(text).text


@pytest.mark.parametrize("protocol", PROTOCOLS, ids=lambda one: one.id)
def test_the_pick_list_has_every_thing_as_often_as_the_model(protocol: Protocol, demo: dict[str, str]) -> None:
    rows = pick_rows(demo[f"print/picks/{protocol.id}.html"])
    things = {name: subject for name, subject in protocol.subjects.items() if subject.kind in (Kind.ITEM, Kind.PACK)}
    assert rows.keys() == things.keys()
    for name, (_, title, count, spare, pack, _) in rows.items():
        subject = things[name]
        assert title.startswith(subject.title)
        assert int(count) == subject.count
        assert (0 if spare == "–" else int(spare)) == subject.spare
        assert pack == (protocol.subjects[subject.held_in].title if subject.held_in else "–")
    assert any(subject.spare for subject in things.values())


def test_a_choice_that_decides_what_is_used_has_pick_lists_of_its_own(demo: dict[str, str]) -> None:
    assert sorted(address for address in demo if address.startswith("print/picks/") and address.count("/") == 3) == [
        "print/picks/skin-lesion/direct.html",
        "print/picks/skin-lesion/graft.html",
        "print/picks/wrist-release/one-sheet.html",
        "print/picks/wrist-release/two-sheet.html",
    ]
    rows = pick_rows(demo["print/picks/wrist-release.html"])
    assert "Only if Draping: One sheet with a hole" in rows["hole-sheet"][1]
    assert "Only if" not in rows["table-cover"][1]  # both ways of draping need it
    one = pick_rows(demo["print/picks/wrist-release/one-sheet.html"])
    assert one["split-sheets"][5] == "not used with this choice"
    assert one["hole-sheet"][5] == rows["hole-sheet"][5]


def test_a_pack_that_a_choice_does_without_is_not_fetched() -> None:
    protocol = sample()
    protocol["packs"]["more"] = {"title": "Second pack", "holds": {"sheet": {"title": "Second sheet", "spare": 2}}}
    second = next(step for step in protocol["phases"][1]["steps"] if step["id"] == "second")
    second |= {"opens": ["more"], "touches": ["sheet"]}
    files = sheets_of(checked({"wrist": protocol}))
    assert {"more", "sheet"} <= pick_rows(files["print/picks/wrist/two.html"]).keys()
    assert not {"more", "sheet"} & pick_rows(files["print/picks/wrist/one.html"]).keys()
    rows = pick_rows(files["print/picks/wrist.html"])
    assert rows["more"][1] == "Second pack Only if Draping: Two split sheets"
    assert rows["sheet"][2:5] == ["1", "2", "Second pack"]


def test_a_thing_that_only_follows_from_an_answer_is_listed_with_it() -> None:
    protocol = sample()
    protocol["phases"][1]["steps"].insert(
        0, {"id": "look", "role": "scrub", "do": "Look.", "asks": {"question": "Dry?", "answers": ["dry", "wet"]}}
    )
    protocol["phases"][1]["steps"].insert(
        1, {"id": "pat", "role": "scrub", "do": "Pat it dry.", "when": {"look": "wet"}, "uses": {"pad": "palm"}}
    )
    protocol["items"]["pad"] = {"title": "Pad", "starts": "sterile"}
    files = sheets_of(checked({"wrist": protocol}))
    assert "is answered: wet" in pick_rows(files["print/picks/wrist.html"])["pad"][1]
    assert not [address for address in files if address.startswith("print/picks/wrist/")]


def test_two_choices_give_a_list_for_each_combination_that_matters() -> None:
    protocol = sample()
    protocol["choices"]["pad"] = {"title": "Pad", "options": {"yes": "With a pad", "no": "Without"}}
    protocol["choices"]["music"] = {"title": "Music", "options": {"yes": "With music", "no": "Without music"}}
    protocol["items"] |= {"pad": {"title": "Pad"}, "sheet": {"title": "Second sheet"}}
    steps = protocol["phases"][1]["steps"]
    steps.append({"id": "pad-on", "role": "scrub", "do": "Pad.", "when": {"pad": "yes"}, "touches": ["pad"]})
    steps.append({"id": "sheet-on", "role": "scrub", "do": "Lay.", "when": {"draping": "two"}, "touches": ["sheet"]})
    steps.append({"id": "play", "role": "circulating", "do": "Play.", "when": {"music": "yes"}})
    files = sheets_of(checked({"wrist": protocol}))
    found = {
        address.rpartition("/")[2]: pick_rows(html) for address, html in files.items() if "picks/wrist/" in address
    }
    assert {name: ("pad" in rows, "sheet" in rows) for name, rows in found.items()} == {
        "one_yes.html": (True, False),
        "one_no.html": (False, False),
        "two_yes.html": (True, True),
        "two_no.html": (False, True),
    }


def test_too_many_choices_give_one_list_that_says_what_depends_on_what() -> None:
    protocol = sample()
    for name in "abcdefgh":
        protocol["choices"][name] = {"title": f"Choice {name}", "options": {"yes": "Yes", "no": "No"}}
        protocol["items"][f"thing-{name}"] = {"title": f"Thing {name}"}
        protocol["phases"][1]["steps"].append(
            {"id": f"take-{name}", "role": "scrub", "do": "Take.", "when": {name: "yes"}, "touches": [f"thing-{name}"]}
        )
    files = sheets_of(checked({"wrist": protocol}))
    assert not [address for address in files if "picks/wrist/" in address]
    rows = pick_rows(files["print/picks/wrist.html"])
    assert all(f"Only if Choice {name}: Yes" in rows[f"thing-{name}"][1] for name in "abcdefgh")


@pytest.mark.parametrize(
    ("numbers", "told"), [([], ""), ([4], "4"), ([4, 5], "4, 5"), ([1, 4, 5, 6, 9], "1, 4–6, 9"), ([7, 8, 9], "7–9")]
)
def test_numbers_in_a_row_are_told_as_a_run(numbers: list[int], told: str) -> None:
    assert runs(numbers) == told
