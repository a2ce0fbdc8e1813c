"""``stepfield tailor``: what was edited in an adopted file stands in tailoring.yaml, and the set asks the same."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from stepfield.adopting.moving import move_edits
from stepfield.language import build_set
from tests.adopting.moving import (
    EDITS,
    FILES,
    ROOM,
    TAILORING,
    TIDY,
    adopted,
    edit,
    edited_room,
    entries,
    meaning,
    moved,
    order,
    same,
)


@pytest.mark.parametrize(
    ("edited", "expected"),
    [
        (
            edit("do: Do it.", "do: Do it well,\n          and slowly."),
            {"step": "main", "set": {"do": "Do it well, and slowly."}, "expects": {"do": "Do it."}},
        ),
        (
            edit("needs: {table: disinfected}\n  ", "needs: {table: sterile, palm: clean}\n        sterile: true\n  "),
            {
                "step": "main",
                "set": {"needs": {"table": "sterile", "palm": "clean"}, "sterile": True},
                "expects": {"needs": {"table": "disinfected"}, "sterile": False},
            },
        ),
        (
            edit("        why: Because it helps.\n", ""),
            {"step": "main", "clear": ["why"], "expects": {"why": "Because it helps."}},
        ),
        (
            edit("at_least: 90 s", "at_least: 0.05 h"),
            {
                "step": "tidy",
                "set": {"waits": [{"for": "main", "at_least": "3 min"}]},
                "expects": {"waits": [{"for": "main", "at_least": "90 s"}]},
            },
        ),
        (
            edit("- id: ask", "- {id: new, role: scrub, do: 'New: now.', touches: [tray]}\n      - id: ask"),
            {
                "add": {"id": "new", "role": "scrub", "do": "New: now.", "touches": ["tray"]},
                "place": {"after": "first.dry"},
            },
        ),
        (
            edit("      - {id: tidy", "      - {id: new, role: scrub, do: New.}\n      - {id: tidy"),
            {"add": {"id": "new", "role": "scrub", "do": "New."}, "place": {"before": "tidy"}},
        ),
        (edit("      - {id: aside, role: circulating, do: Look aside., after: [main]}\n", ""), {"drop": "aside"}),
        (
            edit("with: {who: scrub, what: table}", "with: {who: circulating, what: table}"),
            [
                {"step": "first.wipe", "set": {"role": "circulating"}, "expects": {"role": "scrub"}},
                {"step": "first.dry", "set": {"role": "circulating"}, "expects": {"role": "scrub"}},
            ],
        ),
    ],
)
def test_an_edit_of_a_step_becomes_an_entry_that_says_the_same(edited: dict[str, str], expected: Any) -> None:
    outcome, now = moved(edited)
    assert outcome.left == []
    listed = expected if isinstance(expected, list) else [expected]
    assert entries(outcome) == {"changes": [{"protocol": "room", **one} for one in listed]}
    assert outcome.files["p/room.yaml"] == ROOM.encode()
    assert same(build_set(now), build_set(outcome.files))
    assert outcome.files["p/tailoring.yaml"].decode().startswith(TAILORING)


def test_an_edit_of_a_part_becomes_an_entry_for_each_protocol_that_uses_it() -> None:
    outcome, now = moved(edit("takes: 3 min", "takes: 4 min", "parts/wipe-down.yaml"))
    assert entries(outcome)["changes"] == [
        {"protocol": name, "step": "first.wipe", "set": {"takes": "4 min"}, "expects": {"takes": "3 min"}}
        for name in ("other", "room")
    ]
    assert same(build_set(now), build_set(outcome.files))


def test_a_step_added_to_a_part_becomes_one_of_the_protocols_own() -> None:
    new = "  - {id: look, role: who, do: Look at it., needs: {what: disinfected}, after: [wipe]}\n  - {id: dry"
    outcome, _ = moved(edit("  - {id: dry", new, "parts/wipe-down.yaml"))
    assert outcome.left == []
    step = {"id": "first-look", "role": "scrub", "do": "Look at it.", "after": ["first.wipe"]}
    assert entries(outcome)["changes"][1] == {
        "protocol": "room",
        "add": {**step, "needs": {"table": "disinfected"}},
        "place": {"after": "first.wipe"},
    }


def test_what_followed_a_step_that_was_taken_out_keeps_its_order_and_that_is_told() -> None:
    text = ROOM.replace("  - phase: leave\n    title: Leave\n    steps:\n", "")
    before = adopted(files={**FILES, "room.yaml": text})
    gone = text.replace(TIDY, "").replace(", after: [tidy]", "")
    outcome = move_edits({**before, "p/room.yaml": gone.encode()}, {"p/room.yaml": text.encode()}, "p")
    assert outcome.left == []
    assert entries(outcome)["changes"] == [{"protocol": "room", "drop": "tidy"}]
    assert outcome.moved[0].remarks == ("'count' of 'room' still comes after 'aside', through what is left out",)


def test_things_become_entries_of_their_own() -> None:
    text = ROOM.replace("{title: Tray}", "{title: Big tray}, shelf: {title: Shelf}").replace("count: 10", "count: 20")
    text = text.replace("{title: Knife, sharp: true}", "{title: Knife, sharp: true}, pin: {title: Pin}")
    text = text.replace("packs: {", "packs: {set: {title: Set, holds: {clip: {title: Clip, count: 2}}}, ")
    text = text.replace("do: Tidy.,", "do: Tidy., opens: [kit, set], lays: {clip: shelf}, touches: [pin],")
    other = FILES["other.yaml"].replace("{title: Tray}", "{title: Big tray}").replace("count: 10", "count: 20")
    outcome, now = moved({"room.yaml": text, "other.yaml": other})
    assert outcome.left == []
    found = entries(outcome)
    found.pop("changes")
    assert found == {
        "surfaces": {"tray": {"title": "Big tray"}, "shelf": {"in": ["room"]}},
        "items": {"swab": {"count": 20}, "pin": {"in": ["room"], "pack": "kit"}},
        "packs": {"set": {"in": ["room"], "holds": {"clip": {"count": 2}}}},
    }
    assert same(build_set(now), build_set(outcome.files))


def test_reasons_are_left_to_be_written_and_comments_are_kept() -> None:
    outcome, _ = moved(edit("do: Count., counts: [swab],", "do: Count.,  # nobody counts here\n        "))
    text = outcome.files["p/tailoring.yaml"].decode()
    assert "    # because: …\n    # agreed: {by: …, date: …}\n    # until: …\n" in text
    assert text.endswith("# Comments that stood in room.yaml:\n# nobody counts here\n")
    (entry,) = outcome.moved[0].entries
    assert (entry.grade.word, entry.reason) == ("looser", "a count is gone")
    assert text.splitlines()[entry.line - 1].strip().startswith("set: {")


@pytest.mark.parametrize(
    ("edited", "told"),
    [
        (edit("title: Prepare\n", "title: Begin\n"), "another title"),
        (edit("title: Room", "title: The room"), "`title` is not what it was"),
        (edit("version: 1.0.0", "version: 1.0.1"), "`version` is not what it was"),
        (edit("  - phase: leave\n", "  - phase: leaving\n"), "'leaving' is new"),
        (edit("title: Leave\n", "title: Leave\n    cautions: [{kind: fire, text: F.}]\n"), "other cautions"),
        (edit("sites: {palm: {title: Palm}}", "sites: {palm: {title: Hand}}"), "`sites` is not what it was"),
        (edit("team: [scrub, circulating]", "team: [circulating, scrub]"), "`team` is not what it was"),
        (edit("options: {big: Big", "options: {big: Large"), "`choices` is not what it was"),
        (edit("id: tidy, role: circulating", "id: tidy"), "has no role any more"),
        (edit("count: 10", "count: 20"), "an entry would change it in 'other' too"),
        (edit("gown: {worn_on: body, starts: clean}", "gown: {starts: clean}"), "has no worn_on any more"),
        (edit("counts: [swab]", "counts: [swba]"), "mend that first"),
        (edit("kind: part", "kind: part\npurpose: P.", "parts/wipe-down.yaml"), "`purpose` is not what it was"),
        ({"room.yaml": ROOM.replace(", after: [tidy]", "").replace(TIDY, "") + TIDY}, "'count' stands before 'tidy'"),
    ],
)  # fmt: skip
def test_what_no_entry_can_say_is_told_and_its_file_left_alone(edited: dict[str, str], told: str) -> None:
    outcome, now = moved(edited)
    assert outcome.files == now
    assert outcome.moved == []
    assert told in " ".join(one.message for left in outcome.left for one in left.reasons)


@pytest.mark.parametrize(
    ("tailoring", "told"),
    [
        ("changes: [{protocol: room, step: main, set: {do: Ours.}}]\n", "one is lost"),
        ("changes: [{protocol: room, step: main, set: {do: Ours.}, expects: {do: Do it.}}]\n", "one is lost"),
        ("leave_out: [room]\n", "nothing that is done here uses this file"),
    ],
)
def test_entries_that_are_there_already_are_never_contradicted(tailoring: str, told: str) -> None:
    outcome, now = moved(edit("do: Do it.", "do: Do it well."), TAILORING + tailoring)
    assert outcome.files == now
    assert told in outcome.left[0].reasons[0].message


def test_after_an_interruption_it_is_done_by_doing_it_again() -> None:
    """As the files are when tailoring.yaml was written and the adopted file not yet."""
    outcome, now = moved(edit("do: Do it.", "do: Do it well."))
    half = {**outcome.files, "p/room.yaml": now["p/room.yaml"]}
    again = move_edits(half, {"p/room.yaml": ROOM.encode()}, "p")
    assert again.files == outcome.files
    assert "says it already" in again.moved[0].remarks[0]


seen = {"moved": 0, "left": 0}


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(EDITS)
def test_whatever_is_edited_the_set_asks_the_same_or_nothing_is_written(edits: list[tuple[str, str, Any]]) -> None:
    outcome, now = moved({"room.yaml": edited_room(edits)})
    if outcome.left:
        seen["left"] += 1
        assert outcome.files == now
        return
    seen["moved"] += 1
    before, after = build_set(now), build_set(outcome.files)
    assert outcome.files["p/room.yaml"] == ROOM.encode()
    assert [one for one in after.problems if one.rule == "tailoring-lost"] == []
    for one, other in zip(before.protocols, after.protocols, strict=True):
        assert meaning(one)[:2] == meaning(other)[:2]
        if any(edit[0] == "drop" for edit in edits):  # order through what is left out is kept: more may be waited for
            assert order(one) <= order(other)
        else:
            assert order(one) == order(other)


def test_most_of_these_edits_can_be_moved() -> None:
    assert seen["moved"] > seen["left"]
