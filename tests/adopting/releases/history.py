"""Ten releases of the demonstration set, each a small edit of the one before, beginning with the set as it is.

The texts are invented, like the set itself.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from tests.adopting.releases.edits import (
    Edit,
    Files,
    added,
    moved_file,
    removed,
    renamed,
    reworded,
    with_file,
)

FIRST = "3.0.0"
"""The version that the clinic adopted."""
WRIST, LESION, TOENAIL, NAIL = "wrist-release.yaml", "skin-lesion.yaml", "toenail.yaml", "ingrown-nail.yaml"
SKIN = "parts/skin-preparation.yaml"


@dataclass(frozen=True, slots=True)
class Release:
    """One release: its version, the day on which it is taken in, what it brings, and the edits that make it."""

    version: str
    day: datetime.date
    brings: str
    edits: tuple[Edit, ...]


CALL_SIGNAL = """\
      - id: call-signal
        role: circulating
        do: Put the call signal into the patient's free hand, and let the patient try it.
        why: Who can call lies still.
        takes: 1 min
"""
WARM_HAND = """\
      - id: warm-hand
        role: circulating
        do: Lay a warm towel round the free hand of the patient.
        takes: 1 min
"""
WOUND_CHECK = (Path(__file__).parent / "wound-check.yaml").read_text(encoding="utf-8")


def _releases() -> Iterator[tuple[str, tuple[Edit, ...]]]:
    yield "a new step", (added(WRIST, "settle", CALL_SIGNAL),)
    yield (
        "a changed wait",
        (reworded(WRIST, "incise", ("at_least: 5 min", "at_least: 7 min"), ("five minutes", "seven minutes")),),
    )
    yield (
        "other words in a step in which the clinic changes something else",
        (
            reworded(
                LESION, "take-specimen", ("Hold the open pot by its holder", "Hold the open pot low and by its holder")
            ),
        ),
    )
    yield "another name for a step that the clinic leaves out", (renamed(WRIST, "stop-bleeding", "seal-vessels"),)
    yield "a step less, beside which the clinic has put one of its own", (removed(WRIST, "call-signal"),)
    yield (
        "a changed part, in the field that the clinic has changed in one of its uses",
        (reworded(SKIN, "check-dry", ("at_least: 3 min", "at_least: 4 min"), ("three full", "four full")),),
    )
    yield "a new protocol", (with_file("wound-check.yaml", WOUND_CHECK),)
    yield "another name for a protocol in which the clinic has a change", (moved_file(TOENAIL, NAIL),)
    yield (
        "a need more in one step, and a need less in another",
        (
            reworded(
                WRIST, "draw-up", ("needs: {arm-skin: sterile}", "needs: {arm-skin: sterile, palm-skin: disinfected}")
            ),
            reworded(NAIL, "outer-gloves-on", ("{foot-skin: sterile, foot-rest: sterile}", "{foot-skin: sterile}")),
        ),
    )
    yield (
        "two changes of the clinic, taken over by the baseline",
        (
            reworded(SKIN, "check-dry", ("at_least: 4 min", "at_least: 5 min"), ("four full", "five full")),
            added(WRIST, "settle", WARM_HAND),
        ),
    )


RELEASES = tuple(
    Release(f"3.{number}.0", datetime.date(2026 + (number + 10) // 12, (number + 10) % 12 + 1, 1), brings, edits)
    for number, (brings, edits) in enumerate(_releases(), 1)
)
"""One a month, from December 2026 on."""


def edited(files: Files, release: Release) -> Files:
    """The texts of a release, from those of the release before."""
    for edit in release.edits:
        files = edit(files)
    return files
