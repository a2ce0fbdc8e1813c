"""Whatever the bytes: a set or problems comes out, never an exception, and the two agree with one another."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from stepfield.language import ProtocolSet, build_set
from stepfield.language.yaml_reader import read_yaml
from tests.language.small import CLINIC, EVIDENCE, FILES, PART, PROTOCOL

RULES = {"bad-yaml", "bad-shape", "unknown-name", "taken-name", "order-loop", "unused-name", "tailoring-lost"}
TAILORING, UPSTREAM = "protocols/tailoring.yaml", "protocols/upstream.yaml"
PATHS = st.sampled_from([CLINIC, PROTOCOL, PART, EVIDENCE, TAILORING, UPSTREAM])
MANY = settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def checked(files: dict[str, bytes]) -> ProtocolSet:
    """The set, after a look at what must hold for any set."""
    found = build_set(files)
    for problem in found.problems:
        assert problem.rule in RULES
        assert problem.message
        assert "Traceback" not in problem.message
        span = problem.span
        lines = found.sources.get(span.path, "").split("\n")
        assert 1 <= span.line <= max(len(lines), 1)
        assert 1 <= span.column <= len(lines[span.line - 1]) + 1 if span.line <= len(lines) else True
        assert (span.line, span.column) <= (span.end_line, span.end_column)
    read = {protocol.id for protocol in found.protocols}
    assert read.isdisjoint(found.unreadable)
    assert found.unsound <= read
    assert not (found.unreadable or found.unsound) or found.problems
    for protocol in found.protocols:
        known = {step.id.value for step in protocol.steps}
        if protocol.id not in found.unsound:
            for step in protocol.steps:
                assert {after.value for after in step.after} <= known
                for effect in step.effects:
                    assert effect.thing.value in protocol.subjects
    return found


def encoded(**changes: bytes) -> dict[str, bytes]:
    return {path: text.encode() for path, text in FILES.items()} | changes


@MANY
@given(PATHS, st.binary(max_size=400))
def test_any_bytes(path: str, data: bytes) -> None:
    checked({**encoded(), path: data})


@MANY
@given(PATHS, st.text(st.sampled_from("ab:-?[]{},'\"#&*!|>%@`~\n \t\r01.\u00e9\u202e\0"), max_size=120))
@example(CLINIC, "---")
def test_any_text_of_yaml_signs(path: str, text: str) -> None:
    checked({**encoded(), path: text.encode()})


@MANY
@given(st.sampled_from(sorted(FILES)), st.integers(0, 3000), st.integers(0, 60), st.binary(max_size=12))
def test_a_right_file_with_a_piece_replaced(path: str, start: int, length: int, piece: bytes) -> None:
    data = FILES[path].encode()
    start %= len(data)
    checked({**encoded(), path: data[:start] + piece + data[start + length :]})


@MANY
@given(st.sampled_from(sorted(FILES)), st.integers(0, 200), st.integers(0, 200))
def test_a_right_file_with_two_lines_exchanged(path: str, one: int, other: int) -> None:
    lines = FILES[path].split("\n")
    one, other = one % len(lines), other % len(lines)
    lines[one], lines[other] = lines[other], lines[one]
    checked({**encoded(), path: "\n".join(lines).encode()})


@MANY
@given(st.dictionaries(st.text(max_size=30), st.binary(max_size=40), max_size=5))
def test_any_file_names(files: dict[str, bytes]) -> None:
    build_set(files)


WRONG: list[Any] = [
    *(None, True, 3, -1, 1.5, "", " ", "x y", "A", "a.b.c", "\u202e", "a\nb", "9" * 400, [], [[]], {}, {"a": {}}),
    *(
        [None],
        ["a", 3],
        {"": 1},
        {"id": []},
        [{"use": 3}],
        [{"use": "a", "as": "b", "with": {"who": []}}],
        {"holds": {"a": 1}},
    ),
]
WORDS = ["scrub", "sterile", "3 min", "open-pack", "one-sheet", "2026-10-01", "protocol", "whole", ""]
KEYS = ["id", "use", "as", "role", "a", "holds"]
LEAVES = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-5, 10**12),
    st.floats(allow_nan=False, allow_infinity=False),
    st.sampled_from(WORDS),
    st.text(max_size=8),
)
JSON = st.recursive(
    LEAVES,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(KEYS), inner, max_size=3),
    max_leaves=6,
)


def with_value(path: str, number: int, value: Any) -> bytes:
    """A right file as JSON (which is YAML) with the value at its n-th place replaced."""
    document = read_yaml(FILES[path].encode(), path).document
    assert document is not None
    routes = [route for route, _, _ in document.spans()]
    route = routes[number % len(routes)]
    content: Any = document.plain()
    if not route:
        content = value
    else:
        at = content
        for step in route[:-1]:
            at = at[step]
        at[route[-1]] = value
    return json.dumps(content, ensure_ascii=False).encode("utf-8", "surrogatepass")


def places(path: str) -> int:
    document = read_yaml(FILES[path].encode(), path).document
    assert document is not None
    return len(list(document.spans()))


@pytest.mark.parametrize("path", sorted(FILES))
def test_every_value_replaced_by_wrong_ones(path: str) -> None:
    """At every place of every file, a few values of a wrong type; each place gets other ones of the list."""
    for number in range(places(path)):
        for offset in range(3):
            value = WRONG[(number * 3 + offset) % len(WRONG)]
            checked({**encoded(), path: with_value(path, number, value)})


@MANY
@given(st.sampled_from(sorted(FILES)), st.integers(0, 400), JSON)
def test_any_value_at_any_place(path: str, number: int, value: Any) -> None:
    checked({**encoded(), path: with_value(path, number, value)})


def test_the_right_files_as_json_are_right() -> None:
    """So that the replaced values, not the rewriting, are what the tests above try."""
    files = {path: with_value(path, 0, read_yaml(text.encode(), path).document.plain()) for path, text in FILES.items()}  # type: ignore[union-attr]
    assert build_set(files).problems == ()
