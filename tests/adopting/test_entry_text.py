"""Entries of tailoring.yaml are taken out or changed in its text; all else stays, and what goes out as a comment."""

from __future__ import annotations

from collections import Counter
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from stepfield.adopting.entry_text import CannotEditError, TakenOut, Write, edited
from stepfield.language.yaml_nodes import Route
from stepfield.language.yaml_reader import read_yaml

TEXT = """\
# head
baseline: {name: "Q", version: 1.0.0}

changes:
  # the first
  - protocol: room
    step: a   # tail
    set:
      takes: 3 min
      do: >
        a b
        c

    # inner
    because: x y
      z
  # the second
  - {protocol: room, drop: b}
leave_out: [toenail,
   wrist-release]
# end
"""


def plain(text: str) -> Any:
    """As a general YAML reader reads it."""
    return yaml.load(text, yaml.BaseLoader)  # noqa: S506 - makes nothing but text


def words(text: str) -> list[str]:
    return [word for word in text.replace("#", " ").replace(",", " ").split() if word not in "[]{}"]


@pytest.mark.parametrize(
    ("route", "left"),
    [
        (("changes", 0), [{"protocol": "room", "drop": "b"}]),
        (("changes", 0, "set", "takes"), None),
        (("leave_out", 0), ["wrist-release"]),
        (("leave_out", 1), ["toenail"]),
    ],
)
def test_what_is_taken_out_stays_as_a_comment(route: Route, left: Any) -> None:
    found = edited(TEXT, "t", [TakenOut(route, "Taken out.")])
    if left is not None:
        assert plain(found)[route[0]] == left
    missing = set(words(TEXT)) - set(words(found)) - {"[toenail", "wrist-release]"}
    assert missing == set()
    assert "# Taken out." in found


def test_whole_lines_become_comments_where_they_stood() -> None:
    found = edited(TEXT, "t", [TakenOut(("changes", 0), "Taken out, since the baseline says it:")])
    assert found == TEXT.replace(
        TEXT[TEXT.index("  - protocol") : TEXT.index("  # the second")],
        "  # Taken out, since the baseline says it:\n"
        "  #   - protocol: room\n  #     step: a   # tail\n  #     set:\n  #       takes: 3 min\n  #       do: >\n"
        "  #         a b\n  #         c\n  #\n  #     # inner\n  #     because: x y\n  #       z\n",
    )


def test_nothing_empty_is_left_behind() -> None:
    both = [TakenOut(("changes", 1), "Out."), TakenOut(("changes", 0), "Out."), TakenOut(("leave_out", 0), "Out.")]
    assert plain(edited(TEXT, "t", both)) == {
        "baseline": {"name": "Q", "version": "1.0.0"},
        "leave_out": ["wrist-release"],
    }
    assert plain(edited(TEXT, "t", [TakenOut(("leave_out", n), "Out.") for n in (0, 1)])) == {
        "baseline": {"name": "Q", "version": "1.0.0"},
        "changes": plain(TEXT)["changes"],
    }


def test_a_field_beside_the_dash_is_taken_out_of_its_line() -> None:
    text = "changes:\n  - set: {takes: 3 min}\n    protocol: room\n"
    found = edited(text, "t", [TakenOut(("changes", 0, "set"), "Out.")])
    assert found == "changes:\n  # Out.\n  #   set: {takes: 3 min}\n  - protocol: room\n"


@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize("value", ["4 min", "{least: 1 min, likely: 2 min, most: 3 min}"])
def test_a_value_becomes_another_and_all_else_stays(end: str, value: str) -> None:
    text = f"a:\n  takes: {value}  # why\n  waits:\n  - for: x\n    at_least: 1 s\nb: c\n".replace("\n", end)
    found = edited(text, "t", [Write(("a", "takes"), "5 min"), Write(("a", "waits"), [{"for": "y"}])])
    assert found == f"a:{end}  takes: 5 min  # why{end}  waits:{end}   [{{for: y}}]{end}b: c{end}"


def test_a_comment_in_a_value_is_not_lost() -> None:
    with pytest.raises(CannotEditError, match="line 2"):
        edited("a:\n  - x # because\n  - z\n", "t", [Write(("a",), ["y"])])


def test_what_cannot_be_read_is_left_alone() -> None:
    with pytest.raises(CannotEditError, match="line 1"):
        edited("a: &x b\n", "t", [Write(("a",), "c")])


LEAVES = st.sampled_from(["x", "3 min", "a: b", "#", "", "it's"])
TREES = st.recursive(
    LEAVES,
    lambda inner: st.one_of(
        st.lists(inner, min_size=1, max_size=3),
        st.dictionaries(st.sampled_from(["a", "b", "c"]), inner, min_size=1, max_size=3),
    ),
    max_leaves=9,
)


@settings(max_examples=300, deadline=None)
@given(st.dictionaries(st.sampled_from(["k", "l", "m"]), TREES, min_size=2), st.booleans(), st.data())
def test_any_entry_of_any_layout_is_taken_out_alone_or_refused(whole: Any, flow: Any, data: st.DataObject) -> None:
    text = yaml.safe_dump(whole, default_flow_style=flow, sort_keys=False, width=20)
    reading = read_yaml(text.encode(), "t")
    if reading.document is None or reading.problems:
        return
    routes = [route for route, _, _ in reading.document.spans() if route]
    route = data.draw(st.sampled_from(routes))
    try:
        found = edited(text, "t", [TakenOut(route, "Out.")])
    except CannotEditError:
        return
    assert "# Out." in found
    assert {*(Counter(text) - Counter(found))} <= {",", " ", "\n"}
