"""Protocols that ask much of a role's page: several choices, 200 steps, long words, text from the right, errors."""

from __future__ import annotations

import itertools
from typing import Any

from tests.site.small import sample
from tests.site.test_team import long_lane

ARABIC = "امسح الطاولة من الأعلى إلى الأسفل. ثم انتظر حتى تجف (3 دقائق)."


def choosing() -> dict[str, Any]:
    """Steps that depend on one choice, on another, on both, on several options, and on an answer besides."""
    protocol = sample()
    protocol["choices"]["side"] = {"title": "Side", "options": {"left": "Left", "right": "Right", "both": "Both"}}
    whens = [
        {"side": "left"},
        {"side": ["left", "both"]},
        {"side": ["right", "both"], "draping": "two"},
        {"draping": "one"},
        {"check.look": "whole", "side": "right"},
    ]
    more = [
        {"id": f"more-{number}", "role": "scrub", "with": ["surgeon"], "do": "Go on.", "when": when}
        for number, when in enumerate(whens)
    ]
    later = [
        {"id": "left-only", "role": "scrub", "do": "Go on.", "when": {"side": "left"}},
        {"id": "give", "role": "surgeon", "when": {"side": "both"}, "do": "Give it back.", "passes": {"swab": "scrub"}},
    ]
    protocol["phases"][1]["steps"][2:2] = more
    protocol["phases"].insert(1, {"phase": "side", "title": "Turn to the side", "steps": later[:1]})
    operate = protocol["phases"][2]["steps"]
    operate.insert(-2, {**later[1], "after": ["press"]})
    operate[-2]["after"] = ["press", "give"]
    return protocol


def odd_set() -> dict[str, Any]:
    """All of them by id, with a usual one whose team has a role without steps."""
    long, arabic, broken = sample(title="Title " + "very long " * 29), sample(title="تحرير العصب"), sample()
    long["phases"][0]["title"] = "Phase" + "x" * 294
    long["phases"][0]["steps"][1]["do"] = "Donaudampfschifffahrtsgesellschaft" * 10
    for step in itertools.chain(*(phase["steps"] for phase in arabic["phases"])):
        step.update({"do": ARABIC} if "do" in step else {})
    del broken["phases"][0]["steps"][5]["after"]
    usual = sample(team=["surgeon", "scrub", "circulating", "runner"])
    usual["phases"][0]["steps"][3]["takes"] = "20 s"
    return {
        "wrist": usual,
        "choosing": choosing(),
        "many": long_lane(200),
        "long": long,
        "arabic": arabic,
        "broken": broken,
    }
