"""Orders, choices, answers, repeats, witnesses and what is proved: small cases worked out by hand."""

from __future__ import annotations

import pytest

from stepfield.asepsis import Occurrence, Proof, compile_protocol, mends_of, prove, replay

from .small import one_phase, proof, protocol

CLEAR = "- {id: clear, role: circulating, do: Clear., discards: {blade: box}}\n"


def only(found: Proof) -> Occurrence:
    """The single occurrence of a proof."""
    assert len(found.occurrences) == 1
    return found.occurrences[0]


def names(found: Proof, occurrence: Occurrence) -> list[str]:
    """The witness as step ids."""
    return [found.graph.steps[step].id.value for step, _ in occurrence.witness]


RACE = """
- {id: wipe, role: circulating, do: Wipe., makes: {trolley: clean}}
- {id: clear, role: circulating, do: Clear., discards: {blade: box}}
- {id: chat, role: scrub, do: Chat.}
- {id: use, role: scrub, do: Use., needs: {trolley: clean}}
"""


def test_two_people_in_no_order_are_tried_both_ways_round() -> None:
    found = proof(RACE)
    seen = only(found)
    assert (seen.slip.kind, seen.slip.subject, seen.always) == ("needs-not-met", "trolley", False)
    assert names(found, seen) == ["chat", "use"]


def test_after_settles_it() -> None:
    assert proof(RACE.replace("role: scrub, do: Use.", "role: scrub, after: [wipe], do: Use.")).occurrences == ()


def test_taking_part_settles_it() -> None:
    assert proof(RACE.replace("role: circulating, do: Clear.", "role: circulating, with: [scrub], do: Clear.").replace(
        "- {id: chat, role: scrub, do: Chat.}\n", "")).occurrences == ()  # fmt: skip


def test_a_phase_settles_it() -> None:
    text = """
    - phase: one
      title: One
      steps:
        - {id: use, role: scrub, do: Use., needs: {trolley: clean}}
    - phase: two
      title: Two
      steps:
        - {id: wipe, role: circulating, do: Wipe., makes: {trolley: clean}, discards: {blade: box}}
    """
    seen = only(prove(compile_protocol(protocol(text))))
    assert seen.always


def test_the_mend_offered_is_one_that_works() -> None:
    found = proof(RACE)
    assert [(found.graph.steps[a].id.value, found.graph.steps[b].id.value) for ((a, b),) in mends_of(
        found, only(found), 1000)] == [("wipe", "use")]  # fmt: skip


def test_no_order_is_offered_where_every_order_fails() -> None:
    found = proof(RACE.replace("makes: {trolley: clean}", "touches: [trolley]"))
    assert only(found).always
    assert mends_of(found, only(found), 1000) == ()


CHOICE = """
choices:
  draping:
    title: Draping
    options: {one-sheet: One sheet, two-sheet: Two sheets}
"""
CHOSEN = (
    """
- {id: wipe, role: scrub, do: Wipe., when: {draping: one-sheet}, makes: {trolley: clean}}
- {id: use, role: scrub, do: Use., needs: {trolley: clean}}
"""
    + CLEAR
)


def test_a_slip_names_the_choice_it_needs() -> None:
    found = proof(CHOSEN, CHOICE)
    seen = only(found)
    assert seen.scenarios == ({"draping": "two-sheet"},)
    assert seen.always
    assert names(found, seen) == ["use"]


def test_a_slip_of_every_choice_names_them_all() -> None:
    seen = only(proof(CHOSEN.replace("makes: {trolley: clean}", "why: For show."), CHOICE))
    assert seen.scenarios == ({"draping": "one-sheet"}, {"draping": "two-sheet"})


ASKED = (
    """
- {id: look, role: scrub, do: Look., asks: {question: "Clean?", answers: [clean, dirty]}}
- {id: wipe, role: scrub, do: Wipe., when: {look: dirty}, makes: {trolley: clean}}
- {id: use, role: scrub, do: Use., needs: {trolley: clean}}
"""
    + CLEAR
)


def test_a_slip_names_the_answer_that_decides() -> None:
    found = proof(ASKED)
    seen = only(found)
    assert seen.scenarios == ({"look": "clean"},)
    assert seen.always
    assert names(found, seen) == ["look", "use"]


def test_an_answer_that_decides_nothing_is_left_out() -> None:
    seen = only(proof(ASKED.replace("needs: {trolley: clean}", "needs: {trolley: disinfected}")))
    assert seen.scenarios == ({},)
    assert seen.always


def test_a_step_that_is_passed_over_still_holds_the_order() -> None:
    steps = (
        """
- {id: wipe, role: circulating, do: Wipe., makes: {trolley: clean}}
- {id: sign, role: surgeon, do: Sign., when: {draping: one-sheet}, after: [wipe]}
- {id: use, role: scrub, do: Use., after: [sign], needs: {trolley: clean}}
"""
        + CLEAR
    )
    assert proof(steps, CHOICE).occurrences == ()


REPEAT = (
    """
- {id: fetch, role: circulating, do: Fetch., makes: {cloth: clean}}
- {id: look, role: circulating, do: Look., contaminates: [cloth],
   asks: {question: "Whole?", answers: [whole, damaged]}, repeat: {from: fetch, answer: damaged}}
- {id: use, role: scrub, do: Use., after: [look], needs: {cloth: clean}}
"""
    + CLEAR
)


def test_a_repeat_goes_back_and_others_wait_for_the_last_answer() -> None:
    found = proof(REPEAT)
    assert names(found, only(found)) == ["fetch", "look", "use"]
    assert found.complete
    again = [edge for edges in found.exploration.edges for edge in edges if edge.answer == "damaged"]
    assert again


def test_a_condition_can_look_at_an_answer_that_was_asked_again() -> None:
    steps = (
        REPEAT.replace("contaminates: [cloth],", "")
        + "- {id: more, role: circulating, do: More., when: {look: damaged}, contaminates: [cloth]}\n"
    )
    found = proof(steps)
    assert [found.graph.steps[step].id.value for step in found.never] == ["more"]
    assert found.occurrences == ()


REPEAT_IN_REPEAT = (
    """
- {id: open, role: circulating, do: Open., confirms: [opened]}
- {id: fetch, role: scrub, do: Fetch., after: [open], requires: [opened]}
- {id: look, role: scrub, do: Look., asks: {question: "Whole?", answers: [whole, damaged]},
   repeat: {from: fetch, answer: damaged}}
- {id: again, role: scrub, do: Look again., asks: {question: "Sure?", answers: [sure, unsure]},
   repeat: {from: look, answer: unsure}}
"""
    + CLEAR
)


def test_what_a_repeat_takes_back_may_repeat_itself() -> None:
    assert proof(REPEAT_IN_REPEAT).occurrences == ()


def test_the_end_is_judged_and_the_cause_named() -> None:
    found = proof("- {id: bleed, role: scrub, do: Bleed., soils: [trolley]}\n" + CLEAR)
    seen = only(found)
    assert (seen.slip.kind, seen.slip.step, seen.slip.subject) == ("left-soiled", None, "trolley")
    assert seen.cause is not None
    assert found.graph.steps[seen.cause].id.value == "bleed"
    assert sorted(names(found, seen)) == ["bleed", "clear"]


def test_the_bound_on_states_is_said_and_nothing_is_called_always() -> None:
    steps = "".join(
        f"- {{id: {role}-{number}, role: {role}, do: Do., confirms: [touched], withdraws: [touched]}}\n"
        for role in ("surgeon", "scrub", "circulating")
        for number in range(8)
    )
    graph = compile_protocol(one_phase(steps))
    cut = prove(graph, limit=50)
    assert not cut.complete
    assert not any(seen.always for seen in cut.occurrences)
    assert prove(graph).complete


@pytest.mark.parametrize("steps", [RACE, CHOSEN, ASKED, REPEAT])
def test_every_witness_replays(steps: str) -> None:
    found = proof(steps, CHOICE)
    for seen in found.occurrences:
        moments = replay(found.graph, [step for step, _ in seen.witness])
        assert seen.slip.key in [slip.key for slip in moments[-1].slips]
