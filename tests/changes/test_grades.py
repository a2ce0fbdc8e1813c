"""Each kind of change alone and combined gets the grade that its effect deserves, and is told as one change."""

from __future__ import annotations

import itertools

import pytest

from stepfield.changes.grades import Grade

from .sets import changed, dressing, review

W, K, S = Grade.WORDING, Grade.WORKING, Grade.SAFETY
THROW = """\
      - id: throw-wipe
        role: circulating
        do: Throw the wipe away.
        discards: [wipe]
"""
TELL = """\
      - id: tell-name
        role: surgeon
        do: Say your name.
        takes: 1 min
"""
LIST = """\
      - id: check-list
        role: scrub
        do: Read the list of the day.
        confirms: [list-read]
"""
COUNT = """\
      - id: count-swabs
        role: scrub
        do: Count the swabs aloud.
        counts: [swab]
        waits: [{for: wipe-trolley, at_least: 2 min}]
"""
KINDS: dict[str, tuple[Grade, str, str, tuple[tuple[str, str], ...]]] = {
    "do": (W, "wipe-trolley", "reworded", (("Wipe the whole trolley", "Wipe all of the trolley"),)),
    "why": (W, "wipe-trolley", "reworded", (("what is left wet", "what stays wet"),)),
    "why gone": (W, "wipe-trolley", "reworded", (("        why: Germs live in what is left wet.\n", ""),)),
    "question": (W, "look", "reworded", (("Is all there?", "Is everything there?"),)),
    "title of a thing": (W, "wipe", "reworded", (("title: Wipe,", "title: Damp wipe,"),)),
    "title": (W, "dressing", "reworded", (("title: Dressing\n", "title: A dressing\n"),)),
    "title of a phase": (W, "room", "reworded", (("title: Prepare the room", "title: The room"),)),
    "title of an option": (W, "draping", "reworded", (("Two sheets", "Two of them"),)),
    "role": (K, "tell-name", "changed", ((TELL, TELL.replace("surgeon", "circulating")),)),
    "role of a sterile step": (
        S,
        "lay-cover",
        "changed",
        (("        role: scrub\n        do: Lay", "        role: surgeon\n        do: Lay"),),
    ),
    "with": (S, "open-pack", "changed", (("        with: [scrub]\n", ""), ("after: [open-pack]", "after: [again]"))),
    "takes": (K, "tell-name", "changed", (("takes: 1 min", "takes: 2 min"),)),
    "records": (K, "wipe-trolley", "changed", (("[set-pack.lot]", "[set-pack.lot, set-pack.expiry]"),)),
    "answers": (K, "look", "changed", (("[yes-all, no]", "[yes-all, no, some]"),)),
    "option added": (K, "draping", "changed", (("two: Two sheets", "two: Two sheets, three: Three"),)),
    "when wider": (K, "lay-cover", "changed", (("{draping: one}", "{draping: [one, two]}"),)),
    "when narrower": (
        S,
        "open-pack",
        "changed",
        (("        opens: [set-pack]", "        when: {draping: one}\n        opens: [set-pack]"),),
    ),
    "order of a lane": (
        K,
        "throw-wipe",
        "moved",
        ((THROW, ""), ("      - id: wipe-trolley", THROW + "      - id: wipe-trolley")),
    ),
    "a wait more": (
        K,
        "tell-name",
        "moved",
        (("        takes: 1 min", "        after: [check-list]\n        takes: 1 min"),),
    ),
    "a wait less": (S, "look", "moved", (("        after: [count-swabs]\n", ""),)),
    "waits longer": (K, "count-swabs", "changed", (("at_least: 2 min}]", "at_least: 3 min}]"),)),
    "waits shorter": (S, "count-swabs", "changed", (("at_least: 2 min}]", "at_least: 1 min}]"),)),
    "within shorter": (K, "lay-cover", "changed", (("at_most: 10 min", "at_most: 9 min"),)),
    "within longer": (S, "lay-cover", "changed", (("at_most: 10 min", "at_most: 1 h"),)),
    "needs lower": (S, "lay-cover", "changed", (("prep-trolley: disinfected, scrub", "prep-trolley: clean, scrub"),)),
    "needs gone": (S, "lay-cover", "changed", (("prep-trolley: disinfected, scrub", "scrub"),)),
    "makes lower": (
        S,
        "wipe-trolley",
        "changed",
        (("makes: {prep-trolley: disinfected}", "makes: {prep-trolley: clean}"),),
    ),
    "caution text": (S, "open-pack", "changed", (("Do not reach over", "Never reach over"),)),
    "caution gone": (S, "work", "changed", (("    cautions:\n      - {kind: general, text: Walk slowly.}\n", ""),)),
    "counts": (S, "count-swabs", "changed", (("        counts: [swab]\n", ""),)),
    "requires": (S, "open-pack", "changed", (("        requires: [list-read]\n", ""),)),
    "confirms": (S, "check-list", "changed", (("confirms: [list-read]", "confirms: [list-read, list-told]"),)),
    "discards": (S, "throw-wipe", "changed", (("discards: [wipe]", "discards: {wipe: bin}"),)),
    "covers": (S, "lay-cover", "changed", (("        covers: {prep-trolley: cover}\n", ""),)),
    "meets": (S, "wipe-trolley", "changed", (("        meets: [wipe-dry]\n", ""),)),
    "ignition": (
        S,
        "tell-name",
        "changed",
        (("        takes: 1 min", "        ignition: true\n        takes: 1 min"),),
    ),
    "ends the field": (
        S,
        "tell-name",
        "changed",
        (("        takes: 1 min", "        ends_field: true\n        takes: 1 min"),),
    ),
    "hazard": (S, "wipe", "changed", (("{title: Wipe, starts: clean}", "{title: Wipe, starts: clean, hazard: fire}"),)),
    "level at the start": (S, "bin", "changed", (("{title: Bin, starts: clean}", "{title: Bin}"),)),
    "spare": (K, "bin", "changed", (("{title: Bin, starts: clean}", "{title: Bin, starts: clean, spare: 1}"),)),
    "harmless step gone": (K, "tell-name", "removed", ((TELL, ""),)),
    "harmless step new": (K, "nod", "added", ((TELL, TELL + "      - {id: nod, role: surgeon, do: Nod.}\n"),)),
    "guarding step gone": (S, "throw-wipe", "removed", ((THROW, ""),)),
    "retired": (K, "dressing", "changed", (("status: approved", "status: retired"),)),
}


@pytest.mark.parametrize("kind", KINDS)
def test_a_change_alone_has_its_grade_and_is_one_change(kind: str) -> None:
    grade, name, what, edits = KINDS[kind]
    found = dressing(changed(*edits))
    assert found is not None
    told = {change.name: change for change in found.changes}
    assert (told[name].grade, told[name].kind) == (grade, what)
    assert found.grade == max(change.grade for change in found.changes)
    assert found.grade == grade
    assert all(detail.reason and detail.say for change in found.changes for detail in change.details)


def pairs() -> list[tuple[str, str]]:
    """Every two kinds whose edits do not get into each other's way."""
    found = []
    for one, other in itertools.combinations(KINDS, 2):
        try:
            changed(*KINDS[one][3], *KINDS[other][3])
        except AssertionError:
            continue
        found.append((one, other))
    return found


def test_two_changes_have_the_graver_grade_and_both_are_told() -> None:
    combined = pairs()
    assert len(combined) > 600
    for one, other in combined[::7]:
        found = dressing(changed(*KINDS[one][3], *KINDS[other][3]))
        assert found is not None
        assert found.grade == max(KINDS[one][0], KINDS[other][0]), (one, other)
        assert {KINDS[one][1], KINDS[other][1]} <= {change.name for change in found.changes}, (one, other)


def test_all_that_fits_together_is_told_at_once() -> None:
    chosen: list[str] = []
    for kind in KINDS:
        try:
            changed(*(edit for name in (*chosen, kind) for edit in KINDS[name][3]))
        except AssertionError:
            continue
        chosen.append(kind)
    assert len(chosen) > 25
    found = dressing(changed(*(edit for name in chosen for edit in KINDS[name][3])))
    assert found is not None
    assert found.grade is S
    assert {KINDS[name][1] for name in chosen} <= {change.name for change in found.changes}


MOVED = [
    # Other people's steps in between do not matter: each lane keeps its order.
    ((TELL, ""), ("      - id: wipe-trolley\n", TELL + "      - id: wipe-trolley\n")),
    ((LIST, ""), (TELL, TELL + LIST)),
    (
        (COUNT, ""),
        ("      - id: open-pack\n", "      - id: open-pack\n"),
        ("      - id: look\n", COUNT + "      - id: look\n"),
    ),
    # What is said twice is said once.
    (("        after: [open-pack]\n", ""),),
    (
        (
            "needs: {prep-trolley: disinfected, scrub.hands: disinfected}",
            "needs: {scrub.hands: disinfected, prep-trolley: disinfected}",
        ),
    ),
]


@pytest.mark.parametrize("edits", MOVED)
def test_a_move_that_leaves_the_order_as_it_was_is_no_change(edits: tuple[tuple[str, str], ...]) -> None:
    assert review(changed(*edits)).protocols == ()


def test_a_step_that_is_renamed_and_lightly_edited_is_one_change() -> None:
    edits = (
        ("id: wipe-trolley", "id: clean-trolley"),
        ("{for: wipe-trolley", "{for: clean-trolley"),
        ("Wipe the whole", "Wipe down the whole"),
    )
    found = dressing(changed(*edits))
    assert found is not None
    (change,) = found.changes
    assert (change.name, change.was, change.kind, change.grade) == ("clean-trolley", "wipe-trolley", "reworded", W)


def test_a_renamed_thing_is_one_change_and_its_steps_none() -> None:
    edits = (("  bin: {", "  waste: {"),)
    found = dressing(changed(*edits))
    assert found is not None
    (change,) = found.changes
    assert (change.what, change.name, change.was, change.grade) == ("thing", "waste", "bin", W)


def test_another_step_under_another_name_is_two_changes() -> None:
    found = dressing(changed((TELL, "      - {id: open-door, role: circulating, do: Unlock the door to the ward.}\n")))
    assert found is not None
    assert {(change.kind, change.name) for change in found.changes} == {
        ("added", "open-door"),
        ("removed", "tell-name"),
    }


def test_a_change_of_a_part_shows_wherever_it_is_used_and_of_a_limit_wherever_it_is_met() -> None:
    found = dressing(changed(("takes: 25 s", "takes: 30 s"), file="protocols/parts/hand-rub.yaml"))
    assert found is not None
    assert [change.name for change in found.changes] == ["hands.rub", "again.rub"]
    assert {change.part for change in found.changes} == {"hand-rub"}
    found = dressing(changed(("at_least: 60 s", "at_least: 30 s"), file="protocols/evidence.yaml"))
    assert found is not None
    assert [(change.name, change.grade, change.own) for change in found.changes] == [("wipe-dry", S, ("circulating",))]
