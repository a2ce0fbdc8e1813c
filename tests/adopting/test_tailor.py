"""``stepfield tailor``: what was edited in an adopted file stands in tailoring.yaml, and the set asks the same."""

from __future__ import annotations

import hashlib
import subprocess
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import networkx as nx
import pytest
import yaml
from click.testing import CliRunner, Result
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from stepfield.adopting.moving import Outcome, move_edits
from stepfield.command import main
from stepfield.language import ProtocolSet, build_set
from stepfield.language.model import Protocol, Step
from stepfield.language.schemas import schema
from stepfield.language.tailoring_fields import bare, field_of

CLINIC = "clinic: Larkmere Minor Surgery\nroles: {scrub: {title: Scrub}, circulating: {title: Circulating}}\n"
ROOM = """\
kind: protocol
title: Room
version: 1.0.0
owner: lead
team: [scrub, circulating]
choices: {size: {title: Size, options: {big: Big, small: Small}}}
surfaces: {table: {title: Table}, tray: {title: Tray}}
sites: {palm: {title: Palm}}
items: {swab: {title: Swab, count: 10, counted: true}, gown: {worn_on: body, starts: clean}}
packs: {kit: {title: Kit, holds: {knife: {title: Knife, sharp: true}}}}
phases:
  - phase: room
    title: Prepare
    steps:
      - {use: wipe-down, as: first, with: {who: scrub, what: table}}
      - id: ask
        role: scrub
        do: Ask.
        asks: {question: Is it whole, answers: [whole, damaged]}
      - id: main
        role: scrub
        with: [circulating]
        do: Do it.
        why: Because it helps.
        after: [first]
        when: {size: [big, small]}
        needs: {table: disinfected}
        requires: [wiped]
        confirms: [done]
        takes: {least: 1 min, likely: 2 min, most: 4 min}
        waits: [{for: first.wipe, at_least: 2 min}]
      - {id: aside, role: circulating, do: Look aside., after: [main]}
  - phase: leave
    title: Leave
    steps:
      - {id: tidy, role: circulating, do: Tidy., makes: {tray: clean}, waits: [{for: main, at_least: 90 s}]}
      - {id: count, role: scrub, do: Count., counts: [swab], after: [tidy]}
"""
PART = """\
kind: part
title: Wipe down
for: {who: role, what: surface}
steps:
  - {id: wipe, role: who, do: Wipe it., makes: {what: disinfected}, confirms: [wiped], takes: 3 min}
  - {id: dry, role: who, do: Let it dry., needs: {what: disinfected}}
"""
FILES = {"clinic.yaml": CLINIC, "room.yaml": ROOM, "other.yaml": ROOM.replace("title: Room", "title: Other"),
         "parts/wipe-down.yaml": PART}  # fmt: skip
TIDY = "      - {id: tidy, role: circulating, do: Tidy., makes: {tray: clean}, waits: [{for: main, at_least: 90 s}]}\n"
TAILORING = "# What we do otherwise.\nbaseline: {name: Quillhaven Day Surgery, version: 1.0.0}  # adopted\n"


def adopted(tailoring: str = TAILORING, files: Mapping[str, str] = FILES) -> dict[str, bytes]:
    shared = {path: text for path, text in files.items() if path != "clinic.yaml"}
    digests = "".join(
        f"  {path}: sha256:{hashlib.sha256(text.encode()).hexdigest()}\n" for path, text in shared.items()
    )
    upstream = f"name: Quillhaven Day Surgery\nversion: 1.0.0\ndigests:\n{digests}"
    texts = {**files, "tailoring.yaml": tailoring, "upstream.yaml": upstream}
    return {f"p/{path}": text.encode() for path, text in texts.items()}


def moved(edited: Mapping[str, str], tailoring: str = TAILORING) -> tuple[Outcome, dict[str, bytes]]:
    before = adopted(tailoring)
    now = {**before, **{f"p/{path}": text.encode() for path, text in edited.items()}}
    return move_edits(now, {f"p/{path}": before[f"p/{path}"] for path in edited}, "p"), now


def edit(old: str, new: str, path: str = "room.yaml") -> dict[str, str]:
    assert FILES[path].count(old) == 1, old
    return {path: FILES[path].replace(old, new)}


def entries(outcome: Outcome) -> dict[str, Any]:
    found: dict[str, Any] = yaml.safe_load(outcome.files["p/tailoring.yaml"])
    return {key: value for key, value in found.items() if key != "baseline"}


FIELDS = [name for name in schema("definitions")["$defs"]["step"]["properties"] if name not in ("id", "after")]


def said(step: Step) -> dict[str, Any]:
    return {"id": step.id.value, **{field: field_of(step, field) for field in FIELDS}}


def order(protocol: Protocol) -> set[tuple[str, str]]:
    """Which step always comes after which; networkx closes the relation."""
    graph = nx.DiGraph()
    for number, step in enumerate(protocol.steps):
        people = {str(role) for role in (step.role, *step.helpers)}
        at = next(place for place, phase in enumerate(protocol.phases) if step in phase.steps)
        graph.add_node(step.id.value)
        graph.add_edges_from((name.value, step.id.value) for name in step.after)
        for earlier in protocol.steps[:number]:
            before = next(place for place, phase in enumerate(protocol.phases) if earlier in phase.steps)
            if before < at or people & {str(role) for role in (earlier.role, *earlier.helpers)}:
                graph.add_edge(earlier.id.value, step.id.value)
    return set(nx.transitive_closure(graph).edges)


def meaning(protocol: Protocol) -> Any:
    """What everybody has to do in the protocol, and in which order, without the places in the files."""
    used = str([said(step) for step in protocol.steps])
    things = {name: bare(one) for name, one in protocol.subjects.items() if f"'{name}'" in used}
    phases = [(phase.id.value, phase.title, [said(step) for step in phase.steps]) for phase in protocol.phases]
    return things, phases, order(protocol)


def same(one: ProtocolSet, other: ProtocolSet) -> bool:
    return [meaning(each) for each in one.protocols] == [meaning(each) for each in other.protocols]


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


LEVELS = st.sampled_from(["clean", "disinfected", "sterile"])
CHANGED = st.fixed_dictionaries(
    {},
    optional={
        "do": st.sampled_from(["Other.", "Say: now # then", " ".join(["word"] * 60)]),
        "why": st.sampled_from(["For a reason.", None]),
        "takes": st.sampled_from(["5 min", "0.5 h", {"least": "1 min", "likely": "90 s", "most": "1 d"}, None]),
        "needs": st.dictionaries(st.sampled_from(["table", "tray", "scrub.hands"]), LEVELS, max_size=2),
        "makes": st.dictionaries(st.sampled_from(["table", "tray"]), LEVELS, max_size=2),
        "touches": st.lists(st.sampled_from(["swab", "gown"]), max_size=2, unique=True),
        "sterile": st.booleans(),
        "role": st.sampled_from(["scrub", "circulating"]),
        "with": st.sampled_from([[], ["circulating"], ["scrub"]]),
        "requires": st.lists(st.sampled_from(["wiped", "done"]), max_size=2, unique=True),
        "cautions": st.lists(st.sampled_from([{"kind": k, "text": "T."} for k in ("fire", "sharps")]), max_size=2),
        "when": st.sampled_from([None, {"size": "big"}, {"ask": "whole"}]),
        "after": st.sampled_from([[], ["first"], ["first.wipe"]]),
        "ignition": st.booleans(),
        "records": st.sampled_from([[], ["swab.lot"]]),
    },
)  # fmt: skip
STEPS = st.sampled_from(["main", "aside", "tidy", "count", "ask"])
EDITS = st.lists(
    st.one_of(
        st.tuples(st.just("set"), STEPS, CHANGED),
        st.tuples(st.just("drop"), STEPS, st.none()),
        st.tuples(st.sampled_from(["new", "newer"]), STEPS, CHANGED),
    ),
    min_size=1,
    max_size=4,
)
seen = {"moved": 0, "left": 0}


class Plain(yaml.SafeDumper):
    """Writes what stands in two places twice: there are no anchors in protocol files."""

    def ignore_aliases(self, data: Any) -> bool:
        return True


def edited_room(edits: list[tuple[str, str, Any]]) -> str:
    room: dict[str, Any] = yaml.safe_load(ROOM)
    for what, name, fields in edits:
        for phase in room["phases"]:
            steps = phase["steps"]
            place = next((number for number, step in enumerate(steps) if step.get("id") == name), None)
            if place is None:
                continue
            if what == "drop":
                del steps[place]
            elif what == "set":
                steps[place] |= fields
            elif not any(step.get("id") == what for each in room["phases"] for step in each["steps"]):
                steps.insert(place, {"id": what, "role": "scrub", "do": "N.", **fields})
    for phase in room["phases"]:
        phase["steps"] = [{key: one for key, one in step.items() if one is not None} for step in phase["steps"]]
    return yaml.dump(room, Dumper=Plain, sort_keys=False, allow_unicode=True)


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


def git(folder: Path, *words: str) -> None:
    safe = ["-c", "user.name=a", "-c", "user.email=a@example.org", "-c", "commit.gpgsign=false"]
    subprocess.run(["git", *safe, *words], cwd=folder, capture_output=True, check=True)


def ran(folder: Path, *words: object) -> Result:
    return CliRunner().invoke(main, ["tailor", str(folder), *map(str, words)])


@pytest.fixture
def clinic(tmp_path: Path) -> Path:
    """A clinic's repository, in which the adopted set was committed and then edited."""
    folder = tmp_path / "clinic"
    for path, data in adopted().items():
        target = folder / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(data)
    git(folder, "init", "-q")
    git(folder, "add", ".")
    git(folder, "commit", "-q", "-m", "adopted")
    (folder / "p/room.yaml").write_text(ROOM.replace("do: Tidy.", "do: Tidy up."), encoding="utf-8")
    return folder


def contents(folder: Path) -> dict[str, bytes]:
    return {path.as_posix(): path.read_bytes() for path in sorted(folder.rglob("*.yaml"))}


@pytest.mark.parametrize("committed", [False, True])
def test_the_adopted_text_comes_out_of_the_clinics_own_history(clinic: Path, committed: bool) -> None:
    if committed:
        git(clinic, "commit", "-q", "-a", "-m", "edited")
        (clinic / "p/room.yaml").write_text(ROOM.replace("do: Tidy.", "do: Tidy up well."), encoding="utf-8")
    dry = ran(clinic / "p", "--dry-run")
    assert (dry.exit_code, "would be as it was adopted" in dry.output) == (0, True), dry.output
    result = ran(clinic / "p")
    assert result.exit_code == 0, result.output
    assert "'tidy' of 'room' is changed (do): neutral" in result.output
    assert "write `because:`" in result.output
    assert (clinic / "p/room.yaml").read_bytes() == ROOM.encode()
    assert ran(clinic / "p").output == "No adopted file was edited: there is nothing to move.\n"
    assert [one.rule for one in build_set(as_set(clinic)).problems if one.rule != "unused-name"] == []


def as_set(clinic: Path) -> dict[str, bytes]:
    return {path.relative_to(clinic).as_posix(): path.read_bytes() for path in (clinic / "p").rglob("*.yaml")}


def test_line_ends_and_a_byte_order_mark_are_put_back_as_they_were(clinic: Path) -> None:
    path = clinic / "p/room.yaml"
    path.write_bytes(b"\xef\xbb\xbf" + ROOM.replace("do: Tidy.", "do: Tidy up.").replace("\n", "\r\n").encode())
    assert ran(clinic / "p").exit_code == 0
    assert path.read_bytes() == ROOM.encode()


@pytest.mark.parametrize("inner", ["", "protocols"])
def test_the_adopted_text_comes_from_the_source_that_is_named(clinic: Path, tmp_path: Path, inner: str) -> None:
    source = tmp_path / "source"
    for path, text in FILES.items():
        (source / inner / path).parent.mkdir(parents=True, exist_ok=True)
        (source / inner / path).write_text(text, encoding="utf-8")
    git(source, "init", "-q")
    git(source, "add", ".")
    git(source, "commit", "-q", "-m", "first")
    git(source, "tag", "v1.0.0")
    newer = source / inner / "room.yaml"
    newer.write_text(ROOM + "# newer\n", encoding="utf-8")
    before = contents(clinic)
    refused = ran(clinic / "p", "--from", source)
    assert (refused.exit_code, contents(clinic)) == (2, before)
    assert "room.yaml is not what was adopted" in refused.output
    assert ran(clinic / "p", "--from", source, "--ref", "v1.0.0").exit_code == 0
    assert (clinic / "p/room.yaml").read_bytes() == ROOM.encode()


def without_history(clinic: Path) -> None:
    subprocess.run(["rm", "-rf", ".git"], cwd=clinic, check=True)


def never_committed(clinic: Path) -> None:
    subprocess.run(["rm", "-rf", ".git"], cwd=clinic, check=True)
    git(clinic, "init", "-q")
    git(clinic, "add", ".")
    git(clinic, "commit", "-q", "-m", "too late")


def without_commit(clinic: Path) -> None:
    subprocess.run(["rm", "-rf", ".git"], cwd=clinic, check=True)
    git(clinic, "init", "-q")


def as_a_link(clinic: Path) -> None:
    (clinic / "p/room.yaml").rename(clinic / "p/.room.yaml")
    (clinic / "p/room.yaml").symlink_to(".room.yaml")


@pytest.mark.parametrize(
    ("spoil", "more", "told"),
    [
        (without_history, [], "--from SOURCE"),
        (never_committed, [], "never committed here as it was adopted"),
        (without_commit, [], "has no history yet"),
        (lambda clinic: None, ["--ref", "v1"], "--ref names a commit"),
        (lambda clinic: None, ["--from", "nowhere"], "nowhere"),
        (lambda clinic: (clinic / "p/upstream.yaml").unlink(), [], "was not adopted"),
        (lambda clinic: (clinic / "p/upstream.yaml").write_text("name: [\n"), [], "was not adopted"),
        (lambda clinic: (clinic / "p/tailoring.yaml").unlink(), [], "begin it with the line: baseline:"),
        (lambda clinic: (clinic / "p/tailoring.yaml").write_text("baseline: x\n"), [], "Mend that first"),
        (lambda clinic: (clinic / "p/tailoring.yaml").write_bytes(b"\xff"), [], "Mend that first"),
        (lambda clinic: (clinic / "p/more.yaml").symlink_to("/etc/passwd"), [], "leads out of the protocol folder"),
        (as_a_link, [], "room.yaml cannot be written: it is a link"),
    ],
)
def test_bad_input_is_told_and_nothing_is_lost(clinic: Path, spoil: Any, more: list[str], told: str) -> None:
    spoil(clinic)
    before = contents(clinic)
    result = ran(clinic / "p", *more)
    assert result.exit_code == 2, result.output
    assert "Traceback" not in result.output
    assert told in " ".join(result.output.split()), result.output
    assert contents(clinic) == before


def test_a_file_that_is_left_alone_is_told_with_its_line(clinic: Path) -> None:
    (clinic / "p/room.yaml").write_text(ROOM.replace("title: Leave", "title: Go"), encoding="utf-8")
    (clinic / "p/other.yaml").write_text(FILES["other.yaml"].replace("do: Tidy.", "do: Tidy up."), encoding="utf-8")
    result = ran(clinic / "p")
    assert result.exit_code == 1
    assert "room.yaml:33: left alone: the phase 'leave' has another title." in result.output
    assert "other.yaml: 1 entry in tailoring.yaml" in result.output
    assert (clinic / "p/other.yaml").read_text(encoding="utf-8") == FILES["other.yaml"]
