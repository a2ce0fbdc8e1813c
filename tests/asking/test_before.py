"""How people stand before a step and what they may touch, worked out by hand."""

from __future__ import annotations

import pytest

from stepfield.asepsis.queries import Before, Person
from stepfield.language.model import Level
from tests.asking.small import GLOVED, before


def person(steps: str, step: str, role: str, head: str = "") -> Person:
    result = before(steps, step, head).result
    assert isinstance(result, Before)
    return next(one for one in result.people if one.role == role)


def verdict(steps: str, step: str, role: str, thing: str) -> str:
    """``safe``, or the reason against it, with a mark where it holds in some orders only."""
    found = person(steps, step, role)
    if thing in found.safe:
        return "less clean" if thing in found.less_clean else "safe"
    (refusal,) = (one for one in found.not_now if one.thing == thing)
    return refusal.reason if refusal.always else f"{refusal.reason} in some orders"


NOW = "- {id: now, role: scrub, do: Wait.}\n"
OPENS = "- {id: open, role: circulating, do: Open., opens: [outer]}\n"


def test_a_glove_makes_hands_sterile_in_every_order() -> None:
    hands, body, face = person(GLOVED + NOW, "now", "scrub").parts
    assert (hands.level, hands.highest) == (Level.STERILE, Level.STERILE)
    assert (hands.coverings, hands.soiled) == (("glove",), "no")
    assert (body.level, body.coverings) == (Level.CONTAMINATED, (None,))
    assert face.subject == "scrub.face"


def test_what_another_lane_does_may_have_happened_or_not() -> None:
    rub = "- {id: other, role: surgeon, do: Rub., makes: {surgeon.hands: disinfected}, soils: [surgeon.body]}\n"
    hands, body, _ = person(rub + NOW, "now", "surgeon").parts
    assert (hands.level, hands.highest) == (Level.CONTAMINATED, Level.DISINFECTED)
    assert body.soiled == "maybe"


@pytest.mark.parametrize(
    ("role", "thing", "expected"),
    [
        ("scrub", "table", "safe"),
        ("scrub", "probe", "safe"),
        ("scrub", "palm", "safe"),
        ("scrub", "glove", "safe"),
        ("scrub", "thigh", "contaminated-by"),
        ("scrub", "cloth", "contaminated-by"),
        ("scrub", "circulating.hands", "contaminated-by"),
        ("scrub", "forceps", "not-there-yet in some orders"),
        ("scrub", "needle", "not-there-yet"),
        ("circulating", "table", "would-contaminate"),
        ("circulating", "probe", "would-contaminate"),
        ("circulating", "palm", "would-contaminate"),
        ("circulating", "scrub.hands", "would-contaminate"),
        ("circulating", "glove", "worn"),
        ("circulating", "cloth", "less clean"),
        ("circulating", "trolley", "safe"),
    ],
)
def test_gloved_and_bare_hands(role: str, thing: str, expected: str) -> None:
    """Sterile hands keep to what is sterile and to prepared skin; contaminated ones make clean things less clean."""
    assert verdict(GLOVED + OPENS + NOW, "now", role, thing) == expected


@pytest.mark.parametrize(
    ("role", "thing", "expected"),
    [
        ("scrub", "trolley", "contaminated-by"),
        ("circulating", "trolley", "soils-skin"),
        ("surgeon", "bin", "gone"),
        ("circulating", "bin", "gone"),
    ],
)
def test_soiled_and_gone(role: str, thing: str, expected: str) -> None:
    after = "- {id: spill, role: scrub, do: Spill., soils: [trolley], discards: [bin]}\n"
    assert verdict(GLOVED + after + NOW, "now", role, thing) == expected


def test_a_step_that_no_order_reaches_says_so() -> None:
    head = "choices: {way: {title: Way, options: {left: Left, right: Right}}}\n"
    steps = (
        "- {id: ask, role: scrub, do: Ask., asks: {question: Well?, answers: [yes, no]}, when: {way: left}}\n"
        "- {id: later, role: scrub, do: Do., when: {ask: yes, way: right}}\n"
    )
    result = before(steps, "later", head).result
    assert isinstance(result, Before)
    assert result.people == ()


def test_a_choice_may_decide() -> None:
    head = "choices: {way: {title: Way, options: {left: Left, right: Right}}}\n"
    steps = "- {id: rub, role: scrub, do: Rub., makes: {scrub.hands: disinfected}, when: {way: left}}\n"
    hands, _, _ = person(steps + NOW, "now", "scrub", head).parts
    assert (hands.level, hands.highest) == (Level.CONTAMINATED, Level.DISINFECTED)
