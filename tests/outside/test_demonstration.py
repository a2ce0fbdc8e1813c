"""The demonstration set against published material; rows as in sources.yaml."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from stepfield.asepsis import bits, order_of
from stepfield.language import read_set
from stepfield.language.model import Effect, Protocol, Step

PROTOCOLS = read_set(Path(__file__).parents[2] / "protocols").protocols
each = pytest.mark.parametrize("protocol", PROTOCOLS, ids=lambda protocol: protocol.id)


def effects(protocol: Protocol, *fields: str) -> Iterator[tuple[int, Step, Effect]]:
    """Every effect of such fields, with its step and the step's number."""
    for number, step in enumerate(protocol.steps):
        yield from ((number, step, effect) for effect in step.effects if effect.field in fields)


def earlier(protocol: Protocol, number: int) -> set[str]:
    """Ids of the steps that always come before the numbered one."""
    return {protocol.steps[other].id.value for other in bits(order_of(protocol).ancestors()[number])}


def lane(protocol: Protocol, role: str) -> list[Step]:
    """The steps a role owns, in the order in which it does them."""
    return [step for step in protocol.steps if step.role is not None and step.role.value == role]


def test_there_is_a_demonstration_set() -> None:
    assert len(PROTOCOLS) >= 3


@each
def test_the_three_pauses_come_before_what_they_hold_up(protocol: Protocol) -> None:
    """SC-WHO: before the anaesthetic (the first sharp on the patient), before the knife, before leaving."""
    sharp = [
        (number, effect)
        for number, _, effect in effects(protocol, "uses")
        if effect.target is not None
        and protocol.subjects[effect.thing.value].sharp
        and protocol.subjects[effect.target.value].kind.value == "site"
    ]
    knives = [number for number, effect in sharp if "scalpel" in effect.thing.value]
    assert sharp
    assert knives
    assert all("sign-in.stop" in earlier(protocol, number) for number, _ in sharp)
    assert all("time-out.stop" in earlier(protocol, number) for number in knives)
    assert "sign-out.stop" in earlier(protocol, len(protocol.steps) - 1)
    assert "last-count.count" in earlier(protocol, [step.id.value for step in protocol.steps].index("sign-out.stop"))


@each
def test_two_people_count_at_the_start_and_at_the_end(protocol: Protocol) -> None:
    """CT-03 (two people), CT-04 (at least two counts)."""
    counting = {number: step for number, step, _ in effects(protocol, "counts")}
    assert len(counting) >= 2
    assert all(len({step.role and step.role.value, *map(str, step.helpers)}) == 2 for step in counting.values())


@each
def test_what_burns_dries_three_minutes_before_a_sheet_or_a_spark(protocol: Protocol) -> None:
    """DR-01 (at least 3 min), DR-06 (looked at as well)."""
    painted = [
        step.id.value
        for _, step, effect in effects(protocol, "uses")
        if protocol.subjects[effect.thing.value].hazard == "fire"
    ]
    assert painted
    for paint in painted:
        dried = {
            step.id.value
            for step in protocol.steps
            if step.confirms and any(wait.step.value == paint and wait.seconds >= 180 for wait in step.waits)
        }
        later = [number for number, step in enumerate(protocol.steps) if paint in earlier(protocol, number)]
        sparks = [number for number in later if protocol.steps[number].ignition]
        covered = [number for number, _, effect in effects(protocol, "covers") if on_patient(protocol, effect)]
        sheets = [number for number in covered if number in later]
        assert dried
        assert sheets
        assert all(dried & earlier(protocol, number) for number in [*sparks, *sheets])


def on_patient(protocol: Protocol, effect: Effect) -> bool:
    return protocol.subjects[effect.thing.value].kind.value == "site"


@each
def test_the_mask_comes_off_last_and_clean_hands_follow(protocol: Protocol) -> None:
    """PP-04, and PP-02 for gloves before the gown."""
    for role in map(str, protocol.team):
        steps = lane(protocol, role)
        taken = [
            (place, protocol.subjects[effect.thing.value].worn_on)
            for place, step in enumerate(steps)
            for effect in step.effects
            if effect.field == "doffs"
        ]
        undressing = [(place, where) for place, where in taken if place == taken[-1][0]]
        assert undressing[-1][1] == "face"
        assert [where for _, where in undressing].index("hands") == 0
        cleaned = {
            place
            for place, step in enumerate(steps)
            for effect in step.effects
            if effect.field == "makes" and effect.thing.value == f"{role}.hands"
        }
        assert max(cleaned) == taken[-1][0] + 1


@each
def test_a_scrub_takes_two_to_six_minutes_after_rings_are_off(protocol: Protocol) -> None:
    """SH-01 (2 to 6 min), SH-08 (jewellery first), SH-09 (nails before the scrub)."""
    scrubs = [number for number, step in enumerate(protocol.steps) if "scrub-time" in map(str, step.meets)]
    assert scrubs
    for number in scrubs:
        scrub = protocol.steps[number]
        assert scrub.takes is not None
        assert 120 <= scrub.takes.least <= scrub.takes.most <= 360
        before = [step for step in lane(protocol, str(scrub.role)) if step.id.value in earlier(protocol, number)]
        met = {str(name) for step in before for name in step.meets}
        assert {"jewellery-off", "nails-cleaned"} <= met
