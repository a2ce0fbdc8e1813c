"""Contrast is computed as published worked examples have it, and the colours of the pages keep what WCAG asks."""

from __future__ import annotations

import pytest

from tests.site.building import ROOT
from tests.site.contrast import colour, luminance, ratio, schemes

STYLES = ROOT / "plugins" / "stepfield" / "pages" / "assets" / "stepfield.css"
TEXT, PART = 4.5, 3.0
"""WCAG 2.2, success criteria 1.4.3 (text) and 1.4.11 (parts and graphics)."""


def test_luminance_is_that_of_a_published_example() -> None:
    """The read-me of the npm package contrast-ratio-checker."""
    assert luminance(colour("rgb(255, 129, 0)")) == pytest.approx(0.36960513804637335, abs=1e-9)


@pytest.mark.parametrize(
    ("one", "other", "published"),
    [
        ("rgb(255, 129, 0)", "rgb(100, 0, 58)", 5.235369975583679),  # the same
        ("#e5e5e5", "#ab0", 1.698093107780376),  # the same
        ("#fff", "#000", 21.0),  # WCAG 2.2: ratios range from 1 to 21
        ("#123456", "#123456", 1.0),
    ],
)
def test_contrast_is_that_of_published_examples(one: str, other: str, published: float) -> None:
    assert ratio(colour(one), colour(other)) == pytest.approx(published, abs=1e-9)
    assert ratio(colour(other), colour(one)) == ratio(colour(one), colour(other))


@pytest.mark.parametrize(
    ("passing", "failing", "least"),
    [("#767676", "#777777", 4.5), ("#949494", "#959595", 3.0), ("#595959", "#5a5a5a", 7.0)],
)
def test_nothing_is_rounded_up_at_a_limit(passing: str, failing: str, least: float) -> None:
    """The greys next to each other on either side of each limit, on white."""
    assert ratio(colour(passing), colour("#fff")) >= least > ratio(colour(failing), colour("#fff"))


PAIRS = [
    ("ink", "card", TEXT),
    ("ink", "soft", TEXT),
    ("quiet", "card", TEXT),
    ("quiet", "soft", TEXT),
    ("strong", "card", TEXT),
    ("on-strong", "strong", TEXT),
    ("ink", "wait", TEXT),
    ("warn-ink", "warn", TEXT),
    ("error-ink", "error", TEXT),
    ("mark-ink", "mark", TEXT),
    ("link", "card", TEXT),
    ("link", "soft", TEXT),
    ("wait-edge", "card", PART),
    ("wait-edge", "wait", PART),
    ("warn-edge", "warn", PART),
    ("error-edge", "error", PART),
]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(("one", "other", "least"), PAIRS)
def test_the_colours_of_the_pages_are_far_enough_apart(one: str, other: str, least: float, scheme: str) -> None:
    colours = schemes(STYLES.read_text(encoding="utf-8"))[scheme]
    assert ratio(colours[one], colours[other]) >= least
