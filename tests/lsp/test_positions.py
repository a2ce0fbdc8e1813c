"""Columns of characters and of UTF-16 units, held to the encoding of the Language Server Protocol (3.17, Position)."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from stepfield.language.source import Span
from stepfield.lsp.positions import Position, place_of, range_of

WRITTEN = st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=20)


@given(WRITTEN, st.data())
def test_a_place_goes_there_and_back(line: str, data: st.DataObject) -> None:
    column = data.draw(st.integers(1, len(line) + 1))
    start = range_of(Span("p", 1, column, 1, column), [line]).start
    assert start == Position(0, len(line[: column - 1].encode("utf-16-le")) // 2)
    assert place_of(start, [line]) == (1, column)


def test_places_beyond_the_text_do_no_harm() -> None:
    assert place_of(Position(9, 9), ["a"]) == (10, 1)
    assert place_of(Position(0, 99), ["ab"]) == (1, 3)
    assert range_of(Span("p", 7, 3, 7, 3), ["a"]).start == Position(6, 0)
