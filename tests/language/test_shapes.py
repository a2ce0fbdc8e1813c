"""What does not fit is told at its place: what was expected, what stands there, what was probably meant."""

from __future__ import annotations

import pytest

from stepfield.language import Problem
from tests.language.small import CLINIC, EVIDENCE, FILES, PART, PROTOCOL, build, changed, the_text, told

Row = tuple[str, str, str | None, str, str, str]
"""What is written, instead of what; the step, the field, what stands at the place, and what the words must hold."""

ROWS: list[Row] = [
    ("do: Spread the cover.", "di: Spread the cover.", "cover-trolley", "di", "di", "write 'do'"),
    ("after: [open-pack, scrub-wash]", "afer: [open-pack]", "cover-trolley", "afer", "afer", "nearest is 'after'"),
    ("do: Open the pack.", "why: It is needed.", "open-pack", "do", "id", "lacks 'do'"),
    ("do: Open the pack.", "do:", "open-pack", "do", "", "here stands nothing"),
    ("do: Open the pack.", "do: 12", "open-pack", "do", "12", "put it in quotes"),
    ("do: Open the pack.", "do: [Open]", "open-pack", "do", "[Open]", "a list"),
    ("do: Open the pack.", 'do: ""', "open-pack", "do", '""', "must be text"),
    ("role: circulating\n", "role: [circulating]\n", "open-pack", "role", "[circulating]", "one role"),
    (
        "role: circulating\n",
        "role: Circulating nurse\n",
        "open-pack",
        "role",
        "Circulating nurse",
        "'circulating-nurse'",
    ),
    ("with: [circulating]", "with: circulating", "cover-trolley", "with", "circulating", "write [circulating]"),
    ("with: [circulating]", "with: [3]", "cover-trolley", "with", "3", "entry 1 of 'with'"),
    ("sterile: true", "sterile: yes", "cover-trolley", "sterile", "yes", "write true"),
    ("ignition: true", "ignition: 'true'", "cover-trolley", "ignition", "'true'", "true or false"),
    (
        "discards: {scalpel: hand-table}",
        "discards: scalpel",
        "cover-trolley",
        "discards",
        "scalpel",
        "a mapping such as",
    ),
    ("discards: {scalpel: hand-table}", "discards: [A b]", "cover-trolley", "discards", "A b", "'a-b'"),
    (
        "makes: {palm-skin: disinfected}",
        "makes: {palm-skin: disinfectd}",
        "cover-trolley",
        "palm-skin",
        "disinfectd",
        "'disinfected'",
    ),
    (
        "makes: {palm-skin: disinfected}",
        "makes: [palm-skin]",
        "cover-trolley",
        "makes",
        "[palm-skin]",
        "names to levels",
    ),
    (
        "needs: {prep-trolley: disinfected, scrub.hands: clean}",
        "needs: {Prep trolley: clean}",
        "cover-trolley",
        "Prep trolley",
        "Prep trolley",
        "'prep-trolley'",
    ),
    ("at_least: 3 min", "at_least: 3min", "cover-trolley", "at_least", "3min", "write '3 min'"),
    ("at_least: 3 min", "at_least: 3 minutes", "cover-trolley", "at_least", "3 minutes", "write '3 min'"),
    ("at_least: 3 min", "at_least: 3", "cover-trolley", "at_least", "3", "a number, a space"),
    ("at_least: 3 min", 'at_least: "1,5 h"', "cover-trolley", "at_least", '"1,5 h"', "write '1.5 h'"),
    ("at_most: 1 d", "at_least: 1 d", "cover-trolley", "at_least", "at_least", "'at_most'"),
    ("takes: {least: 1 min", "takes: {leest: 1 min", "cover-trolley", "leest", "leest", "'least'"),
    (
        "takes: {least: 1 min",
        "takes: {least: 9 min",
        "cover-trolley",
        "takes",
        "{least: 9 min, likely: 90 s, most: 0.1 h}",
        "grow",
    ),
    ("kind: sharps,", "kind: sharp,", "cover-trolley", "kind", "sharp", "write 'sharps'"),
    ("answers: [whole, damaged]", "answers: []", "open-pack", "answers", "[]", "is empty"),
    (
        "repeat: {from: open-pack, answer: damaged}",
        "repeat: {from: open-pack}",
        "open-pack",
        "answer",
        "repeat",
        "lacks 'answer'",
    ),
    ("{use: hand-scrub, as", "{usee: hand-scrub, as", "scrub-wash", "usee", "usee", "write 'use'"),
    ("as: scrub-wash,", "", "", "as", "use", "lacks 'as'"),
    ("version: 2.1.0", "version: 2.1", None, "version", "2.1", "three numbers"),
    ("version: 2.1.0\n", "", None, "version", "kind", "no draft"),
    ("owner: Infection-control lead\n", "", None, "owner", "kind", "no draft"),
    ("status: approved", "status: Approved", None, "status", "Approved", "write 'approved'"),
    ("date: 2026-10-01", "date: 1.10.2026", None, "date", "1.10.2026", "such as 2026-10-01"),
    ("date: 2026-10-01", "date: 2026-02-30", None, "date", "2026-02-30", "no calendar"),
    ("kind: protocol", "kind: protocl", None, "kind", "protocl", "write 'protocol'"),
    ("kind: protocol", "kind: part", None, "kind", "part", "folder parts"),
    ("count: 10", "count: ten", None, "count", "ten", "whole number"),
    ("count: 10", "count: 0", None, "count", "0", "from 1 to 9999"),
    ("count: 10", "count: '10'", None, "count", "'10'", "write 10 without quotes"),
    ("worn_on: hands", "worn_on: hand", None, "worn_on", "hand", "write 'hands'"),
    ("barrier: fluid-proof", "barrier: fluidproof", None, "barrier", "fluidproof", "write 'fluid-proof'"),
    ("options: {one-sheet: One sheet,", "options: {One Sheet: One,", None, "One Sheet", "One Sheet", "'one-sheet'"),
    (
        "    title: Prepare the room\n",
        "    titel: Prepare the room\n",
        None,
        "titel",
        "titel",
        "phase 'room' has no field",
    ),
    ("team: [surgeon, scrub, circulating]", "team: surgeon", None, "team", "surgeon", "write [surgeon]"),
    ("team: [surgeon, scrub, circulating]", "team: []", None, "team", "[]", "is empty"),
    ("title: Open release", "title: “Open release”", None, "", "", ""),
    ("status: approved", "status: “approved”", None, "status", "“approved”", "curly quotes"),
]


@pytest.mark.parametrize(
    ("old", "new", "step", "subject", "place", "words"), ROWS, ids=[f"{n}-{r[1][:30]}" for n, r in enumerate(ROWS)]
)
def test_one_slip_is_one_problem_at_its_place(
    old: str, new: str, step: str | None, subject: str, place: str, words: str
) -> None:
    files = changed(old, new)
    problems = build(files).problems
    if not subject:  # curly quotes in a sentence are just letters
        assert problems == ()
        return
    (problem,) = problems
    assert (problem.rule, problem.protocol, problem.step, problem.subject) == (
        "bad-shape",
        "release",
        step or None,
        subject,
    )
    assert the_text(problem, files) == place
    assert words in f"{problem.message} {problem.hint}"
    assert build(files).unreadable == ("release",)


@pytest.mark.parametrize(
    ("path", "old", "new", "subject"),
    [
        (CLINIC, "clinic: Quillhaven Day Surgery\n", "", "clinic"),
        (CLINIC, "surgeon: {title: Surgeon}", "surgeon: Surgeon", "surgeon"),
        (CLINIC, "surgeon: {title: Surgeon}", "surgeon: {titel: Surgeon}", "titel"),
        (EVIDENCE, "year: 2024", "year: last", "year"),
        (EVIDENCE, "limit: {at_least: 2 min}", "limit: {}", "limit"),
        (PART, "who: role", "who: person", "who"),
        (PART, "title: Surgical hand scrub\n", "", "title"),
    ],
)
def test_the_other_files_are_held_against_their_schemas_too(path: str, old: str, new: str, subject: str) -> None:
    problems = told(old, new, path)
    assert [(problem.rule, problem.subject, problem.span.path) for problem in problems] == [
        ("bad-shape", subject, path)
    ]


@pytest.mark.parametrize("name", ["tailoring", "upstream"])
def test_files_for_later_are_held_against_their_schemas_already(name: str) -> None:
    (problem, *_) = build(**{name: "nonsense: 1\n"}).problems
    assert (problem.rule, problem.protocol, problem.span.path) == ("bad-shape", None, f"protocols/{name}.yaml")


def test_all_problems_of_a_file_are_told() -> None:
    text = FILES[PROTOCOL]
    for old, new in (
        ("do: Open", "di: Open"),
        ("count: 10", "count: ten"),
        ("kind: sharps,", "kind: x,"),
        ("sterile: true", "sterile: 3"),
    ):
        text = text.replace(old, new)
    problems = build({**FILES, PROTOCOL: text}).problems
    assert [problem.subject for problem in problems] == ["count", "di", "sterile", "kind"]


def test_problems_of_yaml_and_of_shape_are_told_together() -> None:
    text = FILES[PROTOCOL].replace("title: Open release", "title: A\ntitle: B").replace("count: 10", "count: ten")
    assert [problem.rule for problem in build({**FILES, PROTOCOL: text}).problems] == ["bad-yaml", "bad-shape"]


@pytest.mark.parametrize("text", ["", "# nothing\n", "[]", "text", "3", "null"])
def test_a_file_without_fields_is_told_in_one_problem(text: str) -> None:
    (problem,) = build({**FILES, PROTOCOL: text}).problems
    assert (problem.rule, problem.protocol, problem.span.line, problem.span.column) == ("bad-shape", "release", 1, 1)


def test_a_file_with_a_thousand_slips_is_told_up_to_a_bound() -> None:
    text = FILES[PROTOCOL] + "".join(f"      - {{id: s{n}, role: scrub, do: D, count: 1}}\n" for n in range(900))
    problems: tuple[Problem, ...] = build({**FILES, PROTOCOL: text}).problems
    assert len(problems) == 500


def test_only_packs_are_opened_and_only_worn_things_put_on() -> None:
    (opened,) = told("opens: [inner-pack]", "opens: [gauze]")
    assert (opened.rule, opened.subject, opened.step) == ("bad-shape", "gauze", "cover-trolley")
    assert told("opens: [inner-pack]", "dons: [exam-gloves]") == []
    (worn,) = told("opens: [inner-pack]", "dons: [gauze]")
    assert (worn.rule, worn.subject) == ("bad-shape", "gauze")


@pytest.mark.parametrize("start", ["cover-trolley", "scrub-wash", "elsewhere"])
def test_a_repeat_leads_back_inside_the_phase_and_the_lane(start: str) -> None:
    """A later step, steps of another lane, and a step of an earlier phase are refused."""
    first = "  - {phase: first, steps: [{id: elsewhere, role: circulating, do: D}]}\n  - phase: room\n"
    text = FILES[PROTOCOL].replace("  - phase: room\n", first).replace("from: open-pack", f"from: {start}")
    (problem,) = build({**FILES, PROTOCOL: text}).problems
    assert (problem.rule, problem.step, problem.subject) == ("bad-shape", "open-pack", "from")
