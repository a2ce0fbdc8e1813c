"""Changes of a step that bears safety which make no finding, each with the reason why nobody is harmed.

The test fails as well for an entry that is no longer true, so the table cannot outlive its reasons.
"""

from __future__ import annotations

from tests.demo.changes import FIRST

HARMLESS: dict[tuple[str, str, str], str] = {
    ("toenail", "surgeon-hands.rub", FIRST): (
        "rubbed before the pause instead of after it: the surgeon touches nothing and nobody during the pause, "
        "so the hands are still disinfected when the sterile gloves go on"
    ),
}
