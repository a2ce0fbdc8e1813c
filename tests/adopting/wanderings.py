"""Random histories of a small adopted set: edits of the baseline, local changes, and catching up, in any order."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass, field
from typing import Any

import yaml
from hypothesis import strategies as st

from stepfield.adopting import CannotCatchUpError, CaughtUp, Settled, Source
from stepfield.language import build_set
from tests.adopting.catching import CLINIC, HALL, HEAD, LOOSER, ROOM, RUB, adopted, caught, source

Draw = Callable[[st.SearchStrategy[Any]], Any]
Documents = dict[str, Any]
LEVELS = st.sampled_from(["clean", "disinfected", "sterile"])
THINGS = st.dictionaries(
    st.sampled_from(["tray", "side-table", "scrub.hands", "circulating.hands"]), LEVELS, max_size=2
)
KINDS = st.sampled_from(["sharps", "fire", "chemical"])
CAUTIONS = st.lists(KINDS.map(lambda kind: {"kind": kind, "text": "Take care."}), max_size=2)
WHEN = st.sampled_from([{"size": "big"}, {"size": "small"}, {"size": ["big", "small"]}, {"look": "fine"}])
FIELDS: dict[str, st.SearchStrategy[Any]] = {
    "do": st.sampled_from(["Do it.", "Do it well.", "Do it here."]),
    "why": st.sampled_from(["For a reason.", "For another."]),
    "role": st.sampled_from(["scrub", "circulating"]),
    "takes": st.sampled_from(["1 min", "2 min", "3 min"]),
    "sterile": st.booleans(),
    "needs": THINGS,
    "makes": THINGS,
    "counts": st.lists(st.just("swab"), max_size=1),
    "cautions": CAUTIONS,
    "when": WHEN,
}
SOME = st.dictionaries(st.sampled_from(sorted(FIELDS)), st.none(), min_size=1, max_size=3).flatmap(
    lambda names: st.fixed_dictionaries({name: FIELDS[name] for name in names})
)
LESS: st.SearchStrategy[dict[str, Any]] = st.sampled_from(
    [{"needs": {}}, {"makes": {}}, {"counts": []}, {"cautions": []}]
)
"""Something that guards, taken away."""
ROOM_STEPS = ["look", "wipe", "photo", "tidy", "hands.rub", "count", "sign", "go"]
PLACES = [*(("room", name) for name in ROOM_STEPS), ("hall", "sweep"), ("hall", "air"), ("yard", "air")]
PLACES += [("room", name) for name in ("extra", "ours", "blanket", "sweep")]
"""Protocols and steps, as a clinic may name them: some are not there at first, or not any more."""
FREE = ["extra", "ours", "blanket", "wipe", "photo"]
CLEARED = ["why", "takes", "when"]
"""What an entry may take out of a step; the rest it sets to something empty."""
OPTIONAL = [*CLEARED, "needs", "makes", "counts", "cautions", "sterile"]


def first_documents() -> Documents:
    """The baseline to begin with: something of everything that guards."""
    found = {path: yaml.safe_load(text) for path, text in _TEXTS.items()}
    room = found["room.yaml"]
    room["items"]["swab"]["counted"] = True
    room["phases"][0]["cautions"] = [{"kind": "fire", "text": "Take care."}]
    room["phases"][0]["steps"][0]["asks"] = {"question": "How does it look", "answers": ["fine", "bad"]}
    room["phases"] += yaml.safe_load(_MORE)
    for lines in _lines(found):
        for line in lines:
            line.update(_GUARDS.get(line.get("id", ""), {}))
    return found


_GUARDS: Mapping[str, Mapping[str, Any]] = {
    "look": {"needs": {"tray": "disinfected"}, "makes": {"tray": "disinfected"}},
    "photo": {"counts": ["swab"]},
    "tidy": {"cautions": [{"kind": "fire", "text": "Take care."}]},
    "sweep": {"needs": {"side-table": "clean"}},
    "air": {"makes": {"side-table": "clean"}},
}
_MORE = """\
- phase: close
  cautions: [{kind: sharps, text: Take care.}]
  steps:
    - {id: count, role: scrub, do: Count., counts: [swab], needs: {tray: disinfected}}
    - {id: sign, role: circulating, do: Sign., when: {look: fine}, cautions: [{kind: fire, text: Take care.}]}
- phase: leave
  cautions: [{kind: chemical, text: Take care.}]
  steps:
    - {id: go, role: circulating, do: Go.}
"""
# Whoever is no role of the protocol has no hands in it, and is told as a step with no owner.
_HALL = HALL.replace("team: [circulating]", "team: [scrub, circulating]")
_TEXTS = {"room.yaml": ROOM, "hall.yaml": _HALL, "parts/rub.yaml": RUB}


def as_files(documents: Documents) -> dict[str, str]:
    """The documents as YAML."""
    return {path: yaml.safe_dump(one, sort_keys=False) for path, one in documents.items()}


def is_sound(documents: Documents) -> bool:
    """Whether a baseline can be handed on: nothing in it is wrong but what nobody uses."""
    files = {f"p/{path}": text.encode() for path, text in as_files(documents).items()}
    return not [one for one in build_set({**files, "p/clinic.yaml": CLINIC.encode()}).problems if _is_wrong(one.rule)]


def _is_wrong(rule: str) -> bool:
    return rule != "unused-name"


@dataclass(slots=True)
class World:
    """The baseline as its keepers have it, and the files of the clinic that adopted an earlier text of it."""

    draw: Draw
    documents: Documents = field(default_factory=first_documents)
    files: Mapping[str, bytes] = field(default_factory=dict)
    number: int = 0
    happened: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.files = adopted(self.source_now())
        self.files = {**self.files, "tailoring.yaml": HEAD.encode()}

    def source_now(self) -> Source:
        """The baseline as it is now, to be handed on."""
        return source(as_files(self.documents), f"1.{self.number}.0")

    def step(self) -> None:
        """Something happens: an edit of the baseline, a local change, or catching up."""
        choice = self.draw(st.sampled_from(["baseline", "baseline", "local", "local", "catch-up"]))
        {"baseline": self.edit_baseline, "local": self.change_here, "catch-up": self.catch_up}[choice]()

    def edit_baseline(self) -> None:
        """An edit of the baseline, if it leaves something that can be handed on."""
        edited = deepcopy(self.documents)
        what = self.draw(st.sampled_from(sorted(EDITS)))
        EDITS[what](edited, self.draw)
        if edited != self.documents and is_sound(edited):
            self.documents = edited
            self.happened.append(f"baseline: {what}")

    def change_here(self) -> None:
        """One more entry in tailoring.yaml."""
        what, key, entry = self.draw(ENTRIES)
        text = self.files["tailoring.yaml"].decode()
        begun = re.search(rf"^{key}:\n", text, re.MULTILINE)
        if begun is not None and what != "changes":
            return
        line = f"  - {json.dumps(entry)}\n" if what == "changes" else f"  {entry}\n"
        head = begun.end() if begun is not None else len(text)
        whole = text[:head] + ("" if begun is not None else f"{key}:\n") + line + text[head:]
        self.files = {**self.files, "tailoring.yaml": whole.encode()}
        self.happened.append(f"here: {what}")

    def catch_up(self) -> CaughtUp | None:
        """Takes the baseline in as it is now; None if that was refused or is still to be decided: nothing changes."""
        self.number += 1
        way = self.draw(st.sampled_from(["keep", "take", "ask"]))
        settled = Settled() if way == "ask" else Settled(**{way: frozenset({"all"})})
        try:
            found = caught(self.files, self.source_now(), settled)
        except CannotCatchUpError:
            self.happened.append("catch-up: refused")
            return None
        if found.undecided:
            assert way == "ask"
            self.happened.append("catch-up: asks")
            return None
        self.files = found.after
        self.happened.append(f"catch-up: {way}")
        return found


def _steps(documents: Documents) -> list[dict[str, Any]]:
    return [step for lines in _lines(documents) for step in lines if "id" in step]


def _lines(documents: Documents) -> list[list[dict[str, Any]]]:
    return [
        *(phase["steps"] for one in documents.values() for phase in one.get("phases", ())),
        *(one["steps"] for one in documents.values() if one["kind"] == "part"),
    ]


def _set_fields(documents: Documents, draw: Draw) -> None:
    step = draw(st.sampled_from(_steps(documents)))
    fields = draw(SOME)
    if step["role"] == "who":
        fields.pop("role", None)
        fields.pop("when", None)
    step.update(fields)


def _clear_field(documents: Documents, draw: Draw) -> None:
    draw(st.sampled_from(_steps(documents))).pop(draw(st.sampled_from(OPTIONAL)), None)


def _add_step(documents: Documents, draw: Draw) -> None:
    lines = draw(st.sampled_from(_lines(documents)))
    step = {"id": draw(st.sampled_from(FREE)), "role": "scrub", "do": "New.", **draw(SOME)}
    lines.insert(draw(st.integers(0, len(lines))), step)


def _remove_step(documents: Documents, draw: Draw) -> None:
    lines = draw(st.sampled_from([lines for lines in _lines(documents) if len(lines) > 1] or [[]]))
    if lines:
        lines.remove(draw(st.sampled_from(lines)))


def _rename_step(documents: Documents, draw: Draw) -> None:
    draw(st.sampled_from(_steps(documents)))["id"] = draw(st.sampled_from(FREE))


def _move_step(documents: Documents, draw: Draw) -> None:
    phases = documents["room.yaml"]["phases"]
    here, there = draw(st.permutations(phases))[:2]
    if len(here["steps"]) > 1:
        there["steps"].append(here["steps"].pop(draw(st.integers(0, len(here["steps"]) - 1))))


def _phase_cautions(documents: Documents, draw: Draw) -> None:
    draw(st.sampled_from(documents["room.yaml"]["phases"]))["cautions"] = draw(CAUTIONS)


def _counted(documents: Documents, draw: Draw) -> None:
    draw(st.sampled_from(list(documents["room.yaml"]["items"].values())))["counted"] = draw(st.booleans())


def _rename_protocol(documents: Documents, draw: Draw) -> None:
    old, new = draw(st.permutations(["hall.yaml", "yard.yaml"]))
    if old in documents and new not in documents:
        documents[new] = documents.pop(old)


def _one_protocol_more_or_less(documents: Documents, draw: Draw) -> None:
    name = draw(st.sampled_from(["hall.yaml", "attic.yaml"]))
    if documents.pop(name, None) is None:
        documents[name] = yaml.safe_load(_HALL)


EDITS: Mapping[str, Callable[[Documents, Draw], None]] = {
    "fields of a step": _set_fields,
    "a field less": _clear_field,
    "a new step": _add_step,
    "a step less": _remove_step,
    "another name": _rename_step,
    "another phase": _move_step,
    "cautions of a phase": _phase_cautions,
    "what is counted": _counted,
    "another name for a protocol": _rename_protocol,
    "a protocol more or less": _one_protocol_more_or_less,
}

REASON = st.sampled_from([{}, {"because": "x"}, yaml.safe_load(f"{{{LOOSER}}}")]).map(
    lambda one: json.loads(json.dumps(one, default=str))
)


def _merged(*parts: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for part in parts for key, value in part.items()}


Verb = Callable[[str], dict[str, Any]]
"""What is done, once it is known to which step."""
_SET: st.SearchStrategy[Verb] = SOME.map(lambda fields: lambda step: {"step": step, "set": fields})
_LESS: st.SearchStrategy[Verb] = LESS.map(lambda fields: lambda step: {"step": step, "set": fields})
_CLEAR: st.SearchStrategy[Verb] = st.sampled_from(CLEARED).map(
    lambda name: lambda step: {"step": step, "clear": [name]}
)
_EXPECTING: st.SearchStrategy[Verb] = st.builds(
    lambda fields, kinds: (
        lambda step: {"step": step, "set": {**fields, "cautions": []}, "expects": {"cautions": kinds}}
    ),
    SOME,
    CAUTIONS,
)
_DROP: st.SearchStrategy[Verb] = st.just(lambda step: {"drop": step})
_ADD: st.SearchStrategy[Verb] = st.builds(
    lambda name, fields, where: (
        lambda step: {
            "add": {"id": name, "role": "scrub", "do": "Ours.", **fields},
            "place": {where: step},
        }
    ),
    st.sampled_from(FREE),
    SOME,
    st.sampled_from(["before", "after"]),
)
_CHANGE = st.builds(
    lambda place, verb, reason: ("changes", "changes", _merged({"protocol": place[0]}, verb(place[1]), reason)),
    st.sampled_from(PLACES),
    st.one_of(_SET, _LESS, _CLEAR, _EXPECTING, _DROP, _ADD),
    REASON,
)
_REST: Sequence[tuple[str, str, str]] = (
    ("a choice", "choose", "room: {size: small}"),
    ("a choice", "choose", "room: {size: big}"),
    ("a thing", "items", "swab: {counted: false}"),
    ("a thing", "items", "swab: {counted: false, because: x}"),
    ("a thing", "items", "swab: {title: Small swab}"),
    ("a thing", "items", "cloth: {counted: true}"),
    ("left out", "leave_out", "- hall"),
    ("a role", "roles", "scrub: {title: Assistant}"),
)
ENTRIES = st.one_of(_CHANGE, _CHANGE, _CHANGE, st.sampled_from(_REST))
"""What is changed here: a word for it, the key of tailoring.yaml, and what stands below."""
