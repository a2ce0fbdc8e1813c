"""The state of a person's hands: what every order guarantees, whether covered, whether soiled."""

from __future__ import annotations

import itertools
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings

from stepfield.asepsis import compile_protocol, prove
from stepfield.language.model import Level
from stepfield.pages.hands import Hands, HandStates
from stepfield.pages.speech import speech
from stepfield.pages.states import in_brief
from tests.oracle.small_protocols import small_protocols
from tests.site.small import checked, reading, sample


def state(steps: list[dict[str, Any]], step: str, role: str, *, after: bool = False) -> Hands | None:
    """The state of a role's hands at a step of a one-phase protocol."""
    protocol = sample(phases=[{"phase": "p", "title": "P", "steps": steps}])
    found = reading(checked({"wrist": protocol}))
    assert found.hands is not None
    return found.hands.at(found.index[step], role, after=after)


def step(name: str, role: str, **more: Any) -> dict[str, Any]:
    return {"id": name, "role": role, "do": "Do it.", **more}


WASH = step("wash", "scrub", makes={"scrub.hands": "clean"})
GLOVE = step("glove", "scrub", dons=["gloves"])


def test_hands_start_contaminated_and_follow_the_steps() -> None:
    assert state([WASH], "wash", "scrub") == Hands(Level.CONTAMINATED, False, "no", False, "no")
    assert state([WASH], "wash", "scrub", after=True) == Hands(Level.CLEAN, False, "no", False, "no")


def test_the_lowest_level_of_all_orders_counts() -> None:
    """Whether the scrub nurse touches the trolley before or after the surgeon's step is open."""
    steps = [WASH, step("touch", "scrub", touches=["trolley"]), step("look", "surgeon", **{"with": []})]
    assert state(steps, "touch", "scrub", after=True) == Hands(Level.CONTAMINATED, False, "no", False, "no")
    free = [step("wash", "scrub", makes={"surgeon.hands": "clean"}), step("look", "surgeon")]
    found = state(free, "look", "surgeon")
    assert found == Hands(Level.CONTAMINATED, True, "no", False, "no")
    assert found is not None
    assert in_brief(speech("en"), found) == "perhaps contaminated"


def test_choices_count_like_orders() -> None:
    steps = [
        WASH,
        step("rub", "scrub", when={"draping": "two"}, makes={"scrub.hands": "disinfected"}),
        step("go", "scrub"),
    ]
    found = state(steps, "go", "scrub")
    assert found is not None
    assert in_brief(speech("en"), found) == "at least clean"


def test_a_gloved_hand_is_its_glove() -> None:
    rub = step("rub", "scrub", makes={"scrub.hands": "disinfected"})
    assert state([rub, GLOVE], "glove", "scrub", after=True) == Hands(Level.STERILE, False, "yes", True, "no")


def test_soil_on_the_glove_is_seen() -> None:
    rub = step("rub", "scrub", makes={"scrub.hands": "disinfected"})
    found = state([rub, GLOVE, step("cut", "scrub", soils=["scrub.hands"])], "cut", "scrub", after=True)
    assert found is not None
    assert found.soiled == "yes"
    assert in_brief(speech("en"), found) == "sterile, gloved, soiled"


def test_a_step_that_never_happens_has_no_state() -> None:
    steps = [step("ask", "scrub", asks={"question": "Well?", "answers": ["yes", "no-way"]}), WASH]
    never = [*steps, step("never", "scrub", when={"ask": "yes", "draping": "one"})]
    assert state(never, "never", "scrub") is not None
    with pytest.raises(ValueError, match="takes no part"):
        state(steps, "wash", "surgeon")


@pytest.mark.parametrize(
    ("hands", "words"),
    [
        (Hands(Level.CLEAN, False, "maybe", True, "maybe"), "clean, gloved in some orders, perhaps soiled"),
        (Hands(Level.STERILE, False, "yes", False, "no"), "sterile, covered"),
        (Hands(Level.DISINFECTED, True, "no", False, "no"), "at least disinfected"),
    ],
)
def test_the_state_in_words(hands: Hands, words: str) -> None:
    assert in_brief(speech("en"), hands) == words


@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(small_protocols())
def test_with_orders_left_out_no_state_of_hands_is_missed(case: dict[str, Any]) -> None:
    """What the shortened exploration says of the hands of those who take part is what the full one says."""
    protocol = reading(checked({"wrist": case["protocol"], "evidence": case["evidence"]}, clinic=case["clinic"]))
    assume(protocol.examined.proof is not None)
    graph = compile_protocol(protocol.protocol, protocol.facts.protocol_set.requirements)
    full, short = (prove(graph, reduced=reduced) for reduced in (False, True))
    assume(full.complete and short.complete)
    every, fewer = HandStates(full), HandStates(short)
    for number, step in enumerate(graph.steps):
        for role, after in itertools.product(protocol.people(step), (False, True)):
            assert every.at(number, role, after=after) == fewer.at(number, role, after=after)
