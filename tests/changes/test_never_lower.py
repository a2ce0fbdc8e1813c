"""A random change of a random step of the demonstration set is never graded lower than a naive grader says.

The naive grader is written apart from the product: it looks at the fields as they are written, one by one.
"""

from __future__ import annotations

import copy
import datetime
import json
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from stepfield.changes.grades import Grade
from stepfield.changes.review import review_sets
from stepfield.language import build_set
from stepfield.language.model import Protocol

DEMO = Path(__file__).parents[2] / "protocols"
RAW = {
    path.relative_to(DEMO).as_posix(): yaml.load(path.read_text(encoding="utf-8"), yaml.BaseLoader)  # noqa: S506 - everything as text
    for path in sorted(DEMO.rglob("*.yaml"))
}
TEXTS = [name for name in RAW if RAW[name].get("kind") in ("protocol", "part")]
WORDING, WORKING = {"do", "why"}, {"role", "with", "when", "takes", "records", "asks"}
CONTACTS = {"opens", "touches", "passes", "uses", "lays", "presents"}
WORDS = ["clean", "disinfected", "sterile", "contaminated"]


def encoded(raw: dict[str, Any]) -> dict[str, bytes]:
    """Every file in the flow style of YAML, with numbers and truths as they must be."""
    return {f"protocols/{name}": json.dumps(typed(content)).encode() for name, content in raw.items()}


def typed(value: Any, key: str = "") -> Any:
    if isinstance(value, dict):
        return {name: typed(inner, name) for name, inner in value.items()}
    if isinstance(value, list):
        return [typed(inner, key) for inner in value]
    if value in ("true", "false"):
        return value == "true"
    return int(value) if key in NUMBERS and value.isdigit() else value


NUMBERS = {"count", "spare", "year", "width", "height", "words_a_minute", "distance", "diagonal"}
BEFORE = build_set(encoded(RAW))


def steps_of(content: dict[str, Any]) -> list[dict[str, Any]]:
    groups = [content["steps"]] if content["kind"] == "part" else [phase["steps"] for phase in content["phases"]]
    return [step for group in groups for step in group if "id" in step]


Mutation = tuple[str, int, str, int]
"""The file, and numbers that pick the step, what is done and where; small, so that a failing one can be read."""
ADDED: list[dict[str, Any]] = [
    {"ignition": "true"},
    {"ends_field": "true"},
    {"records": ["a.lot"]},
    {"cautions": [{"kind": "general", "text": "Mind."}]},
    {"takes": "7 min"},
    {"confirms": ["seen"]},
    {"why": "So it is."},
]
mutations = st.tuples(
    st.sampled_from(TEXTS),
    st.integers(0, 60),
    st.sampled_from(["drop", "alter", "alter", "alter", "add", "remove"]),
    st.integers(0, 1000),
)


def mutated(mutation: Mutation) -> tuple[dict[str, Any], dict[str, Any], dict[str, Any] | None]:
    """The changed files, and the step before and after (None if taken out)."""
    name, number, how, pick = mutation
    content = copy.deepcopy(RAW[name])
    steps = steps_of(content)
    step = steps[number % len(steps)]
    before = copy.deepcopy(step)
    changed = {**RAW, name: content}
    if how == "remove":
        for group in [content.get("steps"), *(phase["steps"] for phase in content.get("phases", []))]:
            if group and step in group:
                group.remove(step)
        return changed, before, None
    if how == "add":
        step.update(ADDED[pick % len(ADDED)])
        return changed, before, step
    fields = [one for one in step if one != "id"]
    field = fields[pick % len(fields)]
    if how == "drop":
        del step[field]
    else:
        step[field] = altered(step[field], field, content, pick // 7)
    return changed, before, step


def altered(value: Any, field: str, content: dict[str, Any], pick: int) -> Any:
    if field == "role":
        roles = content.get("team") or [one for one, kind in content["for"].items() if kind == "role"]
        return roles[pick % len(roles)]
    if field == "takes":
        return "9 min"
    if isinstance(value, list) and len(value) > 1:
        return [one for number, one in enumerate(value) if number != pick % len(value)]
    if isinstance(value, dict):
        key = sorted(value)[pick % len(value)]
        if value[key] in WORDS:
            return {**value, key: WORDS[pick % 4]}
        return {one: inner for one, inner in value.items() if one != key} or value
    return f"{value} Then look." if field in WORDING else value


def naive(before: dict[str, Any], after: dict[str, Any] | None, *, people: bool = True) -> int:
    """The least grade by the fields as they are written; ``after`` is left to who waits for whom."""
    if after is None:
        safe = [field for field in before if field not in {*WORDING, *WORKING, *CONTACTS, "id", "after"}]
        return 3 if safe else 2
    grades = [0]
    for field in {*before, *after}:
        was, now = before.get(field), after.get(field)
        if same(was, now, field) or (field in ("role", "with") and not people):
            continue
        if field in WORDING:
            grades.append(1)
        elif field in WORKING | CONTACTS:
            grades.append(3 if field in CONTACTS | {"role", "with"} and wants_sterile(before) else 2)
        elif field in ("waits", "within"):
            grades.append(3 if len(now or []) < len(was or []) else 2)
        elif field != "after":
            grades.append(3)
    return max(grades)


def same(was: Any, now: Any, field: str) -> bool:
    if field in ("ignition", "ends_field", "sterile"):
        return (was or "false") == (now or "false")
    if field in ("makes", "needs", "when", "uses", "lays") or isinstance(was, str):
        return bool(was == now) or (isinstance(was, str) and isinstance(now, str) and was.split() == now.split())
    return bool((was or None) == (now or None))


def wants_sterile(step: dict[str, Any]) -> bool:
    return "sterile" in step or any(level in ("disinfected", "sterile") for level in step.get("needs", {}).values())


def always_before(protocol: Protocol) -> set[tuple[str, str]]:
    """Every pair of steps in a fixed order, by filling in a table."""
    steps, places = protocol.steps, {}
    for number, phase in enumerate(protocol.phases):
        places.update({step.id.value: number for step in phase.steps})
    pairs = set()
    for number, later in enumerate(steps):
        people = {str(later.role), *map(str, later.helpers)}
        for earlier in steps[:number]:
            if places[earlier.id.value] < places[later.id.value] or people & {
                str(earlier.role),
                *map(str, earlier.helpers),
            }:
                pairs.add((earlier.id.value, later.id.value))
        pairs |= {(name.value, later.id.value) for name in later.after}
    following: dict[str, set[str]] = {}
    for one, other in pairs:
        following.setdefault(one, set()).add(other)
    closed = set()
    for step in steps:
        todo, seen = [step.id.value], set()
        while todo:
            for other in following.get(todo.pop(), set()) - seen:
                seen.add(other)
                todo.append(other)
        closed |= {(step.id.value, other) for other in seen}
    return closed


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(mutations)
def test_a_change_is_never_graded_lower_than_its_fields_say(mutation: Mutation) -> None:
    judge(mutation)


@pytest.mark.slow
@settings(max_examples=400, deadline=None, suppress_health_check=list(HealthCheck))
@given(mutations)
def test_many_changes_are_never_graded_lower_than_their_fields_say(mutation: Mutation) -> None:
    judge(mutation)


def judge(mutation: Mutation) -> None:
    changed, before, after = mutated(mutation)
    new = build_set(encoded(changed))
    assume(not new.unreadable and not new.unsound)
    name = mutation[0]
    found = review_sets(BEFORE, new, ("a", "b"), datetime.date(2026, 11, 1), limit=1)
    graded = {one.protocol: one.grade or 0 for one in found.protocols}
    ids = {one.id: one for one in new.protocols}
    for old in BEFORE.protocols:
        part = Path(name).stem if name.startswith("parts/") else None
        if old.id != Path(name).stem and part not in old.parts:
            continue
        same_people = people(old) == people(ids[old.id])
        # Two names that a part wants bound may stand for one role: then taking one out is no change.
        least = naive(before, after, people=not same_people)
        if after is not None and same_people:
            was, now = always_before(old), always_before(ids[old.id])
            least = max(least, 3 if was - now else 2 if now - was else 0)
        assert graded.get(old.id, 0) >= least, (old.id, before, after)


def people(protocol: Protocol) -> list[set[str]]:
    return [{str(step.role), *map(str, step.helpers)} for step in protocol.steps]


def test_the_naive_grader_and_the_product_agree_that_nothing_is_nothing() -> None:
    assert BEFORE.unreadable == ()
    assert BEFORE.unsound == frozenset()
    assert review_sets(BEFORE, build_set(encoded(RAW)), ("a", "b"), datetime.date(2026, 11, 1)).protocols == ()
    assert naive({"do": "x"}, {"do": "x"}) == 0
    assert (naive({"do": "x"}, {"do": "y"}), naive({"takes": "1 s"}, {}), naive({"needs": {}}, None)) == (1, 2, 3)
    assert Grade.SAFETY == 3
