"""What taking a newer baseline in comes to: which local changes fit, are needless, lost, or meet a change."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from stepfield.adopting import CannotCatchUpError, CaughtUp, Fate, Settled, UnknownEntryError, source_in
from stepfield.language import build_set
from tests.adopting.catching import BASE, CLINIC, HALL, LOOSER, ROOM, RUB, adopted, caught, changed, source

DEMO = Path(__file__).parents[2] / "protocols"
FOUR = "[{protocol: room, step: wipe, set: {takes: 4 min}, expects: {takes: 3 min}}]"
DROP = f"[{{protocol: room, drop: photo, {LOOSER}}}]"
ADD = "[{protocol: room, add: {id: blanket, role: circulating, do: Lay a blanket.}, place: {after: photo}}]"
PHOTO = "      - {id: photo, role: circulating, do: Take a photo of the room., why: For the file.}\n"
HERS = "      - {id: blanket, role: circulating, do: Lay a blanket.}\n"


def only(found: CaughtUp) -> tuple[Fate, str]:
    (one,) = found.entries
    return one.met.fate, one.met.why


def tailoring(found: CaughtUp) -> str:
    return found.after["tailoring.yaml"].decode()


def problems(found: CaughtUp) -> list[str]:
    whole = build_set({f"p/{path}": data for path, data in found.after.items()})
    return [f"{one.rule}: {one.message}" for one in whole.problems]


def test_the_baseline_is_taken_in_and_what_is_the_clinics_own_stays() -> None:
    files = adopted() | {"mine.yaml": HALL.encode(), "screens.yaml": b"days: {}\n", "accepted.yaml": b"accepted: []\n"}
    newer = changed(("room.yaml", "takes: 3 min", "takes: 5 min"), more=HALL)
    newer = replace(newer, files={path: data for path, data in newer.files.items() if path != "hall.yaml"})
    found = caught(files, newer)
    for path in ("mine.yaml", "screens.yaml", "accepted.yaml", "clinic.yaml"):
        assert found.after[path] == files[path]
    assert {path: found.after[path] for path in newer.files} == newer.files
    assert found.removed == ("hall.yaml",)
    assert sorted(found.changed) == ["more.yaml", "room.yaml", "tailoring.yaml", "upstream.yaml"]
    assert found.after["upstream.yaml"] == adopted(newer)["upstream.yaml"]
    assert tailoring(found) == adopted(newer)["tailoring.yaml"].decode()
    assert found.before == files


def test_the_same_version_is_nothing_to_do() -> None:
    files = adopted(changes=FOUR)
    found = caught(files, source())
    assert found.changed == {}
    assert found.after == files
    assert found.undecided == ()


@pytest.mark.parametrize(
    ("key", "entry", "edit", "fate", "said"),
    [
        ("changes", FOUR, ("room.yaml", "Tidy up", "Tidy"), Fate.FITS, "its step is as it was"),
        ("changes", FOUR, ("room.yaml", "Wipe the table", "Wipe"), Fate.FITS, "other fields of the same step"),
        ("changes", FOUR, ("room.yaml", "takes: 3 min", "takes: 4 min"), Fate.NEEDLESS, "says the same"),
        ("changes", FOUR, ("room.yaml", "takes: 3 min", "takes: 5 min"), Fate.MEETS, "changed what this entry sets"),
        ("changes", FOUR, ("room.yaml", "id: wipe", "id: wipe-table"), Fate.LOST, "called 'wipe-table' now"),
        ("changes", FOUR.replace("wipe", "hands.rub").replace("3 min", "25 s"), ("parts/rub.yaml", "25 s", "30 s"),
         Fate.MEETS, "changed what"),
        ("changes", DROP, ("room.yaml", "takes: 3 min", "takes: 4 min"), Fate.FITS, "as it was"),
        ("changes", DROP, ("room.yaml", "Take a photo", "Make a photo"), Fate.FITS, "other fields"),
        ("changes", DROP, ("room.yaml", PHOTO, ""), Fate.NEEDLESS, "does without"),
        ("changes", DROP, ("room.yaml", "id: photo", "id: picture"), Fate.LOST, "called 'picture' now"),
        ("changes", DROP, ("room.yaml", "why: For", "touches: [tray], why: For"), Fate.MEETS, "the step that is left"),
        ("changes", ADD, ("room.yaml", "Tidy up", "Tidy"), Fate.FITS, "its place"),
        ("changes", ADD, ("room.yaml", PHOTO, PHOTO + HERS), Fate.NEEDLESS, "the same step"),
        ("changes", ADD, ("room.yaml", PHOTO, PHOTO + HERS.replace("a bl", "two bl")), Fate.MEETS, "of its own"),
        ("changes", ADD, ("room.yaml", PHOTO, PHOTO + HERS.replace("id: b", "id: warm-b")), Fate.MEETS, "'warm-blan"),
        ("changes", ADD, ("room.yaml", PHOTO, ""), Fate.LOST, "no step called 'photo'"),
        ("changes", ADD, ("room.yaml", "id: photo", "id: picture"), Fate.LOST, "called 'picture' now"),
        ("items", "{cloth: {title: Wet cloth}}", ("room.yaml", "count: 10", "count: 9"), Fate.FITS, "still there"),
        ("items", "{cloth: {title: Wet cloth}}", ("room.yaml", "title: Cloth", "title: Wet cloth"), Fate.NEEDLESS, ""),
        ("items", "{swab: {count: 5}}", ("room.yaml", "count: 10", "count: 9"), Fate.MEETS, "changed what"),
        ("items", "{cloth: {title: Wet cloth}}", ("room.yaml", "cloth", "wipe-cloth"), Fate.LOST, "'wipe-cloth'"),
        ("surfaces", "{tray: {title: Bowl}}", ("room.yaml", "title: Tray", "title: Bowl"), Fate.NEEDLESS, ""),
        ("surfaces", "{side-table: {title: Small}}", ("room.yaml", "Tidy up", "Tidy"), Fate.FITS, "clinic.yaml"),
        ("choose", "{room: {size: small}}", ("room.yaml", "Tidy up", "Tidy"), Fate.FITS, "still there"),
        ("choose", "{room: {size: small}}", ("room.yaml", "small: S", "tiny: S"), Fate.LOST, "no option 'small'"),
        ("choose", "{room: {size: small}}", ("room.yaml", "size:", "sizes:"), Fate.LOST, "nearest name is 'sizes'"),
        ("roles", "{scrub: {title: Assistant}}", ("room.yaml", "Tidy up", "Tidy"), Fate.FITS, "clinic.yaml"),
        ("leave_out", "[hall]", ("room.yaml", "Tidy up", "Tidy"), Fate.FITS, "left out"),
    ],
)  # fmt: skip
def test_what_becomes_of_an_entry(key: str, entry: str, edit: tuple[str, str, str], fate: Fate, said: str) -> None:
    newer = changed(edit)
    files = adopted(**{key: entry})
    found = caught(files, newer)
    assert only(found)[0] is fate
    assert said in only(found)[1]
    asks = fate in (Fate.MEETS, Fate.LOST)
    assert bool(found.undecided) is asks
    if fate is Fate.NEEDLESS:
        assert f"{key}:" not in [line.rstrip() for line in tailoring(found).splitlines()]
        assert "since the baseline says the same" in tailoring(found)
        assert problems(found) == []
    elif not asks:
        assert tailoring(found) == files["tailoring.yaml"].decode().replace("version: 1.0.0", "version: 1.1.0")


def test_a_protocol_that_is_gone_renamed_or_split() -> None:
    files = adopted(changes="[{protocol: hall, step: air, set: {do: Air the hall.}}]")
    shorter = {path: text for path, text in BASE.items() if path != "hall.yaml"}
    assert only(caught(files, source(shorter, "1.1.0"))) == (Fate.LOST, "the newer baseline has no protocol 'hall'")
    renamed = source({**shorter, "corridor.yaml": HALL}, "1.1.0")
    assert "its steps are now in 'corridor', and 'air' is in 'corridor'" in only(caught(files, renamed))[1]
    first, second = HALL.splitlines(keepends=True)[-2:]
    split = {**shorter, "sweeping.yaml": HALL.replace(second, ""), "airing.yaml": HALL.replace(first, "")}
    told = only(caught(files, source(split, "1.1.0")))[1]
    assert "its steps are now in 'airing' and 'sweeping', and 'air' is in 'airing'" in told
    left_out = caught(adopted(leave_out="[hall]"), source(shorter, "1.1.0"))
    assert only(left_out)[0] is Fate.NEEDLESS
    assert problems(left_out) == []
    assert only(caught(adopted(leave_out="[hall]"), renamed))[0] is Fate.LOST


def test_a_step_that_moved_to_another_protocol_is_named_there() -> None:
    wipe = next(line for line in ROOM.splitlines(keepends=True) if "id: wipe" in line)
    there = "      - {id: wipe, role: circulating, do: Wipe the table., takes: 3 min}\n"
    newer = source({**BASE, "room.yaml": ROOM.replace(wipe, ""), "hall.yaml": HALL + there}, "1.1.0")
    assert "it is in 'hall' now" in only(caught(adopted(changes=FOUR), newer))[1]


def test_kept_an_entry_expects_what_the_baseline_says_now() -> None:
    newer = changed(("room.yaml", "takes: 3 min", "takes: 5 min"))
    files = adopted(changes=FOUR)
    found = caught(files, newer, Settled(keep=frozenset({"room/wipe"})))
    assert found.undecided == ()
    assert "set: {takes: 4 min}, expects: {takes: 5 min}" in tailoring(found)
    assert [one for one in problems(found) if "tailoring-lost" in one] == []
    (row,) = found.entries[0].met.rows
    assert (row.field, row.before, row.now, row.ours) == ("takes", "3 min", "5 min", "4 min")


def test_where_the_baseline_is_taken_the_entry_stays_as_a_comment() -> None:
    newer = changed(("room.yaml", "takes: 3 min", "takes: 5 min"))
    found = caught(adopted(changes=FOUR), newer, Settled(take=frozenset({"room/wipe"})))
    assert found.undecided == ()
    assert "changes: []" not in tailoring(found)
    assert "# Taken out on catching up with 1.1.0, since the baseline was taken:\n#   changes: [{protocol" in tailoring(
        found
    )
    assert problems(found) == []


def test_of_several_fields_only_those_concerned_go() -> None:
    expects = "expects: {takes: 3 min, do: Wipe the table.}"
    two = f"[{{protocol: room, step: wipe, set: {{takes: 4 min, do: Wipe well.}}, {expects}}}]"
    newer = changed(("room.yaml", "takes: 3 min", "takes: 5 min"))
    found = caught(adopted(changes=two), newer, Settled(take=frozenset({"all"})))
    assert "set: {do: Wipe well.}, expects: {do: Wipe the table.}" in tailoring(found)
    assert problems(found) == []
    newer = changed(("room.yaml", "takes: 3 min", "takes: 4 min"))
    found = caught(adopted(changes=two), newer)
    assert found.undecided == ()
    assert found.entries[0].met.needless == ("takes",)
    assert "set: {do: Wipe well.}, expects: {do: Wipe the table.}" in tailoring(found)
    assert problems(found) == []


def test_an_entry_lost_and_kept_stands_as_a_finding() -> None:
    newer = changed(("room.yaml", "id: wipe", "id: wipe-table"))
    found = caught(adopted(changes=FOUR), newer, Settled(keep=frozenset({"all"})))
    assert found.undecided == ()
    assert [one.rule for one in found.appeared] == ["tailoring-lost"]
    assert "step: wipe" in tailoring(found)


def test_what_was_lost_before_is_left_and_asked_of_nobody() -> None:
    files = adopted(changes="[{protocol: room, drop: nothing}]")
    found = caught(files, changed(("room.yaml", "Tidy up", "Tidy")))
    assert only(found)[0] is Fate.LOST_BEFORE
    assert (found.undecided, found.appeared) == ((), ())
    again = caught(files, changed(("room.yaml", "id: photo", "id: nothing")))
    assert only(again) == (Fate.FITS, "it had no effect before, and takes effect now")


def test_two_entries_that_contradict_are_told_and_both_stay() -> None:
    both = f"{FOUR[:-1]}, {{protocol: room, step: wipe, set: {{takes: 9 min}}}}]"
    found = caught(adopted(changes=both), changed(("room.yaml", "Tidy up", "Tidy")))
    assert [(one.met.entry.name, one.met.fate) for one in found.entries] == [
        ("room/wipe", Fate.FITS),
        ("room/wipe:2", Fate.LOST_BEFORE),
    ]
    assert "is set in line 2 already" in found.entries[1].met.why
    assert both in tailoring(found)


def test_what_is_taken_out_of_a_step_here() -> None:
    entry = f"[{{protocol: room, step: photo, set: {{takes: 1 min}}, clear: [why], {LOOSER}}}]"
    found = caught(adopted(changes=entry), changed(("room.yaml", ", why: For the file.", "")))
    assert found.entries[0].met.needless == ("why",)
    assert "#   clear: [why]\n" in tailoring(found)
    assert "set: {takes: 1 min}, because" in tailoring(found)
    assert problems(found) == []


def test_a_thing_of_its_own_meets_one_of_the_baseline() -> None:
    own = "{lamp: {title: Lamp, in: [room]}}"
    newer = changed(("room.yaml", "cloth: {title: Cloth}", "cloth: {title: Cloth}, lamp: {title: Big lamp}"))
    found = caught(adopted(items=own), newer)
    assert only(found)[0] is Fate.MEETS
    assert only(caught(adopted(items=own), changed(("room.yaml", "Tidy up", "Tidy"))))[0] is Fate.FITS
    taken = caught(adopted(items=own), newer, Settled(take=frozenset({"items/lamp"})))
    assert "tailoring-lost" not in str(problems(taken))


def test_what_the_baseline_guards_less_is_told() -> None:
    newer = changed(
        ("room.yaml", ", makes: {side-table: disinfected}", ""),
        ("parts/rub.yaml", "25 s", "20 s"),
        ("hall.yaml", "      - {id: air, role: circulating, do: Open the windows of the hall.}\n", ""),
    )
    told = [one.say for one in caught(adopted(), newer).loosened]
    assert told == [
        "step 'wipe' of 'room', makes: a reset is gone, or it reaches less",
        "step 'hands.rub' of 'room', takes: the least time it takes is shorter",
    ]


def test_what_a_shared_part_does_in_a_protocol_of_the_clinics_own_is_told_too() -> None:
    use = "      - {use: rub, as: hands, with: {who: circulating}}\n"
    files = adopted(own="[mine]", changes="[{protocol: mine, step: hands.rub, set: {takes: 1 min}}]")
    files["mine.yaml"] = (HALL + use).encode()
    found = caught(files, changed(("parts/rub.yaml", "25 s", "20 s")))
    assert "step 'hands.rub' of 'mine', takes: the least time it takes is shorter" in [
        one.say for one in found.loosened
    ]
    assert [one.met.fate for one in found.entries] == [Fate.FITS, Fate.MEETS]
    lost = caught(files, source({"hall.yaml": HALL, "room.yaml": ROOM.replace("{use: rub", "# {use: rub")}, "1.1.0"))
    assert any(one.span.path == "p/mine.yaml" for one in lost.appeared)


def test_findings_of_the_result_are_told() -> None:
    looser = f"[{{protocol: room, step: wipe, set: {{makes: {{side-table: clean}}}}, {LOOSER}}}]"
    newer = changed(("room.yaml", "do: Tidy up.,", "do: Tidy up., needs: {side-table: disinfected},"))
    found = caught(adopted(changes=looser), newer)
    assert [(one.rule, one.span.path) for one in found.appeared] == [("needs-not-met", "p/tailoring.yaml")]


def test_what_clinic_yaml_lacks_is_told_with_what_to_write() -> None:
    clinic = CLINIC.replace("{scrub:", "{porter: {title: Porter}, scrub:").replace(
        "{side-table:", "{bench: {title: Bench}, side-table:"
    )
    hall = HALL.replace("team: [circulating]", "team: [circulating, porter]").replace(
        "takes: 5 min}", "touches: [bench]}"
    )
    found = caught(adopted(changes=FOUR), source({**BASE, "hall.yaml": hall}, "1.1.0", clinic))
    assert found.lacking == (
        'Write `porter: {title: "Porter"}` under `roles` in clinic.yaml.',
        'Write `bench: {title: "Bench", starts: contaminated}` under `surfaces` in clinic.yaml.',
    )
    assert {one.rule for one in found.appeared} == {"unknown-name"}


@pytest.mark.parametrize(
    ("version", "text", "said"),
    [
        ("0.9.0", "Tidy", "older than 1.0.0"),
        ("1.0.0-beta.2", "Tidy", "older than 1.0.0"),
        ("1.0.0", "Tidy", "its files are others"),
        ("0.0.0-files.abc", "Tidy", "has no version"),
    ],
)
def test_what_is_no_newer_version_is_refused(version: str, text: str, said: str) -> None:
    with pytest.raises(CannotCatchUpError, match=said):
        caught(adopted(), changed(("room.yaml", "Tidy up", text), version=version))


def test_files_of_the_clinics_own_are_never_replaced() -> None:
    own = adopted(own="[mine]") | {"mine.yaml": HALL.encode()}
    with pytest.raises(CannotCatchUpError, match=r"has 'mine.yaml', and your clinic has another file.*'own-mine'"):
        caught(own, changed(mine=ROOM))
    found = caught(own, changed(mine=HALL))
    assert only(found) == (Fate.NEEDLESS, "the baseline has this protocol now, word for word")
    assert problems(found) == []


def test_an_edited_or_missing_file_of_the_baseline_is_refused() -> None:
    newer = changed(("room.yaml", "Tidy up", "Tidy"))
    with pytest.raises(CannotCatchUpError, match=r"'room.yaml' was edited here.*stepfield tailor"):
        caught(adopted() | {"room.yaml": ROOM.replace("Tidy up", "Tidy").encode()}, newer)
    without = {path: data for path, data in adopted().items() if path != "hall.yaml"}
    with pytest.raises(CannotCatchUpError, match=r"'hall.yaml' of the adopted set is not there"):
        caught(without, newer)
    caught(adopted() | {"room.yaml": ROOM.replace("\n", "\r\n").encode()}, newer)


@pytest.mark.parametrize("path", ["tailoring.yaml", "upstream.yaml", "clinic.yaml"])
def test_a_set_that_was_not_adopted_or_cannot_be_read_is_refused(path: str) -> None:
    newer = changed(("room.yaml", "Tidy up", "Tidy"))
    with pytest.raises(CannotCatchUpError, match=f"no {path}"):
        caught({name: data for name, data in adopted().items() if name != path}, newer)
    for broken in (b"a: [", b"newer: field\n"):
        with pytest.raises(CannotCatchUpError, match=f"p/{path} line 1 cannot be read as meant"):
            caught(adopted() | {path: broken}, newer)


def test_another_set_is_refused_and_another_name_is_told() -> None:
    with pytest.raises(CannotCatchUpError, match="another set"):
        caught(adopted(), source({"other.yaml": HALL}, "1.1.0"))
    renamed = CLINIC.replace("Quillhaven Day Surgery", "Quillhaven Group")
    found = caught(adopted(changes=FOUR), source({**BASE, "parts/rub.yaml": RUB + "# x\n"}, "1.1.0", renamed))
    assert found.remarks == ("The set was that of 'Quillhaven Day Surgery', and is that of 'Quillhaven Group' now.",)
    assert "baseline: {name: Quillhaven Group, version: 1.1.0}" in tailoring(found)


def test_an_entry_that_is_not_there_cannot_be_decided_on() -> None:
    newer = changed(("room.yaml", "takes: 3 min", "takes: 5 min"))
    with pytest.raises(UnknownEntryError, match="the nearest is 'room/wipe'"):
        caught(adopted(changes=FOUR), newer, Settled(keep=frozenset({"room/wip"})))
    both = frozenset({"room/wipe"})
    with pytest.raises(UnknownEntryError, match="say one of them"):
        caught(adopted(changes=FOUR), newer, Settled(keep=both, take=both))


def test_versions_made_of_content_are_taken_in_and_it_is_said() -> None:
    old = source(version="0.0.0-files.000000000001")
    found = caught(adopted(old), changed(("room.yaml", "Tidy up", "Tidy"), version="0.0.0-files.000000000002"))
    assert "which of the two is the newer one is not known" in found.remarks[0]


def test_the_demonstration_set_caught_up_with_is_the_demonstration_set_adopted() -> None:
    old = source_in(DEMO, version="1.0.0")
    files = {path: data for path, data in old.files.items() if path != "toenail.yaml"}
    files["skin-lesion.yaml"] = files["skin-lesion.yaml"].replace(b"version: ", b"# newer\nversion: ", 1)
    newer = replace(old, version="1.1.0", files={**files, "toe.yaml": old.files["toenail.yaml"]})
    found = caught(adopted(old), newer)
    assert found.after == adopted(newer)
    assert [one.say for one in found.loosened] == ["protocol 'toenail': it is gone as a whole"]
