"""Whether something can be so when a step begins, worked out by hand."""

from __future__ import annotations

import pytest

from stepfield.asepsis.queries import STATES, Can
from stepfield.checks import QuestionError
from tests.asking.small import GLOVED, can

NOW = "- {id: now, role: circulating, do: Look.}\n"
AFTER = "- {id: now, role: circulating, do: Look., after: [glove]}\n"


def ask(steps: str, claim: str, head: str = "") -> Can:
    result = can(steps, claim, "now", head).result
    assert isinstance(result, Can)
    return result


def steps_of(told: Can) -> tuple[list[str] | None, list[str] | None]:
    return tuple(None if one is None else [step for step, _ in one.steps] for one in (told.so, told.not_so))  # type: ignore[return-value]


def test_in_every_order() -> None:
    told = ask(GLOVED + AFTER, "scrub.hands sterile")
    assert told.holds == "every"
    assert steps_of(told) == (["rub", "glove"], None)


def test_in_some_orders_with_a_shortest_one_each_way() -> None:
    told = ask(GLOVED + NOW, "scrub.hands sterile")
    assert told.holds == "some"
    assert steps_of(told) == (["rub", "glove"], [])


def test_in_no_order() -> None:
    told = ask(GLOVED + NOW, "circulating.hands clean")
    assert told.holds == "no"
    assert steps_of(told) == (None, [])


def test_the_choice_that_decides_is_told() -> None:
    head = "choices: {way: {title: Way, options: {left: Left, right: Right}}}\n"
    steps = "- {id: rub, role: circulating, do: Rub., makes: {circulating.hands: clean}, when: {way: left}}\n"
    told = ask(steps + NOW, "circulating.hands clean", head)
    assert told.so is not None
    assert told.not_so is not None
    assert (dict(told.so.choices), dict(told.not_so.choices)) == ({"way": "left"}, {"way": "right"})


@pytest.mark.parametrize(
    ("claim", "holds"),
    [
        ("glove contaminated", "no"),
        ("trolley contaminated", "every"),
        ("scrub.hands contaminated", "some"),
        ("scrub.hands disinfected", "some"),
        ("scrub.hands covered", "some"),
        ("scrub.hands bare", "some"),
        ("scrub.hands soiled", "no"),
        ("forceps there", "no"),
        ("probe there", "every"),
        ("probe gone", "no"),
        ("scrub.hands are sterile", "some"),
        ("probe is sterile", "every"),
    ],
)
def test_every_state(claim: str, holds: str) -> None:
    assert ask(GLOVED + NOW, claim).holds == holds


def test_every_state_is_tried_here() -> None:
    tried = {"contaminated", "clean", "disinfected", "sterile", "soiled", "covered", "bare", "there", "gone"}
    assert set(STATES) == tried


@pytest.mark.parametrize(
    ("claim", "said"),
    [
        ("scrub.hand sterile", "There is nothing in 'small' called 'scrub.hand'. The nearest: 'scrub.hands'"),
        ("scrub.hands steril", "There is no state 'steril'. The nearest: sterile."),
        ("scrub.hands xyz", "There is no state 'xyz'. The states: contaminated, clean"),
        ("sterile", "'sterile' is not a thing and a state, such as 'surgeon.hands sterile'"),
        ("", "'' is not a thing and a state"),
    ],
)
def test_what_is_not_known_is_told_with_the_nearest(claim: str, said: str) -> None:
    with pytest.raises(QuestionError) as told:
        ask(GLOVED + NOW, claim)
    assert str(told.value).startswith(said)
