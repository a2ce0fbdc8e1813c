"""Parts are unfolded into the protocol: bound, prefixed, nested; what cannot be unfolded is told once."""

from __future__ import annotations

import pytest

from stepfield.language import Problem, ProtocolSet
from tests.language.small import CLINIC, FILES, PART, PROTOCOL, build, changed, the_text, told

WASH = "protocols/parts/wash.yaml"


def keys(problems: list[Problem] | tuple[Problem, ...]) -> list[tuple[str, str | None, str | None, str | None]]:
    return [(problem.rule, problem.protocol, problem.step, problem.subject) for problem in problems]


def protocol(steps: str, **parts: str) -> ProtocolSet:
    """A set with one protocol of these steps, and these parts."""
    head = FILES[PROTOCOL].partition("    steps:\n")[0]
    files = {CLINIC: FILES[CLINIC], PROTOCOL: f"{head}    steps:\n{steps}"}
    return build(files | {f"protocols/parts/{name.replace('_', '-')}.yaml": text for name, text in parts.items()})


def test_steps_of_a_part_are_named_after_the_use_and_bound() -> None:
    wet, dry = build().protocols[0].steps[:2]
    assert (wet.id.value, wet.role and wet.role.value, wet.part) == ("scrub-wash.wet-hands", "scrub", "hand-scrub")
    assert wet.effects[0].thing.value == "scrub.hands"
    assert [after.value for after in dry.after] == ["scrub-wash.wet-hands"]
    assert dry.effects[0].thing.value == "scrub-towel"
    assert [span.path for span in wet.used_at] == [PROTOCOL]
    assert wet.span.path == PART


def test_after_a_use_means_after_all_its_steps() -> None:
    cover = build().protocols[0].steps[-1]
    assert [after.value for after in cover.after] == ["open-pack", "scrub-wash.wet-hands", "scrub-wash.dry-hands"]


def test_when_and_after_of_a_use_hold_for_every_step_of_it() -> None:
    use = "towel: scrub-towel}"
    found = build(changed(use + "}", use + ", when: {draping: two-sheet}, after: [open-pack]}"))
    assert [problem.rule for problem in found.problems] == []
    wet, dry = found.protocols[0].steps[:2]
    for step in (wet, dry):
        assert [(c.name.value, c.options[0].value) for c in step.when] == [("draping", "two-sheet")]
        assert step.after[0].value == "open-pack"


NESTED = """\
kind: part
title: Outer
for: {person: role, cloth: item, done: fact}
steps:
  - {use: inner, as: first, with: {who: person, towel: cloth}}
  - id: check
    role: person
    do: Look.
    after: [first]
    asks: {question: Dry?, answers: [dry, wet]}
    confirms: [done, person.dry]
  - id: again
    role: person
    do: Again.
    when: {check: wet}
    records: [person.name, cloth.lot]
    waits: [{for: first, at_least: 1 s}]
    withdraws: [done]
  - {use: inner, as: second, with: {who: person, towel: cloth}, when: {check: [wet]}, after: [again]}
"""
INNER = """\
kind: part
title: Inner
for: {who: role, towel: item}
steps:
  - {id: wet, role: who, do: Wet., makes: {who.hands: clean}, touches: [towel, prep-trolley], requires: [room-ready]}
"""


def test_parts_use_parts() -> None:
    use = "      - {use: outer, as: wash, with: {person: scrub, cloth: scrub-towel, done: hands-done}}\n"
    after = "      - {id: end, role: scrub, do: End., after: [wash.first, wash.second.wet], when: {wash.check: dry}}\n"
    found = protocol(use + after, outer=NESTED, inner=INNER)
    assert found.problems == ()
    first, check, again, second, end = found.protocols[0].steps
    assert [step.id.value for step in (first, check, again, second)] == [
        "wash.first.wet",
        "wash.check",
        "wash.again",
        "wash.second.wet",
    ]
    assert [effect.thing.value for effect in first.effects] == ["scrub-towel", "prep-trolley", "scrub.hands"]
    assert [fact.value for fact in first.requires] == ["room-ready"]
    assert [fact.value for fact in check.confirms] == ["hands-done", "scrub.dry"]
    assert [record.value for record in again.records] == ["scrub.name", "scrub-towel.lot"]
    assert again.waits[0].step.value == "wash.first.wet"
    assert [(c.name.value, c.options[0].value) for c in second.when] == [("wash.check", "wet")]
    assert [after.value for after in second.after] == ["wash.again"]
    assert [span.path.rpartition("/")[2] for span in second.used_at] == ["release.yaml", "outer.yaml"]
    assert [after.value for after in end.after] == ["wash.first.wet", "wash.second.wet"]


def test_a_wait_for_a_use_counts_from_its_last_step_and_a_repeat_goes_to_its_first() -> None:
    use = "      - {use: hand-scrub, as: wash, with: {who: scrub, towel: scrub-towel}}\n"
    ask = (
        "      - {id: look, role: scrub, do: Look., touches: [prep-trolley],"
        " asks: {question: Dry?, answers: [dry, wet]}, repeat: {from: wash, answer: wet},"
        " waits: [{for: wash, at_least: 1 s}], within: [{of: wash, at_most: 1 h}]}\n"
    )
    found = protocol(use + ask, hand_scrub=FILES[PART])
    assert found.problems == ()
    look = found.protocols[0].steps[-1]
    assert look.repeat is not None
    assert look.repeat.start.value == "wash.wet-hands"
    assert look.waits[0].step.value == look.within[0].step.value == "wash.dry-hands"


def test_a_missing_binding_is_told_at_the_use() -> None:
    problems = told(", towel: scrub-towel}", "}")
    assert keys(problems) == [("bad-shape", "release", "scrub-wash", "towel")]
    assert build(changed(", towel: scrub-towel}", "}")).unreadable == ("release",)


@pytest.mark.parametrize(
    ("kind", "value", "rule"),
    [
        ("role", "scrub", None),
        ("role", "scrub-towel", "bad-shape"),
        ("role", "nurse", "unknown-name"),
        ("item", "table-cover", None),
        ("item", "room-pack", "bad-shape"),
        ("item", "scrub", "bad-shape"),
        ("item", "towl", "unknown-name"),
        ("surface", "prep-trolley", None),
        ("surface", "palm-skin", "bad-shape"),
        ("site", "palm-skin", None),
        ("site", "hand-table", "bad-shape"),
        ("pack", "inner-pack", None),
        ("pack", "gauze", "bad-shape"),
        ("fact", "anything-at-all", None),
        ("subject", "surgeon.hands", None),
        ("subject", "gauze", None),
        ("subject", "scrub", "bad-shape"),
        ("subject", "sugeon.hands", "unknown-name"),
    ],
)
def test_a_binding_must_be_of_the_kind_the_part_asks_for(kind: str, value: str, rule: str | None) -> None:
    step = "{id: a, role: scrub, do: D, touches: [prep-trolley], records: [x.seen]}"
    part = f"kind: part\ntitle: P\nfor: {{x: {kind}}}\nsteps: [{step}]\n"
    use = f"      - {{use: p, as: u, with: {{x: {value}}}}}\n"
    found = protocol(use, p=part)
    assert keys(found.problems) == ([(rule, "release", "u", value)] if rule else [])


def test_a_binding_the_part_does_not_know_is_unknown() -> None:
    problems = told("towel: scrub-towel}", "towel: scrub-towel, towels: gauze}")
    assert keys(problems) == [("unknown-name", "release", "scrub-wash", "towels")]


def test_an_unknown_role_in_a_binding_is_told_once_and_not_again_for_every_step() -> None:
    problems = told("who: scrub,", "who: xyzzy,")
    assert keys(problems) == [("unknown-name", "release", "scrub-wash", "xyzzy")]
    assert build(changed("who: scrub,", "who: xyzzy,")).unsound == {"release"}


def test_an_unknown_part_is_named_with_the_nearest() -> None:
    (problem,) = told("use: hand-scrub", "use: hand-scrup")
    assert (problem.rule, problem.subject, problem.hint) == ("unknown-name", "hand-scrup", "write 'hand-scrub'")
    found = build(changed("use: hand-scrub", "use: hand-scrup"))
    assert len(found.protocols[0].steps) == 4


def test_a_part_that_is_nowhere_near_leaves_no_protocol_and_no_second_finding() -> None:
    files = changed("use: hand-scrub", "use: xyzzy")
    found = build(files)
    assert keys(found.problems) == [("unknown-name", "release", "scrub-wash", "xyzzy")]
    assert (found.protocols, found.unreadable) == ((), ("release",))


def test_a_part_that_cannot_be_read_is_told_in_its_own_file_only() -> None:
    found = build(changed("title: Surgical hand scrub", "title: [1]", PART))
    assert keys(found.problems) == [("bad-shape", "hand-scrub", None, "title")]
    assert found.unreadable == ("release",)


def test_a_loop_of_uses_is_named() -> None:
    part = "kind: part\ntitle: P\nsteps: [{{use: {}, as: next}}]\n"
    use = "      - {use: a, as: u}\n"
    found = protocol(use, a=part.format("b"), b=part.format("c"), c=part.format("a"))
    (problem,) = found.problems
    assert (problem.rule, problem.protocol) == ("order-loop", "a")
    assert "'a' → 'b' → 'c' → 'a'" in problem.message
    assert [span.path for span, _ in problem.related] == ["protocols/parts/b.yaml", "protocols/parts/c.yaml"]
    assert found.unreadable == ("release",)


def test_a_part_that_uses_itself_is_a_loop() -> None:
    found = protocol("      - {use: a, as: u}\n", a="kind: part\ntitle: P\nsteps: [{use: a, as: me}]\n")
    assert [problem.rule for problem in found.problems] == ["order-loop"]


def test_two_loops_are_both_named() -> None:
    part = "kind: part\ntitle: P\nsteps: [{{use: {}, as: x}}, {{use: {}, as: y}}]\n"
    found = protocol(
        "      - {id: s, role: scrub, do: D}\n",
        a=part.format("b", "c"),
        b=part.format("a", "a"),
        c=part.format("c", "c"),
    )
    assert {problem.message.partition(": ")[2] for problem in found.problems} >= {"'a' → 'b' → 'a'", "'c' → 'c'"}


def test_a_name_twice_in_a_part_is_told_once_in_the_part() -> None:
    twice = FILES[PART].replace("id: dry-hands", "id: wet-hands").replace("after: [wet-hands]", "why: So.")
    found = build({**FILES, PART: twice})
    assert keys(found.problems) == [("taken-name", "hand-scrub", "wet-hands", "wet-hands")]
    assert found.unsound == {"release"}


def test_a_slip_in_a_part_is_one_however_many_protocols_use_it() -> None:
    files = changed("touches: [towel]", "touches: [towel, prep-troley]", PART)
    found = build({**files, "protocols/other.yaml": FILES[PROTOCOL]})
    (problem,) = found.problems
    assert (problem.rule, problem.subject) == ("unknown-name", "prep-troley")
    assert the_text(problem, files) == "prep-troley"


def test_uses_that_multiply_are_refused_not_unfolded() -> None:
    """Eight parts that each use the next ten times would unfold into a hundred million steps."""
    parts = {
        f"p{n}": "kind: part\ntitle: P\nsteps:\n" + "".join(f"  - {{use: p{n + 1}, as: u{m}}}\n" for m in range(10))
        for n in range(8)
    }
    parts["p8"] = "kind: part\ntitle: P\nsteps: [{id: a, role: scrub, do: D}]\n"
    found = protocol("      - {use: p0, as: u}\n", **parts)
    assert "bad-shape" in {problem.rule for problem in found.problems}
    assert found.unreadable == ("release",)


def test_a_long_chain_of_parts_is_refused() -> None:
    parts = {f"p{n}": f"kind: part\ntitle: P\nsteps: [{{use: p{n + 1}, as: u}}]\n" for n in range(1500)}
    parts["p1500"] = "kind: part\ntitle: P\nsteps: [{id: a, role: scrub, do: D}]\n"
    found = protocol("      - {use: p0, as: u}\n", **parts)
    assert [problem.rule for problem in found.problems] == ["bad-shape"]


UNUSED = "kind: part\ntitle: Wash\nfor: {who: role}\nsteps: [{id: soap, role: who, do: Wash.}]\n"


def unused(files: dict[str, str]) -> list[tuple[str | None, str | None]]:
    found = build(files).problems
    return [(problem.protocol, problem.subject) for problem in found if problem.rule == "unused-name"]


def test_a_part_that_no_protocol_uses_is_told_at_its_title() -> None:
    files = {**FILES, WASH: UNUSED}
    (found,) = build(files).problems
    assert (found.rule, found.protocol, found.step, found.subject) == ("unused-name", None, None, "wash")
    assert the_text(found, files) == "Wash"


@pytest.mark.parametrize(
    "broken",
    [
        {"protocols/other.yaml": "kind: protocol\n"},
        {"protocols/other.yml": "kind: protocol\n"},
        {"protocols/parts/other.yaml": "kind: part\n"},
        changed("discards: {scalpel: hand-table}", "discards: {qqqqqqqq: hand-table}"),
    ],
    ids=["unreadable", "misnamed", "unreadable part", "unsound"],
)
def test_no_part_is_told_as_unused_while_something_that_may_use_it_cannot_be_read(broken: dict[str, str]) -> None:
    assert unused({**FILES, WASH: UNUSED, **broken}) == []


def test_without_any_protocol_no_part_is_told_as_unused() -> None:
    assert unused({CLINIC: FILES[CLINIC], WASH: UNUSED}) == []


def test_a_protocol_knows_the_parts_it_uses_even_through_parts() -> None:
    use = "      - {use: outer, as: wash, with: {person: scrub, cloth: scrub-towel, done: hands-done}}\n"
    assert protocol(use, outer=NESTED, inner=INNER).protocols[0].parts == {"outer", "inner"}


def test_a_name_that_a_part_never_uses_is_told_at_the_name() -> None:
    files = changed("    touches: [towel]\n", "", PART)
    (found,) = build(files).problems
    assert (found.rule, found.protocol, found.step, found.subject) == ("unused-name", "hand-scrub", None, "towel")
    assert the_text(found, files) == "towel"


def test_a_name_whose_use_is_misspelled_is_not_told_as_unused() -> None:
    assert [found.rule for found in told("touches: [towel]", "touches: [towle]", PART)] == ["unknown-name"]


def test_one_role_bound_for_several_people_of_a_part_helps_once_and_never_itself() -> None:
    part = "kind: part\ntitle: P\nfor: {lead: role, second: role, third: role}\nsteps:\n"
    part += "  - {id: stop, role: lead, with: [second, third], do: Stop., touches: [prep-trolley]}\n"
    for bound, helpers in (
        ("scrub, second: surgeon, third: circulating", ["surgeon", "circulating"]),
        ("scrub, second: surgeon, third: surgeon", ["surgeon"]),
        ("scrub, second: scrub, third: circulating", ["circulating"]),
        ("scrub, second: scrub, third: scrub", []),
    ):
        found = protocol(f"      - {{use: p, as: u, with: {{lead: {bound}}}}}\n", p=part)
        assert found.problems == ()
        assert [helper.value for helper in found.protocols[0].steps[0].helpers] == helpers
