"""The schemas themselves: right, complete for an editor's help, and the same for an editor as for the checker."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from typing import Any

import jsonschema_rs
import pytest
from jsonschema import Draft202012Validator
from referencing import Registry, Resource

from stepfield.language.model import Level
from stepfield.language.schemas import KINDS, SHARED, effect_forms, fits, schema, schema_folder
from stepfield.language.yaml_reader import read_yaml
from tests.language.small import CLINIC, EVIDENCE, FILES, PART, PROTOCOL

ALL = (*KINDS, SHARED)


def raw(name: str) -> dict[str, Any]:
    loaded: dict[str, Any] = json.loads((schema_folder() / f"{name}.schema.json").read_text("utf-8"))
    return loaded


def as_an_editor_sees(name: str) -> Draft202012Validator:
    """A validator that follows references to sibling files by their place, as editors do."""
    registry: Registry[Any] = Registry()
    for other in ALL:
        registry = registry.with_resource(f"file:///schema/{other}.schema.json", Resource.from_contents(raw(other)))
    return Draft202012Validator({"$ref": f"file:///schema/{name}.schema.json"}, registry=registry)


def fields(at: Any, path: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """Every field of every mapping that a schema describes, with its schema."""
    if isinstance(at, dict):
        for name, spec in at.get("properties", {}).items():
            if isinstance(spec, dict) and "if" not in path:
                yield f"{path}.{name}", spec
        for key, inner in at.items():
            if key not in ("examples", "if"):
                yield from fields(inner, f"{path}.{key}")
    elif isinstance(at, list):
        for number, inner in enumerate(at):
            yield from fields(inner, f"{path}.{number}")


def definitions() -> Iterator[tuple[str, dict[str, Any]]]:
    for name in ALL:
        for key, spec in raw(name).get("$defs", {}).items():
            yield f"{name}.$defs.{key}", spec


FIELDS = [(f"{name}{path}", name, spec) for name in ALL for path, spec in fields(raw(name))]


def described(spec: dict[str, Any]) -> dict[str, Any]:
    """A field's schema with what it refers to, so that it can be tried alone."""
    return {**spec, "$defs": {**schema(SHARED)["$defs"], **schema("tailoring")["$defs"]}} | local(spec)


def local(spec: dict[str, Any]) -> dict[str, Any]:
    return json.loads(json.dumps(spec).replace(f'"{SHARED}.schema.json#/', '"#/'))  # type: ignore[no-any-return]


@pytest.mark.parametrize("name", ALL)
def test_every_schema_is_right_by_the_meta_schema(name: str) -> None:
    """The meta-schema of JSON Schema 2020-12, by two implementations."""
    assert raw(name)["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    Draft202012Validator.check_schema(raw(name))
    jsonschema_rs.meta.validate(raw(name))


@pytest.mark.parametrize("name", ALL)
def test_no_schema_sends_an_editor_to_another_machine(name: str) -> None:
    text = json.dumps({key: value for key, value in raw(name).items() if key != "$schema"})
    references = re.findall(r'"\$(?:ref|id|dynamicRef)": "([^"]*)"', text)
    assert all(re.fullmatch(rf"(?:{SHARED}\.schema\.json)?#/\$defs/[a-z]+", found) for found in references)


def test_the_fields_are_found() -> None:
    assert len(FIELDS) > 150
    assert any(path == "definitions.$defs.step.hands_over" for path, _, _ in FIELDS)


@pytest.mark.parametrize(("path", "name", "spec"), FIELDS, ids=[path for path, _, _ in FIELDS])
def test_every_field_is_described_with_an_example_that_fits(path: str, name: str, spec: dict[str, Any]) -> None:
    assert re.fullmatch(r"[A-Z].{9,}[.]", spec["description"], re.DOTALL), path
    assert spec["examples"], path
    validator = Draft202012Validator({**local(spec), "$defs": schema(name).get("$defs", {})})
    for example in spec["examples"]:
        assert [error.message for error in validator.iter_errors(example)] == []


@pytest.mark.parametrize(("path", "spec"), list(definitions()), ids=[path for path, _ in definitions()])
def test_every_shared_shape_is_described(path: str, spec: dict[str, Any]) -> None:
    assert spec["description"], path
    validator = Draft202012Validator({**local(spec), "$defs": schema(path.partition(".")[0])["$defs"]})
    for example in spec.get("examples", []):
        assert validator.is_valid(example), example


@pytest.mark.parametrize("name", ALL)
def test_every_pattern_is_anchored(name: str) -> None:
    for pattern in re.findall(r'"pattern": ("(?:[^"\\]|\\.)*")', json.dumps(raw(name))):
        text = json.loads(pattern)
        assert text == "\\S" or (text.startswith("^") and text.endswith("$"))


FILES_BY_KIND = {"clinic": CLINIC, "protocol": PROTOCOL, "part": PART, "evidence": EVIDENCE}

TAILORING = """\
baseline: {name: Quillhaven Day Surgery, version: 3.2.0}
roles: {scrub: {title: Theatre assistant}}
items: {table-cover: {title: Cover 150 x 190 cm}}
choose: {wrist-release: {draping: one-sheet}}
changes:
  - protocol: wrist-release
    step: paint-skin
    set: {takes: 4 min}
    expects: {takes: 3 min}
    because: Local antiseptic needs a longer contact time
  - protocol: wrist-release
    drop: photo
    because: No camera.
    agreed: {by: Board, date: 2026-11-02}
    until: 2027-05-01
  - protocol: wrist-release
    add: {id: warm, role: scrub, do: Warm.}
    place: {after: paint-skin}
    because: Cold.
leave_out: [toenail]
own: [mole-check]
"""
UPSTREAM = f"""\
name: Quillhaven Day Surgery
version: 3.2.0
digests: {{clinic.yaml: "sha256:{"0" * 64}", parts/hand-scrub.yaml: "sha256:{"a" * 64}"}}
"""
SCREENS = """\
viewing: {distance: 4 m, width: 1920, height: 1080, diagonal: 1.1 m}
stale_after: 24 h
words_a_minute: 175
days: {monday: {title: Monday, cases: [{protocol: wrist-release, choices: {draping: one-sheet}}]}}
"""
ACCEPTED = """\
accepted:
  - rule: caution-missing
    protocol: wrist-release
    step: close
    subject: suture
    reason: With the board.
    by: Infection-control lead
    until: 2026-12-31
"""
PACKS = """\
cases: [{protocol: wrist-release, choose: {draping: one-sheet}, per_week: 6}, {protocol: toenail, per_week: 0.25}]
costs: {opening: 3, thrown_away: 1, reprocessed: 2}
most_packs: 5
sharps: weighed
reusables: apart
"""
GOOD = {kind: FILES[path] for kind, path in FILES_BY_KIND.items()} | {
    "accepted": ACCEPTED,
    "packs": PACKS,
    "screens": SCREENS,
    "tailoring": TAILORING,
    "upstream": UPSTREAM,
}


@pytest.mark.parametrize("kind", KINDS)
def test_an_editor_and_the_checker_agree(kind: str) -> None:
    """Both say yes to a right file, and both no to the same file with any one value made a wrong one."""
    document = read_yaml(GOOD[kind].encode(), "x").document
    assert document is not None
    content: Any = document.plain()
    editor = as_an_editor_sees(kind)
    assert [error.message for error in editor.iter_errors(content)] == []
    assert fits(kind, content)
    for route, _, _ in document.spans():
        if route:
            wrong: Any = document.plain()
            at = wrong
            for step in route[:-1]:
                at = at[step]
            at[route[-1]] = {"no such field": [None]}
            assert fits(kind, wrong) == editor.is_valid(wrong)


def test_the_effects_are_those_of_the_language_page_in_its_order() -> None:
    assert [form.field for form in effect_forms()] == [
        *("opens", "touches", "passes", "uses", "lays", "presents", "covers", "dons", "uncovers", "doffs"),
        *("makes", "wets", "contaminates", "soils", "counts", "discards", "hands_over"),
    ]
    assert {form.form for form in effect_forms()} == {"list", "map", "levels", "list-or-map"}


def test_levels_are_those_of_the_model() -> None:
    assert schema(SHARED)["$defs"]["level"]["enum"] == [level.word for level in Level]
