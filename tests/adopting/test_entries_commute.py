"""Entries of tailoring.yaml that are about different steps may stand in any order; so may what is caught up with."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from stepfield.adopting import Settled
from stepfield.language import build_set
from stepfield.language.model import Step
from stepfield.language.tailoring_fields import bare
from tests.adopting.catching import HEAD, adopted, caught, source
from tests.adopting.wanderings import EDITS, ENTRIES, World, as_files, first_documents, is_sound

Entry = dict[str, Any]
SOME = settings(deadline=None, suppress_health_check=list(HealthCheck), max_examples=40)
CHANGES = ENTRIES.filter(lambda one: one[0] == "changes").map(lambda one: one[2])


def touched(entry: Entry) -> set[tuple[str, ...]]:
    """The step an entry is about; for an added one also the place at which it is put."""
    protocol = entry["protocol"]
    if "add" not in entry:
        return {(protocol, entry.get("step") or entry["drop"])}
    ((side, anchor),) = entry["place"].items()
    return {(protocol, entry["add"]["id"]), (protocol, side, anchor)}


def apart(entries: list[Entry]) -> list[Entry]:
    """The first of the entries that are about different steps."""
    found: list[Entry] = []
    for entry in entries:
        if not any(touched(entry) & touched(other) for other in found):
            found.append(entry)
    return found


APART = st.lists(CHANGES, min_size=4, max_size=12).map(apart).filter(lambda found: len(found) > 1)


def written(files: Mapping[str, bytes], entries: list[Entry]) -> dict[str, bytes]:
    lines = "".join(f"  - {json.dumps(one)}\n" for one in entries)
    return {**files, "tailoring.yaml": f"{HEAD}changes:\n{lines}".encode()}


def meaning(files: Mapping[str, bytes]) -> object:
    """Every step in its order, what the entries came to, and which have no effect; nothing of where they stand."""
    whole = build_set({f"p/{path}": data for path, data in files.items()}, "p")
    assert whole.tailoring is not None
    return (
        [
            (one.id, phase.id.value, _meant(step))
            for one in whole.protocols
            for phase in one.phases
            for step in phase.steps
        ],
        sorted((one.what, str(one.protocol), one.name.value, one.emptied or "") for one in whole.tailoring.deviations),
        sorted((one.rule, str(one.protocol), str(one.step), str(one.subject)) for one in whole.problems),
    )


def _meant(step: Step) -> object:
    return {name: sorted(value, key=repr) if name == "after" else value for name, value in bare(step)}


def test_what_is_added_at_one_place_keeps_its_order() -> None:
    """These are about one place, so the order they stand in counts; and the comparison below sees it."""
    files = adopted(source(as_files(first_documents())))
    place = {"after": "wipe"}
    both = [
        {"protocol": "room", "add": {"id": name, "role": "scrub", "do": "N."}, "place": place}
        for name in ("ours", "extra")
    ]
    assert meaning(written(files, both)) != meaning(written(files, both[::-1]))


@SOME
@given(APART, st.data())
def test_entries_about_different_steps_may_stand_in_any_order(entries: list[Entry], data: st.DataObject) -> None:
    files = adopted(source(as_files(first_documents())))
    other = data.draw(st.permutations(entries))
    assert meaning(written(files, entries)) == meaning(written(files, other))


def try_newer(entries: list[Entry], data: st.DataObject) -> None:
    """Takes a newer baseline in with the entries in two orders."""
    files, documents = adopted(source(as_files(first_documents()))), first_documents()
    EDITS[data.draw(st.sampled_from(sorted(EDITS)))](documents, data.draw)
    assume(is_sound(documents))
    way = data.draw(st.sampled_from(["keep", "take"]))
    newer, settled = source(as_files(documents), "1.1.0"), Settled(**{way: frozenset({"all"})})
    both = [caught(written(files, order), newer, settled) for order in (entries, data.draw(st.permutations(entries)))]
    fates = [
        sorted((one.met.entry.name, one.met.fate.value, str(one.decision)) for one in found.entries) for found in both
    ]
    assert fates[0] == fates[1]
    assert meaning(both[0].after) == meaning(both[1].after)


@settings(SOME, max_examples=20)
@given(APART, st.data())
def test_so_they_may_when_a_newer_baseline_is_taken_in(entries: list[Entry], data: st.DataObject) -> None:
    try_newer(entries, data)


@pytest.mark.slow
@settings(SOME, max_examples=1500)
@given(APART, st.data())
def test_so_they_may_whatever_the_newer_baseline_brings(entries: list[Entry], data: st.DataObject) -> None:
    try_newer(entries, data)


@settings(SOME, max_examples=10)
@given(st.data())
def test_with_no_local_change_a_chain_of_releases_is_the_last_one_adopted(data: st.DataObject) -> None:
    world = World(data.draw)
    world.files = adopted(world.source_now())
    for _ in range(data.draw(st.integers(2, 5))):
        world.edit_baseline()
        newer = data.draw(st.booleans())
        if newer:
            assert world.catch_up() is not None
            assert world.files == adopted(world.source_now())
