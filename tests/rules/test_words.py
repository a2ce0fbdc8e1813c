"""How messages name things, and what they advise, where the golden cases do not look."""

from __future__ import annotations

import re

import pytest

from stepfield.checks import Finding, check_set
from stepfield.checks.words import folded, is_plural, listed, sentence
from stepfield.language import build_set

from .golden import TODAY, cases

CLINIC = b"clinic: Q\nroles:\n  scrub: {title: Scrub nurse}\n  circulating: {title: Circulating nurse}\n"


def findings(protocol: str, **parts: str) -> list[Finding]:
    head = "kind: protocol\ntitle: T\nteam: [scrub, circulating]\n"
    files = {"p/clinic.yaml": CLINIC, "p/x.yaml": (head + protocol).encode()}
    files |= {f"p/parts/{name}.yaml": text.encode() for name, text in parts.items()}
    return list(check_set(build_set(files), TODAY).findings)


def step(name: str, role: str, fields: str) -> str:
    return f"      - {{id: {name}, role: {role}, do: Do it., {fields}}}\n"


@pytest.mark.parametrize(
    ("words", "text"),
    [
        ([], ""),
        (["a"], "a"),
        (["a", "b"], "a and b"),
        (["a", "b", "c", "d"], "a, b, c and d"),
        (["a", "b", "c", "d", "e"], "a, b, c and 2 more"),
    ],
)
def test_lists_in_a_sentence(words: list[str], text: str) -> None:
    assert listed(words) == text


@pytest.mark.parametrize(
    ("title", "plural"),
    [("Gauze swabs", True), ("Scissors, curved", True), ("Compress", False), ("Probe", False), ("", False)],
)
def test_titles_of_several_things(title: str, plural: bool) -> None:
    assert is_plural(title) is plural


def test_long_and_folded_titles_are_put_on_one_short_line() -> None:
    assert folded("a\n  b") == "a b"
    assert len(folded("x" * 100)) == 60
    assert sentence("one thing") == "One thing."
    assert sentence("Really?") == "Really?"


def test_every_message_and_every_advice_is_one_line_that_begins_and_ends_as_a_sentence() -> None:
    for case in cases("fails"):
        for finding in case.judge(case.rule).findings:
            for text in (finding.message, finding.advice or "None."):
                assert re.fullmatch(r"['A-Z`][^\n]*[.?!…]", text), text
                assert "  " not in text
                assert ".." not in text


def test_a_step_of_a_part_waits_inside_the_part_by_its_short_name() -> None:
    part = """kind: part
title: Laying
for: {who: role, other: role, table: surface}
steps:
  - {id: wipe, role: other, do: Wipe., makes: {table: disinfected}}
  - {id: lay, role: who, do: Lay., needs: {table: disinfected}}
"""
    (found,) = findings(
        "surfaces: {side-table: {title: T}}\nphases:\n  - phase: room\n    steps:\n"
        "      - {use: laying, as: first, with: {who: scrub, other: circulating, table: side-table}}\n",
        laying=part,
    )
    assert found.span.path == "p/parts/laying.yaml"
    assert "write `after: [wipe]` in 'first.lay' (line 6)" in (found.advice or "")
    assert [(note.span.path, note.span.line, note.text) for note in found.related] == [("p/x.yaml", 8, "used here")]


def test_no_advice_closes_a_loop_round_a_part() -> None:
    part = """kind: part
title: Laying
for: {who: role, other: role, table: surface}
steps:
  - {id: lay, role: who, do: Lay., needs: {table: disinfected}}
  - {id: say, role: other, do: Say that it is laid.}
"""
    (found,) = findings(
        "surfaces: {side-table: {title: T}}\nphases:\n  - phase: room\n    steps:\n"
        "      - {use: laying, as: first, with: {who: scrub, other: circulating, table: side-table}}\n"
        + step("wipe", "circulating", "makes: {side-table: disinfected}"),
        laying=part,
    )
    assert "after" not in (found.advice or "")


def test_what_comes_only_later_is_to_be_moved() -> None:
    (found,) = findings(
        "surfaces: {side-table: {title: T}}\nphases:\n  - phase: room\n    steps:\n"
        + step("lay", "scrub", "needs: {side-table: clean}")
        + step("wipe", "scrub", "makes: {side-table: clean}")
    )
    assert found.advice == "'wipe' (line 9) comes only later: move it, or add one like it, before 'lay'."


def test_a_role_that_the_team_misspells_is_told_once() -> None:
    found = findings("phases:\n  - phase: room\n    steps:\n" + step("a", "scrub", "confirms: [b]"))
    assert found == []
    files = {
        "p/clinic.yaml": CLINIC,
        "p/x.yaml": b"kind: protocol\ntitle: T\nteam: [scrubb]\nphases:\n  - phase: room\n    steps:\n"
        b"      - {id: a, role: scrubb, do: Do it.}\n",
    }
    assert [(one.rule, one.subject) for one in check_set(build_set(files), TODAY).findings] == [
        ("unknown-name", "scrubb")
    ]


def test_a_protocol_not_proved_says_how_many_scenarios_are_open() -> None:
    case = next(case for case in cases("fails") if case.rule == "not-proved")
    text = case.files["protocols/wide.yaml"].decode()
    text = text.replace("phases:", "choices:\n  a: {title: A, options: {x: X, y: Y}}\nphases:", 1)
    text = text.replace("do: Do it.", "do: Do it., when: {a: x}", 1)
    protocols = build_set({**case.files, "protocols/wide.yaml": text.encode()})
    (found,) = check_set(protocols, TODAY, limit=20).findings
    assert found.message.startswith("Not every order, in each of 2 scenarios, was tried, since ")


def test_a_step_that_waits_for_the_right_answer_is_always_done_in_the_end() -> None:
    steps = "phases:\n  - phase: room\n    steps:\n"
    steps += step(
        "look", "circulating", "asks: {question: Q, answers: [whole, damaged]}, repeat: {from: look, answer: damaged}"
    )
    steps += step("say", "circulating", "when: {look: whole}, confirms: [pack-whole]")
    (found,) = findings(steps + step("go", "scrub", "requires: [pack-whole]"))
    assert found.advice == "Let 'go' wait for 'say': write `after: [say]` in 'go' (line 9)."
    (found,) = findings(
        steps.replace(", repeat: {from: look, answer: damaged}", "") + step("go", "scrub", "requires: [pack-whole]")
    )
    assert found.advice is not None
    assert found.advice.endswith(
        "'say' (line 8) is done only when `look: whole`: do it in every case before 'go', or give that the same `when`."
    )
