"""``stepfield offer``: a patch that git applies to the shared text, and that makes its entries needless."""

from __future__ import annotations

import subprocess
from pathlib import Path
from typing import Any

import pytest
import yaml
from click.testing import CliRunner, Result
from hypothesis import HealthCheck, given, settings

from stepfield.adopting.mail import patch
from stepfield.adopting.offering import CannotOfferError, Offer, offered_of
from stepfield.command import main
from stepfield.language import build_set
from tests.adopting.moving import EDITS, FILES, ROOM, TAILORING, adopted, edited_room, meaning, moved, same

DEMO = Path(__file__).parents[2] / "protocols"
LARKMERE = Path(__file__).parents[1] / "clinics" / "larkmere" / "protocols"
PLAIN = "baseline: {name: Quillhaven Day Surgery, version: 2.0.0}\n"


def git(folder: Path, *words: str, given: bytes = b"") -> str:
    safe = ["-c", "user.name=Keeper", "-c", "user.email=keeper@example.org", "-c", "commit.gpgsign=false"]
    done = subprocess.run(["git", *safe, *words], cwd=folder, input=given, capture_output=True, check=False)
    assert done.returncode == 0, done.stderr.decode()
    return done.stdout.decode()


def baseline(folder: Path, files: dict[str, str] | None = None) -> Path:
    """A repository that keeps the shared text."""
    for path, text in (FILES if files is None else files).items():
        target = folder / "protocols" / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(text.encode())
    git(folder, "init", "-q")
    git(folder, "add", ".")
    git(folder, "commit", "-q", "-m", "first")
    return folder


def tailoring(**more: Any) -> str:
    return TAILORING + yaml.safe_dump(more, sort_keys=False)


def applied(result: Offer, folder: Path) -> dict[str, str]:
    """The shared text with the patch applied by git."""
    repository = baseline(folder)
    git(
        repository,
        "apply",
        "--check",
        "--whitespace=nowarn",
        "-",
        given=patch(result.before, result.after, "protocols"),
    )
    git(repository, "apply", "--whitespace=nowarn", "-", given=patch(result.before, result.after, "protocols"))
    return {path: (repository / "protocols" / path).read_bytes().decode() for path in FILES}


def lost(text: str, files: dict[str, str]) -> list[str]:
    found = build_set(adopted(text, files))
    return [one.message for one in found.problems if one.rule == "tailoring-lost"]


NEEDLESS = "nothing is changed"
ONCE = {"least": "1 min", "likely": "2 min", "most": "4 min"}
HOT = {"kind": "fire", "text": "Hot: mind it."}
NEW = {"id": "new", "role": "scrub", "do": "New."}
CHANGES: list[tuple[dict[str, Any], str]] = [
    ({"step": "main", "set": {"takes": "9 min"}, "expects": {"takes": ONCE}}, "no longer what"),
    ({"step": "main", "set": {"do": "Do it " + "very " * 40 + "well."}}, NEEDLESS),
    ({"step": "main", "set": {"needs": {}, "confirms": ["done", "more"]}, "clear": ["why", "when"]}, NEEDLESS),
    ({"step": "count", "set": {"counts": [], "cautions": [HOT]}}, NEEDLESS),
    ({"step": "tidy", "set": {"role": "scrub", "waits": [{"for": "main", "at_least": "2 min"}]}}, NEEDLESS),
    ({"add": {**NEW, "touches": ["tray"]}, "place": {"after": "main"}}, NEEDLESS),
    ({"add": NEW, "place": {"before": "tidy"}}, NEEDLESS),
    ({"add": NEW, "place": {"after": "first"}}, NEEDLESS),
    ({"drop": "aside"}, "has no step called"),
    ({"drop": "tidy"}, "has no step called"),
    ({"drop": "main"}, "has no step called"),
]


@pytest.mark.parametrize(("change", "told"), CHANGES)
def test_an_entry_becomes_a_patch_that_makes_it_needless(change: dict[str, Any], told: str, tmp_path: Path) -> None:
    text = tailoring(changes=[{"protocol": "room", **change, "because": "It is so."}])
    before = build_set(adopted(text))
    assert [one for one in before.problems if one.rule == "tailoring-lost"] == []
    result = offered_of(adopted(text), "p")
    assert result.refused == []
    new = applied(result, tmp_path)
    (message,) = lost(text, new)
    assert told in message
    assert new["other.yaml"] == FILES["other.yaml"]
    assert same(before, build_set(adopted(TAILORING, new)))


def test_a_change_inside_a_part_speaks_the_names_of_the_part(tmp_path: Path) -> None:
    change = {"needs": {"scrub.hands": "clean", "table": "disinfected"}, "after": ["first.wipe"], "touches": ["table"]}
    text = tailoring(changes=[{"protocol": "room", "step": "first.dry", "set": change}])
    result = offered_of(adopted(text), "p")
    (one,) = result.offered
    assert one.also == ("other",)
    new = applied(result, tmp_path)
    assert "needs: {who.hands: clean, what: disinfected}" in new["parts/wipe-down.yaml"]
    assert "after: [wipe]" in new["parts/wipe-down.yaml"]
    assert "touches: [what]" in new["parts/wipe-down.yaml"]
    (message,) = lost(text, new)
    assert NEEDLESS in message


def test_things_are_declared_where_the_protocols_declare_theirs(tmp_path: Path) -> None:
    text = tailoring(
        surfaces={"tray": {"title": "Big tray"}, "shelf": {"title": "Shelf", "in": ["room"]}},
        items={
            "swab": {"count": 20, "because": "We use more."},
            "knife": {"title": "Blade"},
            "pin": {"title": "Pin", "in": ["room"], "pack": "kit"},
        },
        packs={"set": {"title": "Set", "in": ["room"], "holds": {"clip": {"title": "Clip", "count": 2}}}},
    )
    before = build_set(adopted(text))
    result = offered_of(adopted(text), "p")
    assert result.refused == []
    new = applied(result, tmp_path)
    assert len(lost(text, new)) == 7
    after = build_set(adopted(TAILORING, new))
    for one, other in zip(before.protocols, after.protocols, strict=True):
        assert {name: (t.title, t.count, t.held_in, t.starts, t.sharp) for name, t in one.subjects.items()} == {
            name: (t.title, t.count, t.held_in, t.starts, t.sharp) for name, t in other.subjects.items()
        }


@pytest.mark.parametrize(
    ("more", "name", "told"),
    [
        ({"roles": {"scrub": {"title": "Assistant"}}}, "roles/scrub", "each clinic's own"),
        ({"choose": {"room": {"size": "big"}}}, "choose/room/size", "concerns this clinic alone"),
        ({"leave_out": ["room"]}, "leave_out/room", "concerns this clinic alone"),
        (
            {"changes": [{"protocol": "room", "add": {"id": "n", "do": "N."}, "place": {"after": "first.wipe"}}]},
            "room/n",
            "inside the part 'wipe-down'",
        ),
        (
            {"changes": [{"protocol": "room", "step": "first.dry", "set": {"touches": ["gown"]}}]},
            "room/first.dry",
            "",
        ),
        ({"changes": [{"protocol": "room", "drop": "nowhere"}]}, "room/nowhere", "has no step 'nowhere'"),
    ],
)
def test_what_cannot_be_offered_is_told_and_the_patch_is_empty(more: dict[str, Any], name: str, told: str) -> None:
    result = offered_of(adopted(tailoring(**more)), "p", [name])
    if told:
        assert told in result.refused[0][1]
        assert result.offered == []
        assert result.before == result.after
    else:  # the name is known in the other protocol too, so that it can be
        assert result.offered[0].also == ("other",)


def test_a_name_that_another_user_of_the_part_lacks_is_no_part_of_a_patch() -> None:
    files = adopted(
        tailoring(changes=[{"protocol": "room", "step": "first.dry", "set": {"touches": ["gown"]}}]),
        {**FILES, "other.yaml": FILES["other.yaml"].replace(", gown: {worn_on: body, starts: clean}", "")},
    )
    result = offered_of(files, "p")
    assert result.offered == []
    assert "no subject is called 'gown'" in result.refused[0][1]


@pytest.mark.parametrize(
    ("spoil", "names", "told"),
    [
        ({"p/room.yaml": ROOM.replace("Tidy.", "Tidy up.").encode()}, [], "run stepfield tailor first"),
        ({"p/room.yaml": None}, [], "put it back first"),
        ({"p/upstream.yaml": None}, [], "not adopted"),
        ({"p/tailoring.yaml": None}, [], "not adopted"),
        ({"p/tailoring.yaml": b"baseline: x\n"}, [], "mend that first"),
        ({}, ["room/mian"], "the nearest: room/main"),
        ({}, ["xyz"], "its entries: room/main"),
    ],
)
def test_a_set_that_cannot_be_offered_from_is_refused(spoil: dict[str, Any], names: list[str], told: str) -> None:
    files = adopted(tailoring(changes=[{"protocol": "room", "step": "main", "set": {"do": "Other."}}]))
    changed = {path: data for path, data in (files | spoil).items() if data is not None}
    with pytest.raises(CannotOfferError, match=told):
        offered_of(changed, "p", names)


seen = {"whole": 0, "part": 0}


@settings(
    max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture]
)
@given(EDITS)
def test_an_edit_that_was_moved_and_offered_is_the_edit_again(edits: list[tuple[str, str, Any]]) -> None:
    outcome, _ = moved({"room.yaml": edited_room(edits)})
    if outcome.left or not outcome.moved[0].additions:
        return
    result = offered_of(outcome.files, "p")
    if result.refused:
        seen["part"] += 1
        return
    seen["whole"] += 1
    plain = {**adopted(TAILORING), **{f"p/{path}": data for path, data in result.after.items()}}
    meant = build_set(outcome.files).protocols
    assert [meaning(one) for one in build_set(plain).protocols] == [meaning(one) for one in meant]


def test_most_of_these_can_be_offered() -> None:
    assert seen["whole"] > seen["part"]


@pytest.fixture
def clinic(tmp_path: Path) -> Path:
    """Larkmere, which adopted the demonstration set."""
    folder = tmp_path / "larkmere"
    done = CliRunner().invoke(main, ["adopt", str(DEMO), str(folder), "--clinic", "L", "--version", "2.0.0"])
    assert done.exit_code == 0, done.output
    for file in LARKMERE.glob("*.yaml"):
        (folder / "protocols" / file.name).write_bytes(file.read_bytes())
    return folder / "protocols"


def ran(folder: Path, *words: object) -> Result:
    return CliRunner().invoke(main, ["offer", *map(str, words), "--set", str(folder)])


def test_a_clinic_offers_all_it_can_as_a_mail_that_git_takes(clinic: Path, tmp_path: Path) -> None:
    out = tmp_path / "offer.patch"
    done = ran(clinic, "--from", "Prüfstelle <board@example.org>", "--output", out)
    assert done.exit_code == 1
    assert "skin-lesion/wipe-pot is not offered" in done.output
    files = {path.relative_to(DEMO).as_posix(): path.read_text(encoding="utf-8") for path in DEMO.rglob("*.yaml")}
    repository = baseline(tmp_path / "shared", files)
    git(repository, "am", str(out))
    assert git(repository, "log", "-1", "--format=%an <%ae>, %cn").strip() == "Prüfstelle <board@example.org>, Keeper"
    message = git(repository, "log", "-1", "--format=%B")
    assert "skin-lesion/lesion-prep.check-dry (stricter): The room is cool" in message
    assert "toenail, wrist-release" in message
    assert [one.rule for one in build_set(read(repository)).problems if one.rule != "unused-name"] == []


def read(repository: Path) -> dict[str, bytes]:
    return {path.relative_to(repository).as_posix(): path.read_bytes() for path in repository.rglob("*.yaml")}


def test_one_entry_is_offered_without_a_sender_and_elsewhere(clinic: Path, tmp_path: Path) -> None:
    done = ran(clinic, "toenail.settle", "--into", ".")
    assert done.exit_code == 0, done.output
    assert "From" not in done.output
    assert "--- a/toenail.yaml\n+++ b/toenail.yaml\n" in done.output
    before = {path: path.read_bytes() for path in clinic.rglob("*") if path.is_file()}
    git(tmp_path, "init", "-q")
    (tmp_path / "toenail.yaml").write_bytes((DEMO / "toenail.yaml").read_bytes())
    git(tmp_path, "apply", "-", given=done.output.encode())
    assert "Lay the back of the chair flat" in (tmp_path / "toenail.yaml").read_text(encoding="utf-8")
    assert before == {path: path.read_bytes() for path in clinic.rglob("*") if path.is_file()}


def test_no_reason_can_be_taken_for_a_change(clinic: Path, tmp_path: Path) -> None:
    path = clinic / "tailoring.yaml"
    evil = '"--- a/evil.yaml +++ b/evil.yaml @@ -0,0 +1 @@ ' + "x " * 12 + 'diff --git a/evil b/evil --- a/evil"'
    text = path.read_text(encoding="utf-8")
    assert text.count("because: We have a chair that tilts, and no couch.") == 1
    path.write_text(text.replace("We have a chair that tilts, and no couch.", evil), encoding="utf-8")
    for more in ([], ["--from", "Board <board@example.org>"]):
        done = ran(clinic, "toenail/settle", *more)
        told = git(tmp_path, "apply", "--numstat", "-", given=done.output.encode())
        assert [line.split("\t")[2] for line in told.splitlines()] == ["protocols/toenail.yaml"]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["toenail/setle"], "the nearest: toenail/settle"),
        (["leave_out/wrist-release"], "nothing that can be offered"),
        (["--into", "../x"], "cannot be the place"),
        (["--into", "a b"], "cannot be the place"),
        (["--from", "nobody"], "no name with an address"),
        (["--from", "a\nSubject: x <b@c.d>"], "no name with an address"),
        (["--output", "/nowhere/at/all"], "cannot be written"),
    ],
)
def test_bad_input_is_told(clinic: Path, words: list[str], told: str) -> None:
    done = ran(clinic, *words)
    assert done.exit_code == 2, done.output
    assert "Traceback" not in done.output
    assert told in " ".join(done.output.split())


def test_lines_without_an_end_and_with_other_ends_are_patched_too(tmp_path: Path) -> None:
    before = {"a.yaml": b"one\r\ntwo\x0b2\nthree", "b.yaml": b"same\n"}
    after = {"a.yaml": b"one\r\nTWO\x0b2\nthree\n", "b.yaml": b"same\n"}
    repository = baseline(tmp_path, {path: data.decode() for path, data in before.items()})
    git(repository, "apply", "-", given=patch(before, after, "protocols"))
    assert (repository / "protocols/a.yaml").read_bytes() == after["a.yaml"]
