"""Contact as a join of levels, held to the taught truth table: sterile stays sterile only against sterile.

Source: SF-01 in sources.yaml (study notes and an exam outline: sterile with sterile stays sterile; with clean,
contaminated or unknown it is no longer sterile), SF-02 (unknown counts as not sterile) and SF-18 (skin cannot be
sterilised). That contact is symmetric, changes nothing between equals and never makes a better level out of a worse one
follows from that table.
"""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.outside.cases import findings_of

LEVELS = ("contaminated", "clean", "disinfected", "sterile")
UNKNOWN = "unknown"
Levels = tuple[str, str]


def start(level: str) -> dict[str, str]:
    return {} if level == UNKNOWN else {"starts": level}


def after_contacts(starts: dict[str, str], contacts: list[Levels], site: str | None = None) -> dict[str, str]:
    """The levels of items (and perhaps one site) after they met, read off from which needs are met afterwards."""
    protocol = {
        "kind": "protocol",
        "title": "Contact",
        "team": ["nurse"],
        "items": {name: start(level) for name, level in starts.items() if name != site},
        "sites": {name: start(level) for name, level in starts.items() if name == site},
    }
    # The field is given up first: what guards its members is another rule, tried elsewhere.
    met: list[dict[str, object]] = [{"id": "give-up", "role": "nurse", "do": "Give up the field.", "ends_field": True}]
    met += [
        {"id": f"c{number}", "role": "nurse", "do": "Bring together.", "presents": {one: other}}
        for number, (one, other) in enumerate(contacts)
    ]
    found: dict[str, str] = {}
    for level in LEVELS:
        asks = {"id": "look", "role": "nurse", "do": "Look.", "needs": dict.fromkeys(starts, level)}
        findings = findings_of({**protocol, "phases": [{"phase": "all", "steps": [*met, asks]}]}, ["needs-not-met"])
        found |= {name: level for name in starts if name not in {finding.subject for finding in findings}}
    return found


def contact(one: str, other: str) -> str:
    """The level of two items after they met; both must have it."""
    after = after_contacts({"one": one, "other": other}, [("one", "other")])
    assert after["one"] == after["other"]
    return after["one"]


@pytest.mark.parametrize(
    ("other", "stays_sterile"), [("sterile", True), ("clean", False), ("contaminated", False), (UNKNOWN, False)]
)
def test_the_taught_table(other: str, stays_sterile: bool) -> None:
    assert (contact("sterile", other) == "sterile") == stays_sterile


@pytest.mark.parametrize("level", [level for level in LEVELS if level != "sterile"])
def test_what_is_not_sterile_never_becomes_so_by_contact(level: str) -> None:
    assert contact(level, "sterile") == level


@pytest.mark.parametrize("level", LEVELS)
def test_equals_change_nothing(level: str) -> None:
    assert contact(level, level) == level


@pytest.mark.parametrize(("one", "other"), list(itertools.product(LEVELS, LEVELS)))
def test_it_does_not_matter_which_touches_which_and_both_fall_to_the_lower(one: str, other: str) -> None:
    lower = min(one, other, key=LEVELS.index)
    assert contact(one, other) == contact(other, one) == lower


@pytest.mark.parametrize(("one", "worse", "better"), [(a, b, c) for a in LEVELS for b, c in itertools.pairwise(LEVELS)])
def test_a_better_partner_never_leaves_a_worse_level(one: str, worse: str, better: str) -> None:
    assert LEVELS.index(contact(one, worse)) <= LEVELS.index(contact(one, better))


@pytest.mark.parametrize("known", LEVELS)
def test_unknown_is_as_bad_as_contaminated(known: str) -> None:
    assert contact(UNKNOWN, known) == contact("contaminated", known)


@pytest.mark.parametrize("level", LEVELS)
def test_prepared_skin_lowers_nothing_and_sterile_things_leave_it_as_it_is(level: str) -> None:
    """SF-18: disinfected is the best that skin can be, and counts as sterile in contact."""
    after = after_contacts({"thing": level, "skin": "disinfected"}, [("thing", "skin")], site="skin")
    assert after["thing"] == level
    assert after["skin"] == min(level, "disinfected", key=LEVELS.index)


@settings(max_examples=40, deadline=None, database=None, derandomize=True)
@given(
    st.lists(st.sampled_from(LEVELS), min_size=3, max_size=4),
    st.lists(st.tuples(st.integers(0, 3), st.integers(0, 3)), min_size=1, max_size=5),
)
def test_contacts_in_a_row_only_ever_spread_the_worse_level(levels: list[str], pairs: list[tuple[int, int]]) -> None:
    """Nothing rises, and things that met (in this order) end as the taught table says step by step."""
    names = [f"t{number}" for number in range(len(levels))]
    contacts = [(names[a % len(names)], names[b % len(names)]) for a, b in pairs if a % len(names) != b % len(names)]
    expected = dict(zip(names, levels, strict=True))
    resting: dict[str, str] = {}
    for one, other in contacts:
        both = min(expected[one], expected[other], key=LEVELS.index)
        expected |= {one: both, other: both}
        resting[one] = other
        for _ in names:
            for thing, place in resting.items():
                expected[thing] = min(expected[thing], expected[place], key=LEVELS.index)
    assert after_contacts(dict(zip(names, levels, strict=True)), contacts) == expected
