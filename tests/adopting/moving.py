"""A small adopted set, edits in it, and what became of them; for tests of ``stepfield tailor`` and ``offer``."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from typing import Any

import networkx as nx
import yaml
from hypothesis import strategies as st

from stepfield.adopting.moving import Outcome, move_edits
from stepfield.language import ProtocolSet
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
