"""YAML is read as YAML 1.2, strictly; chapters are those of the YAML 1.2.2 specification."""

from __future__ import annotations

import pytest

from stepfield.language.yaml_nodes import Document, Mapping
from stepfield.language.yaml_reader import MOST_DEPTH, MOST_NODES, Reading, read_yaml
from stepfield.language.yaml_text import MOST_BYTES


def read(text: str | bytes) -> Reading:
    return read_yaml(text if isinstance(text, bytes) else text.encode(), "x.yaml")


def value(text: str | bytes) -> object:
    reading = read(text)
    assert reading.problems == ()
    assert reading.document is not None
    return reading.document.plain()


def places(text: str | bytes) -> list[tuple[int, int]]:
    """Where the problems are; at least one there must be."""
    problems = read(text).problems
    assert problems
    assert {problem.rule for problem in problems} == {"bad-yaml"}
    return [(problem.span.line, problem.span.column) for problem in problems]


# Chapter 10.3.2, the core schema; what differs from it on purpose stands in the next table.
SCALARS: list[tuple[str, object]] = [
    ("no", "no"),
    ("yes", "yes"),
    ("on", "on"),
    ("off", "off"),
    ("y", "y"),
    ("N", "N"),
    ("2:30", "2:30"),
    ("10:30", "10:30"),
    ("1:2:3", "1:2:3"),
    ("2026-10-01", "2026-10-01"),
    ("2026-10-01 10:00:00", "2026-10-01 10:00:00"),
    ("1_000", "1_000"),
    ("1,000", "1,000"),
    ("=", "="),
    ("<", "<"),
    ("0b101", "0b101"),
    ("0x", "0x"),
    ("0o8", "0o8"),
    ("1e", "1e"),
    ("1.2.3", "1.2.3"),
    ("true", True),
    ("True", True),
    ("TRUE", True),
    ("tRUE", "tRUE"),
    ("false", False),
    ("False", False),
    ("null", None),
    ("Null", None),
    ("NULL", None),
    ("nULL", "nULL"),
    ("~", None),
    ("", None),
    ("0", 0),
    ("-0", 0),
    ("12", 12),
    ("-12", -12),
    ("+12", 12),
    ("0o14", 12),
    ("0x1F", 31),
    ("1.5", 1.5),
    (".5", 0.5),
    ("5.", 5.0),
    ("-1.5e3", -1500.0),
    ("1e3", 1000.0),
    ("1E-2", 0.01),
    ('"12"', "12"),
    ("'true'", "true"),
    ('""', ""),
]
LEADING_ZEROS = [("012", "012"), ("-012", "-012"), ("00", "00"), ("007.5", "007.5"), ("01e3", "01e3")]


@pytest.mark.parametrize(("written", "meant"), SCALARS + LEADING_ZEROS)
def test_what_a_scalar_means(written: str, meant: object) -> None:
    found = value(f"a: {written}\n")
    assert found == {"a": meant}
    assert type(found["a"]) is type(meant)  # type: ignore[index]


def test_a_dash_alone_is_an_empty_list_entry_and_in_brackets_nothing() -> None:
    assert value("- \n") == [None]
    assert places("[-]") == [(1, 2)]


@pytest.mark.parametrize(
    "number", ["1" * 19, "-" + "9" * 19, "0x" + "f" * 19, "1e999", ".inf", "-.Inf", ".NaN", "1" * 5000]
)
def test_numbers_that_cannot_be_kept_exactly_are_refused(number: str) -> None:
    assert places(f"a: {number}\n") == [(1, 4)]
    assert value(f'a: "{number}"\n') == {"a": number}


def test_18_digits_are_kept() -> None:
    assert value("a: " + "9" * 18) == {"a": 10**18 - 1}


# Position of keys and values ------------------------------------------------------------------------------------

PLACES = """\
title: Öffnen 😀 jetzt
list:
  - one
  - {two: "drei", four: [5, 6]}
block: |
  first
  second

folded: >-
  a
  b
end:
"""


def span(document: Document, route: tuple[str | int, ...], part: str = "value") -> tuple[int, int, int, int]:
    found = document.span_of(route, part)  # type: ignore[arg-type]
    return found.line, found.column, found.end_line, found.end_column


def test_every_key_and_value_knows_its_place() -> None:
    document = read(PLACES).document
    assert document is not None
    assert span(document, ("title",), "key") == (1, 1, 1, 6)
    assert span(document, ("title",)) == (1, 8, 1, 22)
    assert span(document, ("list",)) == (3, 3, 4, 32)
    assert span(document, ("list", 0)) == (3, 5, 3, 8)
    assert span(document, ("list", 1)) == (4, 5, 4, 32)
    assert span(document, ("list", 1, "two"), "key") == (4, 6, 4, 9)
    assert span(document, ("list", 1, "two")) == (4, 11, 4, 17)
    assert span(document, ("list", 1, "four", 1)) == (4, 29, 4, 30)
    assert span(document, ("block",)) == (5, 8, 7, 9)
    assert span(document, ("folded",)) == (9, 9, 11, 4)
    assert span(document, ("end",)) == (12, 5, 12, 5)
    assert span(document, ()) == (1, 1, 12, 5)


def test_a_route_that_leads_nowhere_gives_the_last_thing_on_it() -> None:
    document = read(PLACES).document
    assert document is not None
    assert span(document, ("list", 9)) == span(document, ("list",))
    assert span(document, ("title", "x", "y")) == span(document, ("title",))


def test_the_table_of_places_lists_every_route() -> None:
    document = read("a: {b: [c]}\n").document
    assert document is not None
    table = {route: (key and key.column, at.column) for route, key, at in document.spans()}
    assert table == {(): (None, 1), ("a",): (1, 4), ("a", "b"): (5, 8), ("a", "b", 0): (None, 9)}


def test_line_ends_of_either_kind_and_a_byte_order_mark_change_nothing() -> None:
    plain = read("a: b\nc: |\n  d\n  e\n").document
    other = read("\ufeffa: b\r\nc: |\r\n  d\r\n  e\r\n".encode()).document
    assert plain == other


def test_no_line_end_at_the_end_changes_nothing() -> None:
    assert value("a: |\n  b") == value("a: |\n  b\n") == {"a": "b\n"}


# Limits ---------------------------------------------------------------------------------------------------------


def test_the_limit_of_size() -> None:
    text = b"a: b\n#"
    assert value(text + b"x" * (MOST_BYTES - len(text))) == {"a": "b"}
    assert places(text + b"x" * (MOST_BYTES - len(text) + 1)) == [(1, 1)]


@pytest.mark.parametrize("opening", ["[", "{a: "])
def test_the_limit_of_depth(opening: str) -> None:
    closing = "]" if opening == "[" else "}"
    assert value(opening * MOST_DEPTH + closing * MOST_DEPTH) is not None
    assert places(opening * (MOST_DEPTH + 1) + closing * (MOST_DEPTH + 1)) == [(1, len(opening) * MOST_DEPTH + 1)]


def test_the_limit_of_depth_in_block_style() -> None:
    lines = ["  " * level + "a:" for level in range(MOST_DEPTH + 1)]
    assert value("\n".join(lines[:-1])) is not None
    assert places("\n".join(lines)) == [(MOST_DEPTH + 1, 2 * MOST_DEPTH + 1)]


@pytest.mark.parametrize("count", [100, 900, 1100, 100_000])
def test_many_brackets_are_refused_for_their_depth(count: int) -> None:
    (problem,) = read("[" * count).problems
    assert "nested more than 32 deep" in problem.message


def test_the_limit_of_values() -> None:
    assert len(read("[" + "a," * (MOST_NODES - 1) + "]").problems) == 0
    assert len(read("[" + "a," * MOST_NODES + "]").problems) == 1


@pytest.mark.parametrize(
    ("data", "place"),
    [
        (b"a: b\nc: \xff\n", (2, 4)),
        ("ä: b\nü: ".encode() + b"\xc3", (2, 4)),
        ("a: b".encode("utf-16"), (1, 1)),
        (b"a: \xed\xa0\x80", (1, 4)),
        (b"a: \xc0\x80", (1, 4)),
        ("a: b\nc: café".encode("latin-1"), (2, 7)),
    ],
)
def test_what_is_not_utf_8_is_refused_at_its_place(data: bytes, place: tuple[int, int]) -> None:
    assert places(data) == [place]


@pytest.mark.parametrize(
    "code", [0, 7, 8, 0x1B, 0x7F, 0x80, 0x85, 0x9F, 0x202E, 0x202A, 0x2066, 0x2069, 0x2028, 0xFFFE]
)
def test_unseen_characters_are_refused_written_out_or_escaped(code: int) -> None:
    """Chapter 5.1 has the printable ones; the bidirectional controls are refused beside."""
    assert places(f"a: b\ncd: e{chr(code)}f\n") == [(2, 6)]
    escape = f"\\u{code:04x}"
    assert places(f'a: "x{escape}"\n') == [(1, 4)]


def test_a_lone_carriage_return_and_a_mark_in_the_middle_are_refused() -> None:
    assert places("a: b\rc\n") == [(1, 5)]
    assert places("a: \ufeffb\n") == [(1, 4)]


def test_a_lone_surrogate_cannot_be_escaped() -> None:
    assert places('a: "\\ud800"\n')[0][0] == 1


# What is not in the subset: each is told, and reading goes on -----------------------------------------------------


def test_all_problems_of_a_file_are_told() -> None:
    text = "a: &x 1\nb: *x\nc: !!str d\na: 2\n? e\n: f\n3: g\n[h]: i\nj: {k: 1, k: 2}\n"
    assert [line for line, _ in places(text)] == [1, 2, 3, 4, 5, 7, 8, 9]


def test_a_key_written_twice_names_both_places() -> None:
    (problem,) = read("a: 1\nb: 2\n'a': 3\n").problems
    assert (problem.span.line, problem.subject, problem.related[0][0].line) == (3, "a", 1)


@pytest.mark.parametrize(
    "text",
    [
        "a: &x b",
        "a: *x",
        "&x a: b",
        "a: !!str b",
        "a: !b c",
        "! a",
        "%TAG ! tag:x,2000:\n---\na: b",
        "%YAML 1.1\n---\na: b",
        "%YAML 1.3\n---\na: b",
        "<<: {a: b}",
        "a: b\n---\nc: d",
        "? a\n: b",
        "?\n: b",
        "{? a : b}",
        "[? a : b]",
        "{?x: b}",
        "- ? a",
        "[a]: b",
        "{a: b}: c",
        "1: a",
        "true: a",
        "null: a",
        ": a",
        "~: a",
    ],
)
def test_outside_the_subset(text: str) -> None:
    assert len(places(text)) >= 1


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("%YAML 1.2\n---\na: b\n", {"a": "b"}),
        ("--- # comment\na: b\n...\n", {"a": "b"}),
        ("a: b ? c\nd: e,#f\n", {"a": "b ? c", "d": "e,#f"}),
        ("a: '? b'\nc: \"d,#e\"\n", {"a": "? b", "c": "d,#e"}),
        ("a: b&c\nd: e*f\ng: h!i\n", {"a": "b&c", "d": "e*f", "g": "h!i"}),
        ("a: What is it? Yes\n", {"a": "What is it? Yes"}),
        ('"<<": b\n', {"<<": "b"}),
        ("", None),
        ("# nothing\n", None),
        ("---\n", None),
    ],
)
def test_inside_the_subset(text: str, meant: object) -> None:
    assert value(text) == meant


# What the words say -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "place", "words"),
    [
        ("a:\n\tb: c\n", (2, 1), "tab"),
        ("a: \tb\n\tc: d\n", (2, 1), "tab"),
        ("do: Check: all there\n", (1, 10), "quotes"),
        ("do: “Check: all there”\n", (1, 11), "curly"),
        ('a: "b\nc: d\n', (1, 4), "never closed"),
        ("a: [b, c\nd: e\n", (2, 2), "line 1 is not closed"),
        ("a: {b: c\nd: e\n", (2, 2), "line 1 is not closed"),
        ("a: b\nfoo\nc: d\n", (2, 1), "'key: value'"),
        ("a: b\n  c: d\n", (2, 4), "line it up"),
        ("a: - b\n", (1, 4), "own line"),
        ("a:\n  - b\n  c: d\n", (3, 3), "begin with '- '"),
        ("a: @b\n", (1, 4), "'@'"),
        ("a: `b`\n", (1, 4), "'`'"),
        ("a: %b\n", (1, 4), "'%'"),
        ("a: 'it's'\n", (1, 8), "closing quote"),
        ('a: "C:\\dir"\n', (1, 7), "backslash"),
        ('a: "b"# c\n', (1, 7), "space before"),
        ("a:\n  b: [c,\n  d]\n", (3, 1), "indent"),
    ],
)
def test_slips_are_told_in_words_a_writer_knows(text: str, place: tuple[int, int], words: str) -> None:
    problem = read(text).problems[0]
    assert (problem.span.line, problem.span.column) == place
    assert words in f"{problem.message} {problem.hint}"
    for jargon in ("mapping values", "token", "scalar", "node", "expected <", "parser"):
        assert jargon not in problem.message


def test_a_mapping_gives_its_entries_by_key() -> None:
    document = read("a: 1\n").document
    assert document is not None
    assert isinstance(document.root, Mapping)
    assert document.root.get("b") is None
    assert document.at(("a",)) is document.root.get("a")
    assert document.at(("a", 0)) is None
