"""The state of a person's hands: what every order guarantees, whether covered, whether soiled."""

from __future__ import annotations

from typing import Any

import pytest

from stepfield.language.model import Level
from stepfield.pages.hands import Hands
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
    assert found.words == "perhaps contaminated"


def test_choices_count_like_orders() -> None:
    steps = [
        WASH,
        step("rub", "scrub", when={"draping": "two"}, makes={"scrub.hands": "disinfected"}),
        step("go", "scrub"),
    ]
    found = state(steps, "go", "scrub")
    assert found is not None
    assert found.words == "at least clean"


def test_a_gloved_hand_is_its_glove() -> None:
    rub = step("rub", "scrub", makes={"scrub.hands": "disinfected"})
    assert state([rub, GLOVE], "glove", "scrub", after=True) == Hands(Level.STERILE, False, "yes", True, "no")


def test_soil_on_the_glove_is_seen() -> None:
    rub = step("rub", "scrub", makes={"scrub.hands": "disinfected"})
    found = state([rub, GLOVE, step("cut", "scrub", soils=["scrub.hands"])], "cut", "scrub", after=True)
    assert found is not None
    assert found.soiled == "yes"
    assert found.words == "sterile, gloved, soiled"


def test_a_step_that_never_happens_has_no_state() -> None:
    steps = [step("ask", "scrub", asks={"question": "Well?", "answers": ["yes", "no-way"]}), WASH]
    never = [*steps, step("never", "scrub", when={"ask": "yes", "draping": "one"})]
    assert state(never, "never", "scrub") is not None
    assert state([*steps], "wash", "nobody") is None


@pytest.mark.parametrize(
    ("hands", "words"),
    [
        (Hands(Level.CLEAN, False, "maybe", True, "maybe"), "clean, gloved in some orders, perhaps soiled"),
        (Hands(Level.STERILE, False, "yes", False, "no"), "sterile, covered"),
        (Hands(Level.DISINFECTED, True, "no", False, "no"), "at least disinfected"),
    ],
)
def test_the_state_in_words(hands: Hands, words: str) -> None:
    assert hands.words == words
