"""Lengths of time, names and sentences as the pages say them."""

from __future__ import annotations

import pytest

from stepfield.language import Span
from stepfield.language.model import Duration
from stepfield.pages.speech import speech
from stepfield.pages.words import in_sentence, in_words, length, one_of, opening, span_of, split

ENGLISH = speech("en")
HERE = Span("x.yaml", 1, 1, 1, 2)


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (0, "0 s"),
        (0.5, "0.5 s"),
        (45, "45 s"),
        (60, "1 min"),
        (90, "1 min 30 s"),
        (150, "2 min 30 s"),
        (3600, "1 h"),
        (5400, "1 h 30 min"),
        (86_400, "1 d"),
        (129_600, "1 d 12 h"),
        (5418, "1 h 30 min 18 s"),
        (59.999, "1 min"),
    ],
)
def test_a_length_of_time_as_people_say_it(seconds: float, said: str) -> None:
    assert length(seconds, ENGLISH) == said


def test_one_length_or_a_range() -> None:
    assert span_of(Duration(90, 90, 90, HERE), ENGLISH) == "1 min 30 s"
    assert span_of(Duration(60, 120, 240, HERE), ENGLISH) == "1 min to 4 min, usually 2 min"


def test_names_become_words() -> None:
    assert in_words("pack-checked") == "pack checked"
    assert in_words("scrub-wash.done") == "scrub wash: done"


@pytest.mark.parametrize(
    ("title", "inside"),
    [("Scrub nurse", "scrub nurse"), ("ODP", "ODP"), ("Surgeon", "surgeon"), ("MacIntosh blade", "MacIntosh blade")],
)
def test_a_title_in_the_middle_of_a_sentence(title: str, inside: str) -> None:
    assert in_sentence(title) == inside


def test_alternatives() -> None:
    assert one_of(["a"], ENGLISH) == "a"
    assert one_of(["a", "b", "c"], ENGLISH) == "a, b or c"


@pytest.mark.parametrize(
    ("text", "first", "rest"),
    [
        ("Wipe the table. Let it dry.", "Wipe the table.", "Let it dry."),
        ("Wipe the table.", "Wipe the table.", ""),
        ('Say "stop." Then wait.', 'Say "stop."', "Then wait."),
        ("Stop 2.5 cm below the elbow", "Stop 2.5 cm below the elbow", ""),
        ("One\n  line", "One line", ""),
    ],
)
def test_the_first_sentence_and_the_rest(text: str, first: str, rest: str) -> None:
    assert split(text) == (first, rest)


def test_an_opening_is_short_and_nothing_is_lost_by_splitting() -> None:
    text = "Scrub each hand. " * 20
    assert opening(text) == "Scrub each hand."
    assert opening("word, " * 100, 40) == "word, word, word, word, word, word…"
    assert opening("x" * 100, 40) == "x" * 39 + "…"
    assert " ".join(split(text)).split() == text.split()
