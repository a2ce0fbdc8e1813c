"""The language reference and the manual of the rules: nothing of the schemas or of the manual is left out."""

from __future__ import annotations

from typing import Any

import pytest
import yaml

from stepfield.changes import RULES
from stepfield.checks import all_rules
from stepfield.language.schemas import KINDS, SHARED, schema
from stepfield.pages.fields import flow, reference
from stepfield.pages.prose import Piece, blocks, pieces
from tests.site.small import Seen, drawn

FILES = {kind: schema(kind) for kind in KINDS}
DEFINITIONS = schema(SHARED)["$defs"]


def test_every_field_of_every_file_is_there_with_meaning_and_example() -> None:
    found = reference(FILES, schema(SHARED))
    assert [shape.name for shape in found.files] == list(KINDS)
    for shape in found.files:
        assert [field.name for field in shape.fields] == list(FILES[shape.name]["properties"])
    for shape in (*found.files, *found.shapes):
        for field in shape.fields:
            assert field.meaning, (shape.name, field.name)
            assert field.example, (shape.name, field.name)


def test_every_shared_definition_is_a_shape_or_a_word() -> None:
    found = reference(FILES, schema(SHARED))
    named = {shape.name for shape in found.shapes} | {word.name for word in found.words}
    assert set(DEFINITIONS) <= named
    assert not {shape.name for shape in found.shapes} & {word.name for word in found.words}


def test_effects_carry_their_place_in_the_order() -> None:
    (step,) = [shape for shape in reference(FILES, schema(SHARED)).shapes if shape.name == "step"]
    effects = [(field.effect, field.name) for field in step.fields if field.effect is not None]
    assert sorted(effects)[0] == (1, "opens")
    assert sorted(effects)[-1] == (17, "hands_over")


def test_fields_lead_to_the_shapes_they_hold() -> None:
    found = reference(FILES, schema(SHARED))
    (protocol,) = [shape for shape in found.files if shape.name == "protocol"]
    leads = {field.name: field.shape for field in protocol.fields}
    assert leads["phases"] == "phase"
    assert leads["packs"] == "pack"
    assert leads["title"] is None


def test_the_page_has_a_place_for_each_and_no_link_that_leads_nowhere() -> None:
    seen = Seen(drawn("language.html"))
    assert len(seen.ids) == len(set(seen.ids))
    targets = {
        (attrs.get("href") or "")[1:] for tag, attrs in seen.tags if tag == "a" and (attrs.get("href") or "")[:1] == "#"
    }
    assert targets <= set(seen.ids)
    assert "prep-trolley" in seen.text


@pytest.mark.parametrize(
    "value",
    [
        "plain words",
        "true",
        "12",
        "2.1.0",
        "2026-10-01",
        "3 min",
        "a: b",
        "# not a comment",
        "- no list",
        "",
        " lead",
        "trail ",
        'quote "it"',
        ["a", {"b": [1, True, None]}],
        {"x": "y, z", "k": "{", "n": 1.5},
        "null",
        "it's",
        "a #b",
        "a,b",
        "?",
        "@x",
        "word:",
    ],
    ids=str,
)
def test_an_example_reads_back_as_what_it_shows(value: Any) -> None:
    """Read with a general YAML reader that types no more than text, so that only the writing is judged."""
    assert yaml.load(flow([value]), Loader=yaml.BaseLoader) == texts([value])  # noqa: S506 - the base loader makes text only


def texts(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: texts(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [texts(inner) for inner in value]
    words = {"True": "true", "False": "false", "None": "null"}
    return words.get(str(value), str(value))


def test_a_rules_manual_becomes_headings_paragraphs_lists_and_code() -> None:
    text = "What it is.\n\n## Why\n\nBecause `a: b` and\n**so**.\n\n- one\n  more\n- two\n\n"
    text += "```yaml\nx: |\n\n  # y\n```\nEnd."
    found = blocks(text)
    assert [block.kind for block in found] == ["paragraph", "heading", "paragraph", "list", "code", "paragraph"]
    assert found[2].lines[0] == pieces("Because `a: b` and **so**.")
    assert ["".join(piece.text for piece in line) for line in found[3].lines] == ["one more", "two"]
    assert found[4].lines[0][0].text == "x: |\n\n  # y"


def test_pieces_of_a_line() -> None:
    assert pieces("a `b` **c**") == (
        Piece("plain", "a "),
        Piece("code", "b"),
        Piece("plain", " "),
        Piece("strong", "c"),
    )
    assert pieces("`") == (Piece("plain", "`"),)
    assert pieces("") == ()


def test_an_example_without_an_end_is_code_to_the_end() -> None:
    assert [block.kind for block in blocks("```\nx\n\ny")] == ["code"]


def test_every_rule_has_its_place_on_the_rules_page() -> None:
    seen = Seen(drawn("rules.html"))
    rules = sorted((*all_rules(), *RULES), key=lambda rule: rule.name)
    assert [name for name in seen.ids if name.startswith("rule_")] == [f"rule_{rule.name}" for rule in rules]
    for rule in rules:
        for line in rule.page.splitlines():
            if line.strip() and not line.startswith(("#", "```", "- ")) and "`" not in line and "**" not in line:
                assert " ".join(line.split()) in seen.text, (rule.name, line)
