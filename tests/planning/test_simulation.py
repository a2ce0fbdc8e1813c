"""Drawn totals, held to distributions that are known exactly: polynomials, integrated as fractions.

The density of the beta distribution with whole parameters is a polynomial (any textbook of statistics), so that its
distribution function, and that of a largest or a sum, can be worked out without drawing anything.
"""

from __future__ import annotations

from fractions import Fraction
from math import comb, sqrt
from statistics import NormalDist

import pytest

from stepfield.asepsis import order_of
from stepfield.language import build_set
from stepfield.language.model import Protocol
from stepfield.planning.plan import plan_of
from stepfield.planning.schedule import by_formula
from stepfield.planning.simulation import Drawn, drawn
from stepfield.planning.standing import standings

RUNS = 40_000
SURE = 4.5
"""So many standard errors a mean may be off: by chance that comes about seven times in a million."""
Rows = dict[str, tuple[float, float, float, str]]


def protocol(rows: Rows, more: str = "") -> Protocol:
    """Each row is a step of a role of its own: least, likely, most seconds, and what it comes after."""
    clinic = f"clinic: Quillhaven\nroles: {{{', '.join(f'r{name}: {{title: {name}}}' for name in rows)}}}\n"
    steps = "".join(
        f"      - {{id: {name}, role: r{name}, do: Go., after: [{', '.join(before.split())}], "
        f"takes: {{least: {a} s, likely: {m} s, most: {b} s}}{more if name == list(rows)[-1] else ''}}}\n"
        for name, (a, m, b, before) in rows.items()
    )
    team = ", ".join(f"r{name}" for name in rows)
    text = f"kind: protocol\ntitle: T\nteam: [{team}]\nphases:\n  - phase: p\n    steps:\n{steps}"
    found = build_set({"p/clinic.yaml": clinic.encode(), "p/one.yaml": text.encode()})
    assert not [one for one in found.problems if one.rule != "unused-name"], found.problems
    return found.protocols[0]


def draws(made: Protocol, runs: int = RUNS, seed: int = 1) -> Drawn:
    order, done = order_of(made), [True] * len(made.steps)
    return drawn(made, plan_of(made, order, done), standings(made, order, done), runs=runs, seed=seed)


def beta(before: int, behind: int) -> list[Fraction]:
    """The distribution function of the beta distribution with whole parameters, as coefficients of a polynomial.

    Its density is x^(before-1) (1-x)^(behind-1) times a constant; term by term that is integrated at sight.
    """
    terms = [Fraction(0)] * (before + behind)
    for power in range(behind):
        terms[before + power] = Fraction((-1) ** power * comb(behind - 1, power), before + power)
    whole = sum(terms)
    return [one / whole for one in terms]


def at(terms: list[Fraction], x: Fraction) -> Fraction:
    return sum((one * x**power for power, one in enumerate(terms)), Fraction(0))


def times(one: list[Fraction], other: list[Fraction]) -> list[Fraction]:
    found = [Fraction(0)] * (len(one) + len(other) - 1)
    for i, a in enumerate(one):
        for j, b in enumerate(other):
            found[i + j] += a * b
    return found


def mean_of(function: list[Fraction]) -> float:
    """The mean of something between 0 and 1: 1 less the integral of its distribution function."""
    return float(1 - sum(one / (power + 1) for power, one in enumerate(function)))


def quantile(function: list[Fraction], share: float) -> float:
    low, high = Fraction(0), Fraction(1)
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if at(function, middle) < Fraction(share) else (low, middle)
    return float(low)


SYMMETRIC, EARLY = beta(3, 3), beta(1, 5)
"""What (0, 1/2, 1) and (0, 0, 1) are drawn from: 1 + 4 (likely - least) / width, 1 + 4 (most - likely) / width."""


@pytest.mark.parametrize(
    ("likely", "function"), [(500, SYMMETRIC), (0, EARLY), (250, beta(2, 4))], ids=["middle", "early", "quarter"]
)
def test_one_step_has_the_very_distribution(likely: int, function: list[Fraction]) -> None:
    found = draws(protocol({"a": (0, likely, 1000, "")})).total
    mean = mean_of(function)
    # The formulas' mean is the mean of this distribution, not only near it.
    assert mean == pytest.approx((4 * likely + 1000) / 6000)
    assert found.mean / 1000 == pytest.approx(mean, abs=SURE * found.deviation / 1000 / sqrt(RUNS))
    # Variance of the beta distribution (textbook): ab / ((a + b)^2 (a + b + 1)), with a + b = 6 here.
    a = 1 + 4 * likely / 1000
    assert found.deviation / 1000 == pytest.approx(sqrt(a * (6 - a) / 252), rel=0.02)
    for share, seconds in found.below.items():
        reached = float(at(function, Fraction(seconds) / 1000))
        assert reached == pytest.approx(share / 100, abs=SURE * sqrt(share * (100 - share)) / 100 / sqrt(RUNS))


def test_the_later_of_two_is_distributed_as_the_product_says() -> None:
    """Two independent steps at once: both are over by x with the product of both chances."""
    found = draws(protocol({"a": (0, 500, 1000, ""), "b": (0, 0, 1000, "")})).total
    both = times(SYMMETRIC, EARLY)
    assert found.mean / 1000 == pytest.approx(mean_of(both), abs=SURE * found.deviation / 1000 / sqrt(RUNS))
    for share in (10, 50, 90):
        assert found.below[share] / 1000 == pytest.approx(quantile(both, share / 100), abs=0.01)


def test_a_chain_adds_means_and_variances() -> None:
    """Of independent durations both add up exactly; the sum of many is nearly normal (central limit theorem)."""
    rows: Rows = {f"s{n}": (100, 200 + 10 * n, 700, f"s{n - 1}" if n else "") for n in range(12)}
    found = draws(protocol(rows)).total
    mean = sum((least + 4 * likely + most) / 6 for least, likely, most, _ in rows.values())
    alphas = [1 + 4 * (likely - least) / (most - least) for least, likely, most, _ in rows.values()]
    deviation = 600 * sqrt(sum(a * (6 - a) / 252 for a in alphas))
    assert found.mean == pytest.approx(mean, abs=SURE * deviation / sqrt(RUNS))
    assert found.deviation == pytest.approx(deviation, rel=0.02)
    assert found.below[90] == pytest.approx(NormalDist(mean, deviation).inv_cdf(0.9), rel=0.005)


def test_paths_beside_the_critical_one_make_it_later() -> None:
    """Merge bias (from memory, a commonplace about the method): the formulas see one path and are too hopeful."""
    rows: Rows = {f"s{n}": (0, 500, 1000, "") for n in range(5)}
    made = protocol(rows)
    formula, _ = by_formula(made, plan_of(made, order_of(made), [True] * 5))
    found = draws(made).total
    largest = SYMMETRIC
    for _ in range(4):
        largest = times(largest, SYMMETRIC)
    assert formula == 500
    assert found.mean / 1000 == pytest.approx(mean_of(largest), abs=0.005)
    assert mean_of(largest) > 0.7


def test_a_limit_is_kept_as_often_as_its_chance_says() -> None:
    made = protocol({"a": (0, 0, 0, ""), "b": (0, 250, 1000, "a")}, more=", within: [{of: a, at_most: 300 s}]")
    found = draws(made)
    ((_, kept),) = found.kept.items()
    chance = float(at(beta(2, 4), Fraction(3, 10)))
    assert kept / RUNS == pytest.approx(chance, abs=SURE * sqrt(chance * (1 - chance) / RUNS))


def test_the_same_seed_draws_the_same_and_another_one_other_times() -> None:
    made = protocol({"a": (0, 500, 1000, ""), "b": (0, 500, 1000, "a")})
    assert draws(made, 500) == draws(made, 500)
    assert draws(made, 500).total != draws(made, 500, seed=2).total


def test_a_change_of_one_step_leaves_the_other_draws() -> None:
    """Each step is drawn by its name: a minute more for certain makes the total a minute longer."""
    one = draws(protocol({"a": (0, 500, 1000, ""), "b": (60, 60, 60, "a")}), 100).total
    other = draws(protocol({"b": (120, 120, 120, ""), "a": (0, 500, 1000, "b")}), 100).total
    assert other.mean - one.mean == pytest.approx(60)
    assert other.below[90] - one.below[90] == pytest.approx(60)


@pytest.mark.parametrize("shape", [beta(2, 4), SYMMETRIC])
def test_the_polynomials_rise_from_nothing_to_one(shape: list[Fraction]) -> None:
    values = [at(shape, Fraction(n, 10)) for n in range(11)]
    assert values[0] == 0
    assert values[-1] == 1
    assert values == sorted(values)
