"""What every order lacks: which step or part would supply it, where, and what is never offered."""

from __future__ import annotations

import pytest

from tests.mends.small import RUB, finding, said, small
from tests.mends.texts import Texts

GLOVES = "items: {gloves: {title: Gloves, starts: clean, worn_on: hands}}\n"
UNDRESS = """kind: part
title: Undressing
for: {who: role, gloves: item}
steps:
  - {id: peel, role: who, do: Peel them off., doffs: [gloves], discards: [gloves]}
"""
WIPE = """kind: part
title: Wiping
for: {who: role, top: surface}
steps:
  - {id: wipe, role: who, do: Wipe., makes: {top: disinfected}}
"""


def test_a_part_is_offered_with_its_names_bound() -> None:
    texts = small("- {id: set-out, role: scrub, do: Set out., needs: {scrub.hands: disinfected}}", hand_rub=RUB)
    assert said(texts, "needs-not-met") == ["use the part 'hand-rub' (who: scrub) right before 'set-out'"]


def test_a_step_is_offered_once_more_and_waited_for_where_it_is_in_another_lane() -> None:
    steps = """
- {id: wipe, role: circulating, do: Wipe., makes: {table: disinfected}}
- {id: lean, role: circulating, do: Lean., contaminates: [table]}
- {id: set-out, role: scrub, do: Set out., after: [lean], needs: {table: disinfected}}
"""
    found = finding(small(steps), "needs-not-met")
    assert [mend.say for mend in found.mends] == ["do 'wipe' once more right before 'set-out'"]
    assert [(wait.step, wait.after) for wait in found.mends[0].waits] == [("set-out", ("wipe-again",))]


def test_a_step_that_is_done_only_sometimes_is_not_repeated_as_if_it_were_always() -> None:
    steps = """
- {id: wipe, role: circulating, do: Wipe., when: {size: large}, makes: {table: disinfected}}
- {id: set-out, role: circulating, do: Set out., needs: {table: disinfected}}
"""
    choices = "choices: {size: {title: Size, options: {large: Large, small: Small}}}\n"
    assert said(small(steps, choices), "needs-not-met") == []


def test_what_is_worn_to_the_end_is_taken_off_there_by_a_part_that_is_used_with_it_elsewhere() -> None:
    wears = "- {id: glove, role: scrub, do: Put them on., dons: [gloves]}"
    texts = small(wears, GLOVES, undress=UNDRESS)
    assert said(texts, "left-on") == ["use the part 'undress' (who: scrub, gloves: gloves) at the end"]


@pytest.mark.parametrize(
    ("rule", "texts"),
    [
        ("cover-missing", small("- {id: peel, role: scrub, do: Peel., doffs: [gloves]}", GLOVES, undress=UNDRESS)),
        ("needs-not-met", small("- {id: cut, role: surgeon, do: Cut., needs: {table: clean}}")),
        ("fact-missing", small("- {id: cut, role: surgeon, do: Cut., requires: [agreed]}")),
    ],
)
def test_where_nothing_supplies_it_nothing_is_offered(rule: str, texts: Texts) -> None:
    assert said(texts, rule) == []


def test_soil_is_cleaned_behind_the_step_that_brings_it() -> None:
    steps = """
- {id: wipe, role: circulating, do: Wipe., makes: {table: disinfected}}
- {id: spill, role: scrub, do: Spill., soils: [table]}
"""
    found = finding(small(steps), "left-soiled")
    assert found.mends == () or all(mend.addition is not None or mend.waits for mend in found.mends)
    always = steps.replace("do: Spill.,", "do: Spill., after: [wipe],")
    assert said(small(always), "left-soiled") == ["do 'wipe' once more at the end, after 'spill'"]


def test_a_fact_is_confirmed_by_whoever_confirms_it_already() -> None:
    steps = """
- {id: ask, role: circulating, do: Ask., confirms: [agreed]}
- {id: doubt, role: circulating, do: Doubt., withdraws: [agreed]}
- {id: cut, role: surgeon, do: Cut., after: [doubt], requires: [agreed]}
"""
    assert said(small(steps), "fact-missing") == ["do 'ask' once more right before 'cut'"]


def test_a_count_is_added_behind_the_last_use() -> None:
    steps = """
- {id: count, role: scrub, do: Count., counts: [swabs]}
- {id: dab, role: scrub, do: Dab., uses: {swabs: skin}}
"""
    things = "sites: {skin: {title: Skin}}\nitems: {swabs: {title: Swabs, starts: clean, counted: true}}\n"
    assert said(small(steps, things), "count-missing") == ["do 'count' once more right after 'dab'"]


def test_a_part_is_not_used_with_things_it_is_used_with_nowhere() -> None:
    steps = "- {id: set-out, role: scrub, do: Set out., needs: {table: disinfected}}"
    three = WIPE.replace("top: surface}", "top: surface, cloth: item}").replace("do:", "touches: [cloth], do:")
    texts = small(steps, "items: {cloth: {title: Cloth, starts: clean}}\n", wiping=three)
    assert said(texts, "needs-not-met") == []


def test_a_name_that_is_taken_is_not_taken_again() -> None:
    steps = """
- {use: hand-rub, as: hand-rub, with: {who: scrub}}
- {id: touch, role: scrub, do: Touch., contaminates: [scrub.hands]}
- {id: set-out, role: scrub, do: Set out., needs: {scrub.hands: disinfected}}
"""
    (mend,) = finding(small(steps, hand_rub=RUB), "needs-not-met").mends
    assert mend.addition is not None
    assert mend.addition.name == "hand-rub-2"
