"""Half the steps of a protocol renamed at once: each is one change at most, nothing is told as lost or new."""

from __future__ import annotations

import re

import pytest

from stepfield.changes import Grade

from .sets import FILES, PROTOCOL, dressing, review

STEPS = re.findall(r"- id: ([a-z-]+)\n", PROTOCOL)
FILE = "protocols/dressing.yaml"


def renamed(names: list[str], *edits: tuple[str, str]) -> dict[str, str]:
    """The set with every step of ``names`` called otherwise wherever it is spoken of, and more edits."""
    text = PROTOCOL
    for name in names:
        text, count = re.subn(rf"(?<![\w-]){name}(?![\w-])", f"{name[::-1].strip('-')}-now", text)
        assert count >= 1
    for old, new in edits:
        assert text.count(old) == 1
        text = text.replace(old, new)
    return {**FILES, FILE: text}


@pytest.mark.parametrize("names", [STEPS[::2], STEPS[1::2], STEPS], ids=["every other", "the others", "all"])
def test_steps_that_are_only_renamed_lose_nothing(names: list[str]) -> None:
    found = dressing(renamed(names))
    told = [] if found is None else [(one.name, one.kind) for one in found.changes]
    assert [one for one in told if one[1] in ("added", "removed")] == []
    assert found is None or found.grade is Grade.WORDING
    assert (review(renamed(names)).appeared, review(renamed(names)).vanished) == ((), ())


def test_a_grave_change_among_many_renames_is_not_lost() -> None:
    found = dressing(renamed(STEPS[::2], ("counts: [swab]\n", "confirms: [swabs-seen]\n")))
    assert found is not None
    assert found.grade is Grade.SAFETY
    assert [one.grade for one in found.changes].count(Grade.SAFETY) == 1
    assert {one.kind for one in found.changes} & {"added", "removed"} == set()
