"""Packs, against every set of packs there is on small demands, and against cases worked out by hand (no source)."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from stepfield.planning.demand import CannotPlanError, Demand, Good, Kindred, Opening, Pack, demand_of
from stepfield.planning.pack_solver import MOST_MOMENTS, best_packs
from stepfield.planning.pack_start import first_answer
from stepfield.planning.packs import Answer, Costs, Question, Rules, bill, cost_of, least_opened, proposed, question_of
from tests.planning.every_pack import Needs, least_cost
from tests.planning.thingsets import BLISTER, blister, uses_of

COSTS = Costs(3, 1, 2)


def demand(needs: Needs, rates: Sequence[int], reusable: Sequence[bool] = (), sharp: Sequence[bool] = ()) -> Demand:
    """A demand of moments that need things, each of size one."""
    things = range(len(needs[0]))
    goods = tuple(
        Good(f"Thing {thing}", 1, bool(sharp) and sharp[thing], bool(reusable) and reusable[thing]) for thing in things
    )
    openings = tuple(
        Opening(number, "open", rate, {thing: count for thing, count in enumerate(moment) if count}, ())
        for number, (moment, rate) in enumerate(zip(needs, rates, strict=True))
    )
    return Demand((), goods, openings, (), ())


def judged(asked: Demand, question: Question, answer: Answer) -> None:
    """An answer's packs really meet every need, keep the rules, and cost what is said, thing by thing."""
    assert answer.kept is not None
    packs, opened = proposed(asked, question, answer.kept)
    assert len(packs) <= question.most_packs
    found = bill(asked, question.costs, packs, opened)
    assert found.cost == answer.cost == cost_of(question, answer.kept)
    assert answer.bound <= answer.cost
    assert least_opened(question) <= answer.cost
    if question.sharps_only_where_used:
        assert found.sharp_unused == 0
    if question.reusables_apart:
        assert all(len({asked.goods[good].reusable for good in pack.holds}) == 1 for pack in packs)


small = st.integers(1, 3).flatmap(
    lambda things: st.tuples(
        st.lists(st.lists(st.sampled_from([0, 1, 1, 2]), min_size=things, max_size=things), min_size=1, max_size=3),
        st.lists(st.booleans(), min_size=things, max_size=things),
        st.lists(st.booleans(), min_size=things, max_size=things),
    )
)


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    small,
    st.lists(st.integers(1, 9), min_size=3, max_size=3),
    st.tuples(st.integers(0, 4), st.integers(0, 3), st.integers(0, 3)),
    st.integers(1, 3),
    st.booleans(),
    st.booleans(),
)
def test_no_set_of_packs_is_better(
    made: tuple[list[list[int]], list[bool], list[bool]],
    rates: list[int],
    costs: tuple[int, int, int],
    most: int,
    apart: bool,
    strict: bool,
) -> None:
    needs, reusable, sharp = made
    assume(any(any(moment) for moment in needs))
    rates = rates[: len(needs)]
    asked = demand(needs, rates, reusable, sharp)
    question = question_of(asked, Costs(*costs), Rules(most, strict, apart))
    answer, start = best_packs(question), first_answer(question)
    expected = least_cost(needs, rates, reusable, sharp, costs, most, apart=apart, strict=strict)
    assert answer.impossible == (expected is None)
    if expected is None:
        assert start.kept is None
        return
    assert answer.proved
    assert answer.cost == expected
    judged(asked, question, answer)
    if start.kept is not None:
        assert start.cost >= expected >= start.bound
        judged(asked, question, start)


def test_alike_goods_and_alike_openings_are_taken_together() -> None:
    needs = [[1, 1, 1, 0], [1, 1, 1, 0], [1, 1, 0, 2]]
    question = question_of(demand(needs, [4, 5, 6]), COSTS, Rules(2))
    assert question.rates == (9, 6)
    assert [(one.goods, one.size, one.needs) for one in question.groups] == [
        ((0, 1), 2, (1, 1)),
        ((2,), 1, (1, 0)),
        ((3,), 1, (0, 2)),
    ]


# Two kinds of cases share four things, and each has two of its own. Opening costs 3, throwing away 1, both once a week.
SHARED = [[1, 1, 1, 1, 1, 1, 0, 0], [1, 1, 1, 1, 0, 0, 1, 1]]


@pytest.mark.parametrize(
    ("most", "rates", "cost"),
    [
        (2, (1, 1), 6),  # a pack for each: two packs opened, nothing thrown away
        (1, (1, 1), 10),  # one pack with all: two opened at 3, two things thrown away each time
        (3, (1, 1), 6),
        (1, (10, 1), 55),  # eleven opened at 3, and two things thrown away eleven times
    ],
)
def test_worked_out_by_hand(most: int, rates: tuple[int, int], cost: int) -> None:
    asked = demand(SHARED, rates)
    question = question_of(asked, COSTS, Rules(most))
    answer = best_packs(question)
    assert (answer.cost, answer.proved) == (cost, True)
    judged(asked, question, answer)


def test_a_base_pack_and_add_ons_where_packs_are_few() -> None:
    # Four kinds of cases share ten things; each two of them share one more. With three packs, opening at 1: a base pack
    # and two add-ons open 8 packs and throw nothing away: 8. Two packs, each for two kinds, cost 4 and throw nothing
    # away either, which is less; but what one kind alone needs (the last case below) then has no pack of its own.
    needs = [[1] * 10 + [1, 0], [1] * 10 + [1, 0], [1] * 10 + [0, 1], [1] * 10 + [0, 1]]
    question = question_of(demand(needs, [1, 1, 1, 1]), Costs(1, 1, 1), Rules(3))
    assert best_packs(question).cost == 4
    # Three things besides the ten, one kind for each of their pairs. With four packs: base and three add-ons open
    # 3 + 6 packs: 9. With three packs, each for one kind: 3 opened, nothing thrown away.
    pairs = [[1] * 10 + [int(thing in pair) for thing in range(3)] for pair in itertools.combinations(range(3), 2)]
    assert best_packs(question_of(demand(pairs, [1, 1, 1]), Costs(1, 1, 1), Rules(3))).cost == 3
    # Five kinds, ten things shared, one of its own each, where the own thing is dear to waste (size 9): with two packs
    # there is no better than the base pack and one add-on for all: 10 opened, each throwing away 4 x 9 things.
    own = [[1] * 10 + [int(thing == kind) for thing in range(5)] for kind in range(5)]
    asked = demand(own, [1] * 5)
    dear = replace(asked, goods=tuple(replace(good, size=9) if n >= 10 else good for n, good in enumerate(asked.goods)))
    answer = best_packs(question_of(dear, Costs(1, 1, 1), Rules(1)))
    assert answer.cost == 5 * (1 + 4 * 9)


def test_sharp_things_are_not_opened_for_nothing_unless_they_may() -> None:
    needs = [[1, 1], [1, 0]]
    asked = demand(needs, [1, 1], sharp=[False, True])
    strict = question_of(asked, COSTS, Rules(1))
    assert best_packs(strict).impossible
    assert first_answer(strict).kept is None
    weighed = question_of(asked, COSTS, Rules(1, sharps_only_where_used=False))
    assert best_packs(weighed).cost == 7
    assert best_packs(question_of(asked, COSTS, Rules(2))).cost == 6


def test_reusable_things_lie_apart_and_are_reprocessed() -> None:
    needs = [[1, 1], [1, 0]]
    asked = demand(needs, [1, 1], reusable=[False, True])
    together = question_of(asked, COSTS, Rules(1, reusables_apart=False))
    assert best_packs(together).cost == 6 + 2  # the second case reprocesses one thing for nothing
    assert best_packs(question_of(asked, COSTS, Rules(1, reusables_apart=True))).impossible
    assert best_packs(question_of(asked, COSTS, Rules(2, reusables_apart=True))).cost == 9


def test_beyond_the_limit_the_gap_is_known() -> None:
    count = MOST_MOMENTS + 1
    needs = [[1, *(int(thing == kind) for thing in range(count))] for kind in range(count)]
    question = question_of(demand(needs, [1] * count), COSTS, Rules(count - 1))
    answer = best_packs(question)
    assert not answer.proved
    assert answer.bound == 3 * count < answer.cost
    assert best_packs(replace(question, most_packs=count)).proved  # a pack for each: none can cost less


def test_a_search_that_is_cut_short_still_answers() -> None:
    needs = [[1, *(int(thing == kind) for thing in range(8))] for kind in range(8)]
    asked = demand(needs, [1] * 8)
    question = question_of(asked, COSTS, Rules(3))
    answer = best_packs(question, limit=1e-6)
    judged(asked, question, answer)
    assert answer.cost <= first_answer(question).cost


def kindred(text: str = BLISTER, **picked: str) -> Kindred:
    uses = uses_of(blister(text))
    return Kindred(uses, tuple(picked.items()), 100)


def test_the_demand_of_a_protocol_is_what_its_openings_need() -> None:
    found = demand_of([kindred(cover="plaster", side="right"), kindred(cover="bandage", side="right")])
    titles = [good.title for good in found.goods]
    assert titles == ["Needle", "Swabs", "Plaster", "Bandage", "Tray", "Gauze", "swabs"]
    assert [
        (one.case, one.step, {titles[good]: count for good, count in one.needs.items()}) for one in found.openings
    ] == [
        (0, "open-base", {"Needle": 1, "Swabs": 5, "Plaster": 1}),
        (0, "open-extra", {}),
        (1, "open-base", {"Needle": 1, "Swabs": 5, "Bandage": 2}),
        (1, "open-extra", {"Gauze": 1}),
    ]  # spares are in no pack; "swabs" is not "Swabs": one is counted
    assert [pack.title for pack in found.today] == ["Base pack", "Extra pack"]
    today = bill(found, COSTS, found.today, [one.today for one in found.openings])
    # Opened: 2 and 2. Thrown away: two bandages and a tray; gauze and swabs; a plaster and a tray; swabs.
    assert (today.opened, today.thrown_away, today.cost, today.kinds) == (400, 800, 3 * 400 + 800, 2)


def test_what_no_step_opens_is_told() -> None:
    with pytest.raises(CannotPlanError, match="Ointment is used in blister, but no step opens Shut pack"):
        demand_of([kindred(side="left")])


def test_what_is_not_sterile_stays_out_of_the_plan() -> None:
    found = demand_of(
        [kindred(BLISTER.replace("tray: {title: Tray}", "tray: {title: Tray, starts: clean}"), side="right")]
    )
    assert found.aside == (("Tray", "is not sterile and does not go into a sterile pack"),)
    assert "Tray" not in [good.title for good in found.goods]


def test_a_pack_in_a_pack_is_one_thing() -> None:
    probe = "probe: {title: Probe, sharp: true, reusable: true}"
    inner = f"gauze: {{title: Gauze, holds: {{pad: {{title: Pad, count: 3}}, {probe}}}}}"
    text = (
        BLISTER.replace("gauze: {title: Gauze}", inner)
        .replace("gauze: skin", "pad: skin")
        .replace("bandage, gauze]", "bandage]")
    )
    found = demand_of([kindred(text, cover="bandage", side="right")])
    assert Good("Gauze", 4, True, True) in found.goods
    assert {found.goods[good].title for good in found.openings[1].needs} == {"Gauze"}


def test_things_of_one_title_are_one_across_protocols_but_not_within_one() -> None:
    other = BLISTER.replace("swabs-more: {title: swabs}", "swabs-more: {title: Swabs, count: 2, counted: true}")
    found = demand_of([kindred(side="right"), kindred(other, side="right")])
    assert [good.title for good in found.goods].count("Needle") == 1
    assert [good.title for good in found.goods].count("Swabs") == 2
    assert found.today[0] == Pack("Base pack", found.today[0].holds)
    assert len(found.today) == 3
