"""Adding to a file: in the style of what stands there, and not a character of that is touched."""

from __future__ import annotations

import pytest

from stepfield.language.editing import CannotEditError, Editor
from stepfield.language.source import Span
from stepfield.language.yaml_nodes import Mapping, Plain
from stepfield.language.yaml_reader import read_yaml


def step_span(text: str, name: str) -> Span:
    """The place of the step or use with a name."""
    document = read_yaml(text.encode(), "room.yaml").document
    assert document is not None
    for route, _, span in document.spans():
        node = document.at(route)
        if isinstance(node, Mapping) and any(
            entry.key.value in ("id", "as") and getattr(entry.value, "value", None) == name for entry in node.entries
        ):
            return span
    raise AssertionError(name)


def waiting(text: str, step: str, *names: str) -> str:
    editor = Editor(text, "room.yaml")
    editor.wait(step_span(text, step), names)
    return editor.result()


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("- id: b\n  role: r # me\n  do: B.\n", "- id: b\n  role: r # me\n  after: [x, y]\n  do: B.\n"),
        ("- do: B.\n  id: b\n", "- do: B.\n  id: b\n  after: [x, y]\n"),
        ("- do: B.\n  id: b", "- do: B.\n  id: b\n  after: [x, y]"),
        ("- {id: b, do: B.}\n", "- {id: b, after: [x, y], do: B.}\n"),
        ("- {id: b,\n   role: r,  # me\n   do: B.}\n", "- {id: b,\n   role: r, after: [x, y],  # me\n   do: B.}\n"),
        ("- id: b\n  after: [a]  # why\n", "- id: b\n  after: [a, x, y]  # why\n"),
        ("- id: b\n  after: [ 'a' , ]\n", "- id: b\n  after: [ 'a', x, y , ]\n"),
        ("- id: b\n  after: []\n", "- id: b\n  after: [x, y]\n"),
        ("- id: b\n  after: [x]\n", "- id: b\n  after: [x, y]\n"),
        ("- id: b\n  after:\n  - a # why\n  do: B.\n", "- id: b\n  after:\n  - a # why\n  - x\n  - y\n  do: B.\n"),
        ("- id: b\n  after:\n      - a\n\n", "- id: b\n  after:\n      - a\n      - x\n      - y\n\n"),
        ("- use: p\n  as: b\n  with: {who: r}\n", "- use: p\n  as: b\n  after: [x, y]\n  with: {who: r}\n"),
        ("- id: b\r\n  do: B.\r\n", "- id: b\r\n  after: [x, y]\r\n  do: B.\r\n"),
        ('- id: b\n  role: "r"   \n  # below\n', '- id: b\n  role: "r"   \n  after: [x, y]\n  # below\n'),
        ("- {id: b, do: Ünïcödé 🧤., role: r}\n", "- {id: b, do: Ünïcödé 🧤., role: r, after: [x, y]}\n"),
    ],
)
def test_a_wait_is_written_where_it_belongs(before: str, after: str) -> None:
    assert waiting(before, "b", "x", "y") == after


def test_an_after_that_is_no_list_is_left_alone() -> None:
    with pytest.raises(CannotEditError, match="no list"):
        waiting("- id: b\n  after: a\n", "b", "x")


def test_a_file_that_cannot_be_read_is_left_alone() -> None:
    with pytest.raises(CannotEditError, match="cannot be read"):
        Editor("- id: b\n  id: c\n", "room.yaml")


LINES = "  - use: hand-rub\n    as: rub\n    with: {who: scrub}\n"
USE: dict[str, Plain] = {"use": "hand-rub", "as": "rub", "with": {"who": "scrub"}}


@pytest.mark.parametrize(
    ("before", "behind", "after"),
    [
        (
            "steps:\n  - id: a\n    do: A.\n\n  # about b\n  - id: b\n    do: B.\n",
            False,
            "steps:\n  - id: a\n    do: A.\n\n" + LINES + "  # about b\n  - id: b\n    do: B.\n",
        ),
        (
            "steps:\n- id: b\n  do: |\n    B.\n    And more.\n\n# the end\n",
            True,
            "steps:\n- id: b\n  do: |\n    B.\n    And more.\n" + LINES.replace("\n  ", "\n")[2:] + "\n# the end\n",
        ),
        (
            "steps: [{id: a}, {id: b}] # all\n",
            False,
            "steps: [{id: a}, {use: hand-rub, as: rub, with: {who: scrub}}, {id: b}] # all\n",
        ),
        (
            "steps: [{id: a}, {id: b}]",
            True,
            "steps: [{id: a}, {id: b}, {use: hand-rub, as: rub, with: {who: scrub}}]",
        ),
        (
            "steps:\n  - {id: b}",
            True,
            "steps:\n  - {id: b}\n  - {use: hand-rub, as: rub, with: {who: scrub}}",
        ),
    ],
)
def test_a_use_is_written_in_the_style_of_its_neighbour(before: str, behind: bool, after: str) -> None:
    editor = Editor(before, "room.yaml")
    editor.use(USE, step_span(before, "b"), behind=behind)
    assert editor.result() == after


def test_a_step_done_once_more_keeps_its_words_and_leaves_its_order_behind() -> None:
    text = """steps:
    - id: a   # first
      role: r
      after: [z]
      when: {x: y}
      do: >-
        Wipe: all, and

        slowly.
      makes: {table: clean}   # the top
    -   id: b
        do: B.
"""
    editor = Editor(text, "room.yaml")
    editor.again(step_span(text, "a"), "a-again", ["b"], step_span(text, "b"), behind=True)
    assert editor.result() == text + """    - id: a-again
      after: [b]
      role: r
      do: >-
        Wipe: all, and

        slowly.
      makes: {table: clean}   # the top
"""  # fmt: skip


def test_a_step_with_several_lines_goes_into_brackets_as_one() -> None:
    text = "steps:\n- id: a\n  do: >-\n    Wipe, 'n\n    wash.\n  makes:\n    t: clean\n- {id: b}\n"
    editor = Editor(text, "room.yaml")
    editor.again(step_span(text, "a"), "c", [], step_span(text, "b"), behind=False)
    added = '- {id: c, do: "Wipe, \'n wash.", makes: {t: clean}}\n'
    assert editor.result() == text.replace("- {id: b}", added + "- {id: b}")


def test_what_cannot_be_said_exactly_is_refused() -> None:
    text = "- id: b\n  do: |+\n    B.\n\n\n"
    editor = Editor(text, "room.yaml")
    editor.use(USE, step_span(text, "b"), behind=True)
    with pytest.raises(CannotEditError, match="layout"):
        editor.result()
