"""The Python interface: its names are few, pinned, and work as the developers' page shows."""

from __future__ import annotations

import contextlib
import datetime
import io
import json
import re
from pathlib import Path

import pytest

from stepfield import api

ROOT = Path(__file__).parents[2]
NAMES = ["QuestionError", "as_json", "ask_before", "ask_breach", "ask_can", "check_set", "in_words", "read_set"]


def test_the_names_are_these_and_at_most_ten() -> None:
    assert sorted(api.__all__) == NAMES
    assert len(NAMES) <= 10


@pytest.mark.parametrize("name", NAMES)
def test_every_name_says_what_it_does_and_stands_in_the_developers_page(name: str) -> None:
    assert getattr(api, name).__doc__
    assert f"`{name}`" in (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_the_example_of_the_developers_page_works(monkeypatch: pytest.MonkeyPatch) -> None:
    page = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    (example,) = re.findall(r"```python\n(from pathlib.*?api.*?)```", page, re.DOTALL)
    monkeypatch.chdir(ROOT)
    printed = io.StringIO()
    with contextlib.redirect_stdout(printed):
        exec(example, {})  # noqa: S102 - the page's own example
    assert "Just before 'incise' (Surgeon), in every order:" in printed.getvalue()


def test_reports_and_answers_are_told_alike() -> None:
    protocols = api.read_set(ROOT / "protocols")
    report = api.check_set(protocols, datetime.date(2026, 10, 1))
    answer = api.ask_can(protocols, "wrist-release", "surgeon.hands sterile", "incise")
    assert "Checked as of 2026-10-01" in api.in_words(report)
    assert api.in_words(answer).startswith("wrist-release  ")
    assert "findings" in json.loads(api.as_json(report))
    assert json.loads(api.as_json(answer))["answer"]["holds"] == "every"


def test_a_wrong_name_is_told_by_an_error_of_its_own() -> None:
    with pytest.raises(api.QuestionError, match="nearest: 'incise'"):
        api.ask_breach(api.read_set(ROOT / "protocols"), "wrist-release", "surgeon.hands", "incse")
