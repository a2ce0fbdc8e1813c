"""The same protocol twice: written out in full, and with some of its steps moved into a part that the protocol uses."""

from __future__ import annotations

import copy
from typing import Any

from hypothesis import strategies as st

from tests.oracle.naive import EFFECTS
from tests.oracle.small_protocols import FACTS, Case, Draw, Names, small_protocols

Step = dict[str, Any]


@st.composite
def in_parts(draw: Draw) -> tuple[Case, Case]:
    """A small protocol in full, its moved steps named as the unfolded ones are, and the same with a part."""
    case = draw(small_protocols())
    phase = draw(st.sampled_from(case["protocol"]["phases"]))
    start = draw(st.integers(0, len(phase["steps"]) - 1))
    end = draw(st.integers(start + 1, len(phase["steps"])))
    moved = {step["id"]: f"u.{step['id']}" for step in phase["steps"][start:end]}
    names = Names(case["protocol"])
    bound = {"who": draw(st.sampled_from(names.team)), "sign": draw(st.sampled_from(FACTS))}
    kinds = {"who": "role", "sign": "fact"}
    if names.items:
        bound["thing"] = draw(st.sampled_from(names.items))
        kinds["thing"] = "item"

    full = copy.deepcopy(case)
    for step in steps_of(full):
        rename_steps(step, moved)
        step["id"] = moved.get(step["id"], step["id"])
    parted = copy.deepcopy(case)
    (written,) = [other for other in parted["protocol"]["phases"] if other["phase"] == phase["phase"]]
    part = [in_words_of(step, {name: word for word, name in bound.items()}) for step in written["steps"][start:end]]
    written["steps"][start:end] = [{"use": "moved", "as": "u", "with": bound}]
    for step in steps_of(parted):
        rename_steps(step, moved)
    parted["part"] = {"kind": "part", "title": "What was moved", "for": kinds, "steps": part}
    return full, parted


def steps_of(case: Case) -> list[Step]:
    """The steps written in the protocol itself."""
    return [step for phase in case["protocol"]["phases"] for step in phase["steps"] if "use" not in step]


def rename_steps(step: Step, names: dict[str, str]) -> None:
    """Lets what the step says of other steps follow their new names."""
    if "after" in step:
        step["after"] = [names.get(name, name) for name in step["after"]]
    if "when" in step:
        step["when"] = {names.get(name, name): options for name, options in step["when"].items()}
    for wait in step.get("waits", []):
        wait["for"] = names.get(wait["for"], wait["for"])
    if "repeat" in step:
        step["repeat"]["from"] = names.get(step["repeat"]["from"], step["repeat"]["from"])


def in_words_of(step: Step, words: dict[str, str]) -> Step:
    """The step with the bound names replaced by the part's own words for them."""
    said = copy.deepcopy(step)
    for field in ("role", "with", "needs", "requires", "confirms", "withdraws", *EFFECTS):
        if field in said:
            said[field] = _reworded(said[field], words)
    return said


def _reworded(written: Any, words: dict[str, str]) -> Any:
    if isinstance(written, dict):
        return {_reworded(name, words): _reworded(value, words) for name, value in written.items()}
    if isinstance(written, list):
        return [_reworded(name, words) for name in written]
    first, dot, rest = written.partition(".")
    return words.get(first, first) + dot + rest
