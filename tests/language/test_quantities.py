"""Units against another library; the schemas name the units that the program knows, and no others."""

from __future__ import annotations

import re
from decimal import Decimal

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stepfield.language.quantities import TIME, UNITS, Limit, Quantity, quantity
from stepfield.language.schemas import SHARED, schema

# What each sign is called by pint, a library of units that shares nothing with this project. Colonies per millilitre
# and air changes per hour are counts; the share of a whole is a percentage.
CALLED = {
    **{sign: sign for sign in ("s", "min", "h", "d", "mm", "cm", "m", "in", "degC", "degF", "mL", "L", "Pa", "kPa")},
    "bar": "bar",
    "%": "percent",
    "ACH": "1/hour",
    "CFU/mL": "1/mL",
}
FIRST = {unit.dimension: sign for sign, unit in reversed(UNITS.items()) if unit == type(unit)(unit.dimension)}
PINT = pint.UnitRegistry(non_int_type=Decimal)


@pytest.mark.parametrize("sign", UNITS)
@pytest.mark.parametrize("value", ["0", "1", "0.25", "37.5", "250", "12000"])
def test_a_value_in_the_first_unit_of_its_dimension_is_what_pint_makes_of_it(sign: str, value: str) -> None:
    expected = PINT.Quantity(Decimal(value), CALLED[sign]).to(CALLED[FIRST[UNITS[sign].dimension]]).magnitude
    assert abs(quantity(f"{value} {sign}").base - expected) <= Decimal("1e-9") * max(1, abs(expected))


@pytest.mark.parametrize("one", UNITS)
@pytest.mark.parametrize("other", UNITS)
def test_two_units_are_of_one_dimension_where_pint_can_turn_one_into_the_other(one: str, other: str) -> None:
    # Counts and shares are pure numbers to pint, and air changes a frequency: only real measures are held to it.
    counted = {"%", "ACH", "CFU/mL"}
    if {one, other} & counted:
        assert (UNITS[one].dimension == UNITS[other].dimension) is (one == other)
    else:
        assert (UNITS[one].dimension == UNITS[other].dimension) is PINT.is_compatible_with(CALLED[one], CALLED[other])


# Source: CDC Guideline for Disinfection and Sterilization 2008, table 7, which gives both scales.
@pytest.mark.parametrize(("fahrenheit", "celsius"), [("250", "121.1"), ("270", "132.2")])
def test_the_temperatures_of_steam_agree_in_both_scales(fahrenheit: str, celsius: str) -> None:
    assert round(quantity(f"{fahrenheit} degF").base, 1) == Decimal(celsius)


@given(st.decimals("0", "999999999", places=3), st.sampled_from(list(UNITS)))
def test_what_is_written_is_read_as_it_was(value: Decimal, sign: str) -> None:
    written = Quantity(value, sign)
    assert quantity(str(written)) == written


@pytest.mark.parametrize(
    "wrong", ["", "3", "min", "3min", "3 minutes", "1.2.3 min", "--3 degC", "3 min ", "٣ kg", "nan s"]
)
def test_what_is_no_number_with_a_known_unit_is_refused(wrong: str) -> None:
    with pytest.raises(ValueError, match="is no number with one of the units"):
        quantity(wrong)


def test_a_limit_is_kept_up_to_and_with_its_bounds_whatever_the_unit() -> None:
    limit = Limit(quantity("25 mm"), quantity("30 cm"))
    found = [limit.is_kept_by(quantity(told)) for told in ("24 mm", "2.5 cm", "0.3 m", "12 in", "11.8 in")]
    assert found == [False, True, True, False, True]
    assert str(limit) == "at least 25 mm and at most 30 cm"


def test_the_schemas_know_every_unit_and_no_other() -> None:
    for spec, signs in (
        (schema("evidence")["$defs"]["quantity"], list(UNITS)),
        (schema(SHARED)["$defs"]["amount"], [sign for sign, unit in UNITS.items() if unit.dimension != TIME]),
    ):
        assert all(re.fullmatch(spec["pattern"], f"3.5 {sign}") for sign in signs)
        last = spec["pattern"].rpartition("(")[2].removesuffix("))$")
        assert last.split("|") == signs
        assert all(f"{sign}" in spec["x-expects"] for sign in signs)
