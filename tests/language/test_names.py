"""Names: what is declared nowhere is told once, with the nearest that is; what is declared twice as well."""

from __future__ import annotations

import pytest

from tests.language.small import CLINIC, EVIDENCE, FILES, PROTOCOL, build, changed, the_text, told

UNKNOWN = [
    ("team: [surgeon, scrub, circulating]", "team: [surgeon, scrub, circulating, porter]", None, "porter", None),
    ("team: [surgeon, scrub, circulating]", "team: [surgon, scrub, circulating]", None, "surgon", "surgeon"),
    ("with: [circulating]", "with: [circulatin]", "cover-trolley", "circulatin", "circulating"),
    ("with: [circulating]", "with: [xyzzy]", "cover-trolley", "xyzzy", None),
    ("opens: [room-pack]", "opens: [rom-pack]", "open-pack", "rom-pack", "room-pack"),
    ("needs: {prep-trolley:", "needs: {prep-troley:", "cover-trolley", "prep-troley", "prep-trolley"),
    ("scrub.hands: clean", "scrub.hand: clean", "cover-trolley", "scrub.hand", "scrub.hands"),
    (
        "covers: {prep-trolley: table-cover}",
        "covers: {prep-trolley: cover-table}",
        "cover-trolley",
        "cover-table",
        None,
    ),
    (
        "covers: {prep-trolley: table-cover}",
        "covers: {prep-trolley: tabel-cover}",
        "cover-trolley",
        "tabel-cover",
        "table-cover",
    ),
    ("passes: {gauze: surgeon}", "passes: {gauze: sugeon}", "cover-trolley", "sugeon", "surgeon"),
    ("passes: {gauze: surgeon}", "passes: {gauze: prep-trolley}", "cover-trolley", "prep-trolley", None),
    ("discards: {scalpel: hand-table}", "discards: {scalpel: hand-tabel}", "cover-trolley", "hand-tabel", "hand-table"),
    ("makes: {palm-skin: disinfected}", "makes: {palm-skn: disinfected}", "cover-trolley", "palm-skn", "palm-skin"),
    ("after: [open-pack, scrub-wash]", "after: [open-pak]", "cover-trolley", "open-pak", "open-pack"),
    (
        "after: [open-pack, scrub-wash]",
        "after: [scrub-wash.dry-hand]",
        "cover-trolley",
        "scrub-wash.dry-hand",
        "scrub-wash.dry-hands",
    ),
    ("draping: one-sheet, open", "drapin: one-sheet, open", "cover-trolley", "drapin", "draping"),
    ("draping: one-sheet, open", "draping: one-shet, open", "cover-trolley", "one-shet", "one-sheet"),
    ("open-pack: [whole]}", "open-pack: [hole]}", "cover-trolley", "hole", "whole"),
    ("open-pack: [whole]}", "scrub-wash.wet-hands: [whole]}", "cover-trolley", "whole", None),
    ("from: open-pack,", "from: open-pak,", "open-pack", "open-pak", "open-pack"),
    ("answer: damaged}", "answer: damagd}", "open-pack", "damagd", "damaged"),
    ("waits: [{for: scrub-wash,", "waits: [{for: scrub-wish,", "cover-trolley", "scrub-wish", "scrub-wash"),
    ("within: [{of: open-pack,", "within: [{of: opn-pack,", "cover-trolley", "opn-pack", "open-pack"),
    ("meets: [scrub-time]", "meets: [scrub-tim]", "cover-trolley", "scrub-tim", "scrub-time"),
    ("team: [surgeon", "adopts: [hand]\nteam: [surgeon", None, "hand", "hands"),
]


@pytest.mark.parametrize(
    ("old", "new", "step", "name", "nearest"), UNKNOWN, ids=[f"{r[3]}-{n}" for n, r in enumerate(UNKNOWN)]
)
def test_a_name_declared_nowhere_is_one_problem_and_mended(
    old: str, new: str, step: str | None, name: str, nearest: str | None
) -> None:
    files = changed(old, new)
    found = build(files)
    (problem,) = found.problems
    assert (problem.rule, problem.protocol, problem.step, problem.subject) == ("unknown-name", "release", step, name)
    assert the_text(problem, files) == name
    assert (problem.hint == f"write '{nearest}'") if nearest else (problem.hint is None)
    assert (f"'{nearest}'" in problem.message) if nearest else ("no name declared comes near" in problem.message)
    assert [protocol.id for protocol in found.protocols] == ["release"]
    assert found.unsound == (frozenset() if nearest else {"release"})


def test_a_mended_name_leaves_the_model_as_it_would_have_been() -> None:
    right, mended = build().protocols[0], build(changed("opens: [room-pack]", "opens: [rom-pack]")).protocols[0]
    assert [(e.field, e.thing.value) for s in mended.steps for e in s.effects] == [
        (e.field, e.thing.value) for s in right.steps for e in s.effects
    ]


def test_a_declaration_that_is_missing_is_one_problem_however_often_it_is_used() -> None:
    text = FILES[CLINIC].replace("  prep-trolley: {title: Prep trolley}", "  side-board: {title: Side board}")
    (problem,) = build({**FILES, CLINIC: text}).problems
    assert (problem.rule, problem.subject) == ("unknown-name", "prep-trolley")
    assert [text for _, text in problem.related] == ["'prep-trolley' stands here too"]


def test_at_most_four_near_names_are_told() -> None:
    surfaces = ", ".join(f"cart-{n}: {{}}" for n in "abcdef")
    text = (
        FILES[PROTOCOL]
        .replace("surfaces: {", f"surfaces: {{{surfaces}, ")
        .replace("[room-pack]\n", "[room-pack]\n        touches: [cart-x]\n")
    )
    (problem,) = build({**FILES, PROTOCOL: text}).problems
    assert len(problem.related) == 4


def test_without_a_clinic_only_that_is_told() -> None:
    found = build({path: text for path, text in FILES.items() if path != CLINIC})
    (problem,) = found.problems
    assert (problem.rule, problem.subject, problem.span.path) == ("bad-shape", "clinic", CLINIC)
    assert found.clinic is None
    assert found.unsound == {"release"}


def test_a_role_the_team_lacks_is_left_to_its_own_rule() -> None:
    assert told("role: circulating\n", "role: porter\n        sterile: true\n") == []


def test_facts_are_not_declared() -> None:
    assert told("requires: [pack-checked]", "requires: [never-confirmed]") == []


TAKEN = [
    ("hand-table: {title", "prep-trolley: {}, hand-table: {title", None, "prep-trolley"),
    ("sites: {", "sites: {hand-table: {}, ", None, "hand-table"),
    ("items: {", "items: {gauze: {}, ", None, "gauze"),
    ("inner-pack: {holds: {", "inner-pack: {holds: {gauze: {}, ", None, "gauze"),
    ("team: [surgeon, scrub, circulating]", "team: [surgeon, scrub, circulating, scrub]", None, "scrub"),
    ("answers: [whole, damaged]", "answers: [whole, damaged, whole]", "open-pack", "whole"),
    ("phases:\n", "phases:\n  - {phase: room, steps: [{id: x, role: scrub, do: D}]}\n", None, "room"),
    (
        "      - id: open-pack\n",
        "      - {id: open-pack, role: scrub, do: D}\n      - id: open-pack\n",
        "open-pack",
        "open-pack",
    ),
    (
        "      - id: open-pack\n",
        "      - {id: draping, role: scrub, do: D}\n      - id: open-pack\n",
        "draping",
        "draping",
    ),
    (
        "      - id: open-pack\n",
        "      - {id: scrub-wash, role: scrub, do: D}\n      - id: open-pack\n",
        "scrub-wash",
        "scrub-wash",
    ),
    (
        "      - id: open-pack\n",
        "      - {use: hand-scrub, as: scrub-wash, with: {who: surgeon, towel: scrub-towel}}\n      - id: open-pack\n",
        "scrub-wash",
        "scrub-wash",
    ),
]


@pytest.mark.parametrize(("old", "new", "step", "name"), TAKEN, ids=[f"{r[3]}-{n}" for n, r in enumerate(TAKEN)])
def test_a_name_declared_twice_is_one_problem_that_shows_both_places(
    old: str, new: str, step: str | None, name: str
) -> None:
    files = changed(old, new)
    (problem,) = build(files).problems
    assert (problem.rule, problem.protocol, problem.step, problem.subject) == ("taken-name", "release", step, name)
    ((first, _),) = problem.related
    lines = files[first.path].split("\n")
    assert lines[first.line - 1][first.column - 1 : first.end_column - 1] == name
    assert first != problem.span


def test_the_same_word_may_name_a_step_a_phase_and_a_thing() -> None:
    text = (
        FILES[PROTOCOL]
        .replace("id: open-pack", "id: room-pack")
        .replace("open-pack", "room-pack")
        .replace("phase: room", "phase: room-pack")
    )
    assert build({**FILES, PROTOCOL: text}).problems == ()


def test_sets_of_requirements_name_requirements() -> None:
    (problem,) = told("sets: {hands: [scrub-time]}", "sets: {hands: [scrub-tine]}", EVIDENCE)
    assert (problem.rule, problem.protocol, problem.subject) == ("unknown-name", None, "scrub-tine")
