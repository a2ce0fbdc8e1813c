"""An adopted set beside its baseline.

What is expected is worked out by hand from the small set in ``drifting.py``; the days are counted with a calendar. CSV
is read with the standard library's reader (RFC 4180).
"""

from __future__ import annotations

import csv
import datetime
import io
import json
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from stepfield.changes.drift import Drift, drift_of
from stepfield.changes.drift.as_csv import csv_drift, table
from stepfield.changes.drift.as_text import text_drift
from stepfield.checks import check_set
from stepfield.command import main
from stepfield.language import build_set
from tests.adopting.drifting import BASELINE, CLINIC, TAILORING, TODAY, adopted, set_in


def drift(tailoring: str = TAILORING, today: datetime.date = TODAY, **more: str) -> Drift:
    return drift_of(set_in(adopted(tailoring, more=more or None)), today)


def test_every_kind_of_local_change_is_told_with_what_it_was_and_is() -> None:
    found = drift()
    assert (found.clinic, found.baseline, found.version) == ("Harbour Lane", "Quillhaven Day Surgery", "3.2.0")
    assert {one.id: one.state for one in found.protocols} == {"mine": "own", "other": "left-out", "room": "shared"}
    assert [one.title for one in found.in_state("left-out")] == ["Other room"]
    room = found.protocols[2]
    told = {one.name: (one.kind, one.effect.word, one.title) for one in room.differences}
    assert told == {
        "wipe": ("set", "stricter", "Wipe the bench."),
        "last.look": ("set", "neutral", "Look round."),
        "photo": ("drop", "looser", "Take a picture."),
        "hum": ("add", "neutral", "Hum."),
    }
    fields = {one.name: [(each.name, each.before, each.after) for each in one.fields] for one in room.differences}
    assert fields["wipe"] == [("takes", "3 min", "4 min")]
    assert fields["last.look"] == [("do", "Look round.", "Look round from the door.")]
    photo = next(one for one in room.differences if one.name == "photo")
    assert set(photo.told) == {"role: scrub", "confirms: [pictured]", "touches: [camera]"}
    assert photo.reasons == ("a check is gone",)
    (cloth,) = found.things
    assert [(one.name, one.before, one.after) for one in cloth.fields] == [("title", "Cloth", "Cloth 30 x 30 cm")]
    assert [(one.role, one.before, one.after) for one in found.renamed] == [("runner", "Runner", "Helper")]


def test_a_settled_choice_is_told_with_the_steps_that_nobody_does_any_more() -> None:
    ((protocol, one),) = drift().settled
    assert (protocol.id, one.title, one.option_title) == ("room", "Light", "Ceiling lamp")
    assert one.never == (("wear", "Put on the lamp."),)


@pytest.mark.parametrize(
    ("today", "left", "said"),
    [
        (datetime.date(2026, 10, 22), 10, "(10 days left)"),
        (datetime.date(2026, 11, 1), 0, "(today is the last day)"),
        (datetime.date(2026, 11, 2), -1, "(EXPIRED 1 day ago)"),
    ],
)
def test_days_are_counted_to_the_last_day(today: datetime.date, left: int, said: str) -> None:
    found = drift(today=today)
    (photo,) = [one for one in found.differences if one.name == "photo"]
    assert (photo.agreement.days_left, photo.agreement.expired) == (left, left < 0)
    assert (photo.agreement.by, photo.agreement.on) == ("Hygiene board", datetime.date(2026, 5, 2))
    assert said in text_drift(found)


def test_what_expired_comes_first_then_the_looser_ones() -> None:
    order = [(one.agreement.expired, one.effect.word) for one in drift().differences]
    assert order[0] == (True, "looser")
    assert [word for _, word in order] == ["looser", "stricter", "neutral", "neutral", "neutral"]


def test_a_field_set_to_what_it_was_is_no_difference() -> None:
    entry = "changes: [{protocol: room, step: wipe, set: {takes: 4 min, do: Wipe the bench.}}]\n"
    (one,) = drift(TAILORING.partition("changes:")[0] + entry).protocols[-1].differences
    assert [field.name for field in one.fields] == ["takes"]


def test_a_field_that_is_taken_out_and_a_new_thing_are_told() -> None:
    text = (
        "baseline: {name: Quillhaven Day Surgery, version: 3.2.0}\n"
        "items: {mop: {title: Mop, starts: clean, in: [room]}}\n"
        "changes: [{protocol: room, step: rub, clear: [takes]}]\n"
    )
    found = drift(text)
    (mop,) = found.things
    assert (mop.kind, mop.title, mop.told) == ("new-thing", "Mop", ("starts: clean",))
    (rub,) = [one for one in found.differences if one.name == "rub"]
    assert [(one.name, one.before, one.after) for one in rub.fields] == [("takes", "30 s", "")]


def test_nothing_is_told_of_a_set_with_no_local_change() -> None:
    found = drift("baseline: {name: Quillhaven Day Surgery, version: 3.2.0}\n", **{"mine.yaml": ""})
    assert found.differences == found.settled == found.renamed == ()
    text = text_drift(found)
    assert "No local change of a step or a thing" in text
    assert "does not mean safe" in text


def test_a_protocol_is_the_clinics_own_if_it_was_not_adopted_whatever_the_clinic_says() -> None:
    text = TAILORING.replace("own: [mine]\n", "")
    assert [one.id for one in drift(text).in_state("own")] == ["mine"]


def test_what_cannot_be_taken_into_account_is_named() -> None:
    files = adopted(TAILORING.replace("step: wipe", "step: wip").replace("version: 3.2.0", "version: 3.1.0"))
    files["protocols/parts/look.yaml"] += b"# mine\n"
    del files["protocols/other.yaml"]
    missed = {one.path: one.message for one in drift_of(set_in(files), TODAY).missed}
    assert "edited here" in missed["protocols/parts/look.yaml"]
    assert "'other.yaml' is not there any more" in missed["protocols/upstream.yaml"]
    told = [one.message for one in drift_of(set_in(files), TODAY).missed]
    assert any("no step called 'wip'" in one for one in told)
    assert any("version 3.1.0" in one and "3.2.0" in one for one in told)


def test_local_changes_that_cannot_be_read_are_not_none() -> None:
    found = drift("baseline: [")
    assert found.unread is not None
    assert "not known" in text_drift(found)
    assert "No local change" not in text_drift(found)


def test_a_set_that_was_not_adopted_has_no_drift() -> None:
    files = {"clinic.yaml": CLINIC, **BASELINE}
    with pytest.raises(ValueError, match="not adopted"):
        drift_of(build_set({path: text.encode() for path, text in files.items()}), TODAY)


def test_every_deviation_of_the_check_is_in_the_drift_with_the_same_grade_and_line() -> None:
    """Two ways to the same: the rules' findings, and what is listed."""
    whole = set_in(adopted())
    found = {(one.line, one.name) for one in drift_of(whole, TODAY).differences if one.agreement.expired}
    told = {
        (one.span.line - 3, one.step) for one in check_set(whole, TODAY).findings if one.rule == "deviation-expired"
    }
    assert found == told != set()


def written(folder: Path, files: dict[str, bytes]) -> Path:
    for path, data in files.items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_bytes(data)
    return folder


def ran(*arguments: object) -> Result:
    return CliRunner().invoke(main, ["drift", "--today", "2026-11-02", *map(str, arguments)])


def test_the_command_tells_it_in_three_forms(tmp_path: Path) -> None:
    protocols = written(tmp_path, adopted()) / "protocols"
    text = ran("--set", protocols)
    assert text.exit_code == 0
    assert "[looser] step 'photo' is left out" in text.output
    assert f"{protocols.as_posix()}/tailoring.yaml:9" in text.output
    found = json.loads(ran("--set", protocols, "--format", "json").output)
    (photo,) = [one for one in found["protocols"][2]["changes"] if one["name"] == "photo"]
    assert (photo["grade"], photo["until"], photo["days_left"], photo["expired"]) == ("looser", "2026-11-01", -1, True)
    assert photo["agreed"] == {"by": "Hygiene board", "date": "2026-05-02"}
    lines = list(csv.DictReader(io.StringIO(ran("--set", protocols, "--format", "csv").output)))
    (wipe,) = [one for one in lines if one["name"] == "wipe"]
    assert (wipe["before"], wipe["after"], wipe["grade"], wipe["line"]) == ("3 min", "4 min", "stricter", "6")
    assert {one["kind"] for one in lines} >= {"set", "drop", "add", "thing", "role", "settled", "own", "left-out"}


@pytest.mark.parametrize(
    ("files", "says"),
    [
        ({"clinic.yaml": CLINIC.encode(), "room.yaml": b"kind: protocol\n"}, "not adopted from another"),
        ({"notes.txt": b""}, "no protocol set"),
        ({"clinic.yaml": b"clinic: ["}, "cannot be read as meant"),
    ],
)
def test_a_wrong_call_says_why(tmp_path: Path, files: dict[str, bytes], says: str) -> None:
    result = ran("--set", written(tmp_path, files))
    assert result.exit_code == 2
    assert says in result.output


def test_a_reason_cannot_make_a_spreadsheet_work_something_out() -> None:
    """Signs that spreadsheets take for the beginning of a formula: OWASP, CSV injection (from memory)."""
    for sign in "=+-@\t\r":
        text = table(("a",), [{"a": f"{sign}1+1"}])
        (line,) = list(csv.DictReader(io.StringIO(text, newline="")))
        assert line["a"] == f"'{sign}1+1"
    evil = TAILORING.replace("The bench is long.", "'=HYPERLINK(1)'")
    assert "'=HYPERLINK(1)" in csv_drift(drift(evil))


def test_text_of_the_clinic_cannot_steer_the_terminal() -> None:
    shown = text_drift(replace(drift(), clinic="a\x1b[31mb"))
    assert "\x1b" not in shown
    assert "a\\x1b[31mb" in shown
