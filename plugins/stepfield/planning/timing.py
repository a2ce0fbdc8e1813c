"""Everything that one scenario comes to on the clock, as plain data for whoever tells it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ..asepsis.order import Order
from ..language.model import Person, Protocol
from .plan import Plan, both_at_once, plan_of, with_people
from .scenarios import done_in
from .schedule import Schedule, by_formula, lasting, most, timed
from .simulation import RUNS, SEED, Drawn, NoNumPyError, drawn
from .standing import Standing, standings


@dataclass(frozen=True, slots=True)
class Timing:
    """One scenario on the clock; all times in seconds.

    ``usual`` are the times if all lasts as usual, ``slow`` if all takes its longest; ``mean`` and ``deviation`` of the
    total are those of the three-point formulas. ``drawn`` is None where the library for it lacks. ``people`` are those
    with several roles, ``torn`` the steps that take two people who are one of them. ``standing`` are packs and fields.
    """

    scenario: Mapping[str, str]
    plan: Plan
    usual: Schedule
    slow: Schedule
    mean: float
    deviation: float
    drawn: Drawn | None
    standing: tuple[Standing, ...]
    people: tuple[Person, ...]
    torn: tuple[tuple[int, Person], ...]


def timing(
    protocol: Protocol,
    order: Order,
    scenario: Mapping[str, str],
    people: Sequence[Person] | None = None,
    *,
    runs: int = RUNS,
    seed: int = SEED,
) -> Timing:
    """Works out one scenario, with the people of the clinic or with others. Needs an order without loops."""
    done = done_in(protocol, scenario)
    shared = tuple(protocol.people if people is None else people)
    plan = planned(protocol, order, done, shared)
    mean, deviation = by_formula(protocol, plan)
    standing = standings(protocol, order, done)
    try:
        spread = drawn(protocol, plan, standing, runs=runs, seed=seed)
    except NoNumPyError:
        spread = None
    return Timing(
        scenario=scenario,
        plan=plan,
        usual=timed(protocol, plan),
        slow=timed(protocol, plan, most),
        mean=mean,
        deviation=deviation,
        drawn=spread,
        standing=standing,
        people=shared,
        torn=tuple((number, person) for number, person in both_at_once(protocol, shared) if done[number]),
    )


def planned(protocol: Protocol, order: Order, done: Sequence[bool], people: Sequence[Person]) -> Plan:
    """The plan of one scenario, where each of some people with several roles does one step after the other."""
    plan = plan_of(protocol, order, done)
    return with_people(plan, people, lasting(protocol, done)) if people else plan
