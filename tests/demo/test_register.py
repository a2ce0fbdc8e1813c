"""The register of the demonstration set against the published tables, cell by cell, and its own promises."""

from __future__ import annotations

import math
from decimal import ROUND_HALF_UP, Decimal

import pytest

from stepfield.language.model import Requirement
from tests.demo.changes import demonstration

KNOWN = {one.id.value: one for one in demonstration().requirements}

# Minutes of exposure at 121 °C and at 132 °C, and the span of minutes of drying. None: not applicable in the source.
# Source: CDC Guideline for Disinfection and Sterilization in Healthcare Facilities 2008, table 7.
STEAM = {
    ("gravity", "instruments"): (30, 15, (15, 30)),
    ("gravity", "textiles"): (30, 25, (15, 15)),
    ("gravity", "utensils"): (30, 15, (15, 30)),
    ("prevacuum", "instruments"): (None, 4, (20, 30)),
    ("prevacuum", "textiles"): (None, 4, (5, 20)),
    ("prevacuum", "utensils"): (None, 4, (20, 20)),
}
# Source: the same guideline's table of unwrapped cycles at 132 °C, as reproduced in a trade journal.
AT_ONCE = {"gravity-solid": 3, "gravity-hollow": 10, "prevacuum-solid": 3, "prevacuum-hollow": 4}
# Minutes until 90, 99 and 99.9 % of what is in the air is cleared, by air changes an hour.
# Source: CDC, MMWR 1994;43(RR-13), table S3-1.
AIR = {
    1: (138, 276, 414), 2: (69, 138, 207), 3: (46, 92, 138), 4: (35, 69, 104), 5: (28, 55, 83), 6: (23, 46, 69),
    7: (20, 39, 59), 8: (17, 35, 52), 9: (15, 31, 46), 10: (14, 28, 41), 11: (13, 25, 38), 12: (12, 23, 35),
    13: (11, 21, 32), 14: (10, 20, 30), 15: (9, 18, 28), 16: (9, 17, 26), 17: (8, 16, 24), 18: (8, 15, 23),
    19: (7, 15, 22), 20: (7, 14, 21), 25: (6, 11, 17), 30: (5, 9, 14), 35: (4, 8, 12), 40: (3, 7, 10),
    45: (3, 6, 9), 50: (3, 6, 8),
}  # fmt: skip
SHARES = {"90": Decimal(90), "99": Decimal(99), "99-9": Decimal("99.9")}


def cases(table: str) -> dict[str, Requirement]:
    """The cases of a table, by what stands behind its name."""
    return {name.removeprefix(f"{table}-"): one for name, one in KNOWN.items() if one.table == table}


def minutes(one: Requirement) -> float | None:
    assert one.limit is None or one.limit.at_most is None
    return None if one.at_least is None else one.at_least / 60


def test_the_steam_table_has_every_cell_of_the_source_and_no_other() -> None:
    expected = {
        f"{cycle}-{item}-{degrees}": time
        for (cycle, item), (cooler, hotter, _) in STEAM.items()
        for degrees, time in ((121, cooler), (132, hotter))
    }
    found = cases("steam-exposure")
    assert {name: minutes(one) for name, one in found.items()} == expected
    for name, one in found.items():
        degrees = name.rpartition("-")[2]
        assert f"{degrees} °C" in (one.applies_to or "")
        assert ("names no time" in (one.applies_to or "")) is (expected[name] is None)


def test_the_drying_table_has_the_low_end_as_its_limit_and_tells_the_span() -> None:
    found = cases("steam-drying")
    assert {name: minutes(one) for name, one in found.items()} == {
        f"{cycle}-{item}": low for (cycle, item), (_, _, (low, _)) in STEAM.items()
    }
    for (cycle, item), (_, _, (low, high)) in STEAM.items():
        assert (f"{low} to {high} minutes" in (found[f"{cycle}-{item}"].applies_to or "")) is (low < high)


def test_the_table_of_what_is_needed_at_once_is_that_of_the_source() -> None:
    assert {name: minutes(one) for name, one in cases("steam-at-once").items()} == AT_ONCE


@pytest.mark.parametrize(("column", "share"), list(enumerate(SHARES)))
def test_the_air_table_has_every_cell_of_the_source_and_no_other(column: int, share: str) -> None:
    found = cases(f"air-clear-{share}")
    assert {name: minutes(one) for name, one in found.items()} == {
        f"at-{changes}": times[column] for changes, times in AIR.items()
    }


@pytest.mark.parametrize("share", SHARES)
def test_the_air_table_is_what_its_formula_gives(share: str) -> None:
    """t = -ln(1 - share) / changes, in hours; perfect mixing. Source: the notes to the same table."""
    for name, one in cases(f"air-clear-{share}").items():
        changes = int(name.removeprefix("at-"))
        exact = -math.log(float(1 - SHARES[share] / 100)) / changes * 60
        assert minutes(one) == int(Decimal(exact).quantize(Decimal(1), ROUND_HALF_UP))


def test_every_requirement_says_how_sure_it_is_and_none_rests_on_memory() -> None:
    assert all(one.certainty for one in KNOWN.values())
    assert [name for name, one in KNOWN.items() if "memory" in (one.certainty or "")] == []


def test_the_register_covers_what_it_is_for() -> None:
    sets = demonstration().sets
    assert len({one.table or one.id.value for one in KNOWN.values()}) >= 100
    assert {"hands", "surgical-hands", "field", "skin", "pauses", "counts", "after-use"} <= sets.keys()
    inside = {one.value for one in sets["day-surgery"]}
    assert all({one.value for one in sets[name]} <= inside for name in ("hands", "skin", "pauses", "counts"))
    dimensions = {one.limit.dimension for one in KNOWN.values() if one.limit is not None}
    assert dimensions == {"time", "length", "temperature", "share", "air changes"}
