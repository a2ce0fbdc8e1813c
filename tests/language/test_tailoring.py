"""What tailoring.yaml changes: applied before names are looked up, each value with the place it comes from."""

from __future__ import annotations

import datetime
from itertools import permutations

import pytest

from stepfield.checks import check_set
from stepfield.language import Problem, ProtocolSet
from stepfield.language.model import Kind, Level, Protocol, Step
from tests.language.small import FILES, build

TAILORING = "protocols/tailoring.yaml"
BASE = "baseline: {name: Quillhaven Day Surgery, version: 3.2.0}\n"
ROOM = """\
kind: protocol
title: Room
team: [scrub, circulating]
choices: {draping: {title: Draping, options: {one-sheet: One sheet, two-sheet: Two sheets}}}
surfaces: {side-table: {title: Side table}}
items: {swab: {title: Swab, count: 2}}
phases:
  - phase: room
    steps:
      - {id: first, role: scrub, do: First., takes: 3 min}
      - {id: second, role: circulating, do: Second., after: [first]}
      - id: third
        role: scrub
        with: [circulating]
        do: Third.
        needs: {side-table: clean}
        makes: {side-table: disinfected}
        confirms: [table-ready]
      - {id: fourth, role: circulating, do: Fourth., waits: [{for: third, at_least: 1 min}]}
      - {id: fifth, role: scrub, do: Fifth., when: {draping: two-sheet}, uses: {swab: side-table}}
      - {id: sixth, role: scrub, do: Sixth., when: {draping: [one-sheet, two-sheet]}, requires: [table-ready]}
"""


def tailored(text: str, room: str = ROOM) -> ProtocolSet:
    return build({**FILES, "protocols/room.yaml": room}, tailoring=BASE + text)


def protocol(found: ProtocolSet, name: str = "room") -> Protocol:
    return next(one for one in found.protocols if one.id == name)


def steps(found: ProtocolSet, name: str = "room") -> dict[str, Step]:
    return {step.id.value: step for step in protocol(found, name).steps}


def change(text: str) -> str:
    return f"changes:\n  - {{protocol: room, {text}}}\n"


def lost(found: ProtocolSet) -> list[tuple[int, str | None, str | None]]:
    problems: list[Problem] = [one for one in found.problems if one.rule == "tailoring-lost"]
    assert all(one.span.path == TAILORING for one in problems)
    return [(one.span.line, one.step, one.subject) for one in problems]


def errors(found: ProtocolSet) -> list[str]:
    return [one.message for one in found.problems if one.rule != "unused-name"]


def test_without_entries_the_adopted_set_is_what_it_was() -> None:
    plain = build({**FILES, "protocols/room.yaml": ROOM})
    found = tailored("")
    assert (found.protocols, found.clinic, found.problems) == (plain.protocols, plain.clinic, plain.problems)
    assert found.tailoring is not None
    assert found.tailoring.deviations == ()
    assert plain.tailoring is None


def test_a_set_field_has_its_place_in_tailoring_and_the_rest_keeps_its_own() -> None:
    found = tailored(change("step: third, set: {needs: {side-table: disinfected}, takes: 4 min}, because: x"))
    step = steps(found)["third"]
    (need,) = step.needs
    assert (need.level, need.subject.span.path, need.subject.span.line) == (Level.DISINFECTED, TAILORING, 3)
    assert step.takes is not None
    assert (step.takes.least, step.takes.span.path) == (240.0, TAILORING)
    assert step.id.span.path == "protocols/room.yaml"
    assert [effect.thing.span.path for effect in step.effects] == ["protocols/room.yaml"]
    assert errors(found) == []


def test_setting_one_effect_leaves_the_others_and_their_order() -> None:
    found = tailored(change("step: third, set: {touches: [side-table], discards: [swab]}"))
    assert [effect.field for effect in steps(found)["third"].effects] == ["touches", "makes", "discards"]


def test_sterile_is_a_field_of_its_own_beside_needs() -> None:
    room = ROOM.replace("do: Third.\n", "do: Third.\n        sterile: true\n")

    def needs(text: str) -> dict[str, str]:
        found = tailored(change(f"step: third, set: {text}"), room)
        return {need.subject.value: need.level.word for need in steps(found)["third"].needs}

    both = {"scrub.hands": "sterile", "scrub.body": "sterile"}
    assert needs("{sterile: false}") == {"side-table": "clean"}
    assert needs("{needs: {}}") == both
    assert needs("{do: Other.}") == {"side-table": "clean", **both}
    mine = {"circulating.hands": "sterile", "circulating.body": "sterile"}
    assert needs("{role: circulating, with: []}") == {"side-table": "clean", **mine}


def test_a_step_of_a_part_is_set_by_its_full_name_with_names_of_the_protocol() -> None:
    text = "changes:\n  - protocol: release\n    step: scrub-wash.dry-hands\n    expects: {touches: [scrub-towel]}\n"
    found = tailored(text + "    set: {touches: [exam-gloves]}\n")
    step = steps(found, "release")["scrub-wash.dry-hands"]
    assert [one.thing.value for one in step.effects if one.field == "touches"] == ["exam-gloves"]
    assert errors(found) == []


def test_order_through_a_step_that_is_dropped_is_kept() -> None:
    after = {name: {one.value for one in step.after} for name, step in steps(tailored(change("drop: third"))).items()}
    # third came after first (in the scrub's lane) and second (in the circulator's), so what came after it does now.
    assert after["fourth"] == {"first", "second"}
    assert after["fifth"] == {"first", "second"}
    assert after["sixth"] == set()  # behind fifth in its own lane
    assert steps(tailored(change("drop: third")))["fourth"].waits == ()


def test_a_chain_of_dropped_steps_keeps_the_order_from_end_to_end() -> None:
    room = ROOM.replace("after: [first]", "after: [first], confirms: [x]")
    found = tailored("changes:\n" + "".join(f"  - {{protocol: room, drop: {n}}}\n" for n in ("third", "second")), room)
    assert "first" in {one.value for one in steps(found)["fourth"].after}


def test_a_step_inside_a_part_that_is_dropped_is_followed_by_what_follows_the_use() -> None:
    found = tailored("changes:\n  - {protocol: release, drop: scrub-wash.dry-hands}\n")
    after = {one.value for one in steps(found, "release")["cover-trolley"].after}
    assert "scrub-wash.wet-hands" in after
    assert errors(found) == []


def test_a_step_others_depend_on_by_its_answer_is_not_dropped() -> None:
    found = tailored("changes:\n  - {protocol: release, drop: open-pack}\n")
    assert lost(found) == [(3, "open-pack", "open-pack")]
    assert "open-pack" in steps(found, "release")


@pytest.mark.parametrize(
    ("place", "order"),
    [
        ("after: first", ["first", "new", "second"]),
        ("before: second", ["first", "new", "second"]),
        ("before: first", ["new", "first", "second"]),
    ],
)
def test_an_added_step_stands_where_it_is_placed(place: str, order: list[str]) -> None:
    found = tailored(change(f"add: {{id: new, role: scrub, do: New.}}, place: {{{place}}}"))
    assert list(steps(found))[:3] == order
    assert steps(found)["new"].span.path == TAILORING


def test_steps_added_at_one_place_keep_their_order_and_may_stand_beside_one_another() -> None:
    entries = ["a}, place: {after: first", "b}, place: {after: first", "c}, place: {before: b"]
    text = "".join(f"  - {{protocol: room, add: {{do: X., role: scrub, id: {entry}}}}}\n" for entry in entries)
    assert list(steps(tailored(f"changes:\n{text}")))[:5] == ["first", "a", "c", "b", "second"]


def test_what_is_added_behind_one_step_and_before_the_next_stands_the_same_in_either_order() -> None:
    entries = ["a}, place: {after: first", "b}, place: {before: second", "c}, place: {before: a"]
    for order in permutations(entries):
        text = "".join(f"  - {{protocol: room, add: {{do: X., role: scrub, id: {entry}}}}}\n" for entry in order)
        assert list(steps(tailored(f"changes:\n{text}")))[:5] == ["first", "c", "a", "b", "second"], order


def test_a_step_is_placed_beside_the_use_of_a_part() -> None:
    text = "changes:\n  - {protocol: release, add: {id: new, role: scrub, do: N.}, place: {after: scrub-wash}}\n"
    assert list(steps(tailored(text), "release"))[2] == "new"


def test_a_name_that_is_added_twice_is_told_where_it_is_added() -> None:
    found = tailored(change("add: {id: second, role: scrub, do: New.}, place: {after: first}"))
    told = [(one.rule, one.span.path, one.subject) for one in found.problems if one.rule == "taken-name"]
    assert told == [("taken-name", TAILORING, "second")]


def test_a_settled_choice_disappears_with_the_steps_of_its_other_options() -> None:
    found = tailored("choose: {room: {draping: one-sheet}}\n")
    assert protocol(found).choices == ()
    assert "fifth" not in steps(found)
    assert steps(found)["sixth"].when == ()
    assert "third" in {one.value for one in steps(found)["sixth"].after}
    assert found.tailoring is not None
    assert found.tailoring.settled == {"room": {"draping": "one-sheet"}}
    assert errors(found) == []


def test_a_choice_is_not_settled_over_a_misspelled_option() -> None:
    found = tailored(
        "choose: {room: {draping: one-sheet}}\n", ROOM.replace("draping: two-sheet}", "draping: to-sheet}")
    )
    assert [(one.rule, one.subject) for one in found.problems if one.rule != "unused-name"] == [
        ("unknown-name", "to-sheet")
    ]


def test_steps_that_want_an_answer_of_a_step_that_is_never_done_are_never_done() -> None:
    room = ROOM.replace("uses: {swab: side-table}}", "asks: {question: A?, answers: [yes]}}").replace(
        "when: {draping: [one-sheet, two-sheet]}", "when: {fifth: yes}"
    )
    assert list(steps(tailored("choose: {room: {draping: one-sheet}}\n", room))) == [
        "first",
        "second",
        "third",
        "fourth",
    ]


def test_titles_and_attributes_are_those_of_the_clinic() -> None:
    found = tailored(
        "roles: {scrub: {title: Assistant}}\nsurfaces: {prep-trolley: {title: Small trolley}}\n"
        "items: {swab: {title: Big swab, count: 3}, table-cover: {barrier: absorbent}}\n"
    )
    assert found.clinic is not None
    assert [role.title for role in found.clinic.roles][1] == "Assistant"
    assert protocol(found).subjects["prep-trolley"].title == "Small trolley"
    assert (protocol(found).subjects["swab"].title, protocol(found).subjects["swab"].count) == ("Big swab", 3)
    assert not protocol(found, "release").subjects["table-cover"].fluid_proof
    assert errors(found) == []
    assert found.tailoring is not None
    assert [one.name.value for one in found.tailoring.deviations] == ["prep-trolley", "swab", "table-cover"]


def test_a_clinic_declares_things_that_the_adopted_protocols_do_not_have() -> None:
    found = tailored(
        "surfaces: {shelf: {title: Shelf, starts: clean, in: [room]}}\n"
        "items: {pin: {sharp: true, in: [release], pack: inner-pack}, blanket: {in: [room, release]}}\n"
        "packs: {kit: {in: [room], holds: {cloth: {title: Cloth}, box: {holds: {tip: {sharp: true}}}}}}\n"
        + change("add: {id: new, role: scrub, do: N., opens: [kit, box], lays: {tip: shelf}}, place: {after: first}")
    )
    mine, other = protocol(found).subjects, protocol(found, "release").subjects
    assert (mine["shelf"].kind, mine["shelf"].starts, mine["shelf"].title) == (Kind.SURFACE, Level.CLEAN, "Shelf")
    assert (mine["kit"].kind, mine["kit"].starts) == (Kind.PACK, Level.CLEAN)
    assert [(mine[name].held_in, mine[name].starts) for name in ("cloth", "box", "tip")] == [
        ("kit", Level.STERILE),
        ("kit", Level.STERILE),
        ("box", Level.STERILE),
    ]
    assert (other["pin"].held_in, other["pin"].starts, other["pin"].title) == ("inner-pack", Level.STERILE, "Pin")
    assert (other["blanket"].held_in, other["blanket"].starts) == (None, Level.CONTAMINATED)
    assert "shelf" not in other
    assert "pin" not in mine
    assert errors(found) == []
    assert found.tailoring is not None
    assert [one.name.value for one in found.tailoring.deviations if one.what == "thing"] == [
        *("shelf", "pin", "blanket", "kit", "cloth", "box", "tip")
    ]


def test_a_field_is_taken_out_of_a_step() -> None:
    room = ROOM.replace("do: Third.\n", "do: Third.\n        why: W.\n        takes: 2 min\n")
    entry = "step: third, set: {do: T.}, clear: [why, takes], expects: {takes: 2 min, why: W.}"
    found = tailored(change(entry), room)
    third = steps(found)["third"]
    assert (third.why, third.takes, third.do.value, len(third.needs)) == (None, None, "T.", 1)
    assert errors(found) == []
    assert "bad-shape" in {one.rule for one in tailored(change("step: third, clear: [role]"), room).problems}


def test_what_is_declared_here_and_used_nowhere_is_told() -> None:
    found = tailored("items: {pin: {title: Pin, in: [room]}}\n")
    told = [one for one in check_set(found, datetime.date(2026, 12, 1)).findings if one.subject == "pin"]
    assert [(one.rule, one.span.path, one.span.line) for one in told] == [("unused-name", TAILORING, 2)]


def test_a_protocol_that_is_left_out_is_not_there() -> None:
    found = tailored("leave_out: [room]\n")
    assert [one.id for one in found.protocols] == ["release"]
    assert found.unreadable == ()


@pytest.mark.parametrize(
    ("text", "subject"),
    [
        (change("step: frist, set: {do: X.}"), "frist"),
        (change("drop: nothing-like-it"), "nothing-like-it"),
        (change("add: {id: new, role: scrub, do: X.}, place: {after: nowhere}"), "nowhere"),
        (change("step: first, set: {takes: 3 min}"), "takes"),
        (change("step: first, set: {takes: 5 min}, expects: {takes: 2 min}"), "takes"),
        (change("step: third, set: {do: X.}, expects: {needs: {side-table: sterile}}"), "needs"),
        ("changes:\n  - {protocol: nowhere, drop: first}\n", "nowhere"),
        ("leave_out: [room]\n" + change("drop: first"), "room"),
        ("leave_out: [nowhere]\n", "nowhere"),
        ("own: [nowhere]\n", "nowhere"),
        ("roles: {porter: {title: Porter}}\n", "porter"),
        ("roles: {scrub: {title: Scrub nurse}}\n", "scrub"),
        ("items: {nothing: {title: Nothing}}\n", "nothing"),
        ("items: {swab: {title: Swab}}\n", "swab"),
        ("items: {side-table: {title: No item}}\n", "side-table"),
        ("surfaces: {swab: {title: No surface}}\n", "swab"),
        ("choose: {room: {drape: one-sheet}}\n", "drape"),
        ("choose: {room: {draping: three-sheet}}\n", "draping"),
        ("choose: {nowhere: {draping: one-sheet}}\n", "nowhere"),
        ("choose: {room: {draping: one-sheet}}\n" + change("drop: fifth"), "fifth"),
        (change("add: {id: first, role: scrub, do: ' First.', takes: 180 s}, place: {after: second}"), "first"),
        (change("step: first, clear: [why]"), "why"),
        (change("step: first, clear: [takes], expects: {takes: 2 min}"), "takes"),
        (change("step: first, set: {takes: 4 min}, clear: [takes]"), "takes"),
        ("items: {swab: {title: Swab, in: [room]}}\n", "swab"),
        ("items: {pin: {title: Pin, in: [romo]}}\n", "romo"),
        ("leave_out: [room]\nitems: {pin: {title: Pin, in: [room]}}\n", "room"),
        ("packs: {kit: {in: [room], holds: {swab: {title: Swab}}}}\nitems: {x: {in: [room], pack: kit}}\n", "swab"),
        ("items: {pin: {in: [release], pack: rom-pack}}\n", "rom-pack"),
    ],
)
def test_what_meets_nothing_or_changes_nothing_is_told_at_its_entry(text: str, subject: str) -> None:
    assert [one[2] for one in lost(tailored(text))] == [subject]


def test_what_is_set_or_dropped_twice_is_told_at_the_second_place() -> None:
    one, two = "{protocol: room, step: first, set: {do: A.}}", "{protocol: room, step: first, set: {do: B.}}"
    found = tailored(f"changes:\n  - {one}\n  - {two}\n")
    assert lost(found) == [(4, "first", "do")]
    assert steps(found)["first"].do.value == "A."
    dropped = tailored("changes:\n  - {protocol: room, drop: second}\n  - {protocol: room, drop: second}\n")
    assert lost(dropped) == [(4, "second", "second")]


def test_what_is_expected_may_be_laid_out_otherwise() -> None:
    text = (
        "step: third, set: {do: New.}, expects: {needs: {side-table: clean}, do: '  Third. ', confirms: [table-ready]}"
    )
    assert lost(tailored(change(text))) == []


def test_an_entry_whose_expectation_is_not_met_leaves_the_adopted_text() -> None:
    found = tailored(change("step: first, set: {takes: 1 min}, expects: {takes: 2 min}"))
    takes = steps(found)["first"].takes
    assert takes is not None
    assert takes.least == 180.0


@pytest.mark.parametrize(
    "text", ["because: x", "drop: first, step: second, set: {do: X.}", "drop: first, expects: {do: X.}"]
)
def test_an_entry_does_one_thing(text: str) -> None:
    found = tailored(change(text))
    assert [(one.rule, one.span.path) for one in found.problems if one.rule != "unused-name"] == [
        ("bad-shape", TAILORING)
    ]


def test_unknown_names_in_an_entry_are_told_there() -> None:
    found = tailored(change("step: third, set: {needs: {side-tabel: clean}}"))
    told = [
        (one.rule, one.span.path, one.span.line, one.subject) for one in found.problems if one.rule != "unused-name"
    ]
    assert told == [("unknown-name", TAILORING, 3, "side-tabel")]


def test_entries_for_different_steps_may_stand_in_any_order() -> None:
    entries = [
        "step: first, set: {takes: 5 min}",
        "drop: second",
        "add: {id: new, role: scrub, do: N.}, place: {after: second}",
        "step: third, set: {do: Other.}",
    ]
    found = set()
    for order in permutations(entries):
        whole = tailored("changes:\n" + "".join(f"  - {{protocol: room, {one}}}\n" for one in order))
        assert errors(whole) == []
        found.add(
            tuple(
                (n, s.do.value, s.takes and s.takes.least, frozenset(map(str, s.after)))
                for n, s in steps(whole).items()
            )
        )
    assert len(found) == 1


def test_a_protocol_may_lose_a_whole_phase() -> None:
    room = ROOM + "  - phase: last\n    steps:\n      - {id: end, role: scrub, do: End.}\n"
    found = tailored(change("drop: end"), room)
    assert [phase.id.value for phase in protocol(found).phases] == ["room"]


def test_an_adopted_part_that_only_protocols_left_out_use_is_no_slip() -> None:
    def unused(**files: str) -> list[str | None]:
        problems = build({**FILES, "protocols/room.yaml": ROOM}, **files).problems
        return [one.subject for one in problems if one.rule == "unused-name" and one.subject != "prep-trolley"]

    tailoring = f"{BASE}leave_out: [release]\n"
    upstream = f'name: Q\nversion: 1.0.0\ndigests: {{parts/hand-scrub.yaml: "sha256:{"0" * 64}"}}\n'
    assert unused(tailoring=tailoring) == ["hand-scrub"]
    assert unused(tailoring=tailoring, upstream=upstream) == []


@pytest.mark.parametrize("swapped", [False, True])
def test_fields_set_in_a_step_that_is_left_out_are_told_as_lost(swapped: bool) -> None:
    entries = ["  - {protocol: room, step: first, set: {takes: 4 min}}\n", "  - {protocol: room, drop: first}\n"]
    found = tailored("changes:\n" + "".join(reversed(entries) if swapped else entries))
    assert lost(found) == [(4 if swapped else 3, "first", "first")]
    assert "first" not in steps(found)
