"""Nothing in a protocol's text can steer the terminal it is shown on."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stepfield.reports.terminal import harmless, width


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("plain", "plain"),
        ("\x1b[31mred\x1b[0m", r"\x1b[31mred\x1b[0m"),
        ("\x1b]8;;https://example.org\x07link", r"\x1b]8;;https://example.org\x07link"),
        ("a\nb\tc\r\nd", "a b c d"),
        ("a\rb", r"a\x0db"),
        ("\x9b31m", r"\x9b31m"),
        ("left\u202eright\u2066", r"left\u202eright\u2066"),
        ("a\u2028b", r"a\u2028b"),
        ("\ud800", r"\ud800"),
        ("<script>alert(1)</script>", "<script>alert(1)</script>"),
        ("Käfer 手術 👩\u200d⚕️", "Käfer 手術 👩\u200d⚕️"),
    ],
)
def test_control_and_direction_characters_are_written_out(text: str, shown: str) -> None:
    assert harmless(text) == shown


@given(st.text(st.characters()))
def test_what_is_shown_is_one_line_without_controls(text: str) -> None:
    shown = harmless(text)
    assert not {unicodedata.category(char) for char in shown} & {"Cc", "Cs", "Zl", "Zp"}
    assert not set(shown) & set("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\u200e\u200f\u061c")


@pytest.mark.parametrize(("text", "columns"), [("abc", 3), ("手術", 4), ("a\u0301", 1), ("", 0)])
def test_width_in_columns(text: str, columns: int) -> None:
    assert width(text) == columns
