"""A protocol changed, and its version was not raised as far as the change asks.

## Why it matters on the floor

People go by the number on the sheet in their hand. If the text under one number is two texts, half the team works by
the one and half by the other, and nobody sees it. A number that was raised by little says that there is little to
read.

## Example

```yaml
version: 1.0.0
surfaces: {hand-table: {title: Hand table, starts: disinfected}}
phases:
  - phase: room
    title: Prepare the room
    steps:
      - id: set-table
        role: circulating
        do: Set the hand table in its place.
        needs: {hand-table: clean}  # before: needs: {hand-table: disinfected}
```

## Instead

```yaml
version: 2.0.0  # before: version: 1.0.0
surfaces: {hand-table: {title: Hand table, starts: disinfected}}
phases:
  - phase: room
    title: Prepare the room
    steps:
      - id: set-table
        role: circulating
        do: Set the hand table in its place.
        needs: {hand-table: clean}  # before: needs: {hand-table: disinfected}
```

## Limits

Only `stepfield review` knows the text before, so only a review finds this. A change of wording asks for a higher
third number, one of how the work is done for a higher second one, one of safety for a higher first one or for an
approval of a later day. A new protocol, and a draft that has no version yet, need none. A change in a part or in the
clinic's file counts for every protocol it changes.
"""

from __future__ import annotations

from collections.abc import Iterable

from ..checks import Facts, Finding, Rule, Severity
from ..language.model import Protocol
from .grades import Grade
from .model import Version

NAME = "version-not-raised"
_ASKED = {Grade.WORDING: "patch", Grade.WORKING: "minor", Grade.SAFETY: "major"}
_PLACES = {"major": 1, "minor": 2, "patch": 3}


def version_of(old: Protocol, new: Protocol, grade: Grade | None) -> Version:
    """Whether the version was raised as far as a change of a grade asks."""
    before, after = old.version.value, new.version.value
    if grade is None:
        return Version(before, after, None, raised=True)
    asked = _ASKED[grade]
    places = _PLACES[asked]
    raised = _numbers(after)[:places] > _numbers(before)[:places]
    if grade is Grade.SAFETY and new.approved is not None:
        raised = raised or (old.approved is None or new.approved.date > old.approved.date)
    unnumbered = new.status.value == old.status.value == "draft" and before == after == "0.0.0"
    return Version(before, after, asked, raised or unnumbered)


def finding_of(new: Protocol, version: Version, grade: Grade) -> Finding:
    """The finding on a version that was not raised far enough."""
    asked = {"patch": "third", "minor": "second", "major": "first"}[version.asked or "patch"]
    also = ", or have it approved anew and write the day under `approved`" if grade is Grade.SAFETY else ""
    how = (
        f"is still {version.after}"
        if version.after == version.before
        else f"went from {version.before} to {version.after}"
    )
    kinds = {Grade.WORDING: "of wording", Grade.WORKING: "in how the work is done", Grade.SAFETY: "of safety"}
    return Finding(
        rule=NAME,
        severity=Severity.ERROR,
        span=new.version.span if new.version.span.path == new.path else new.span,
        message=f"The version {how}, and the text has a change {kinds[grade]}.",
        protocol=new.id,
        subject="version",
        advice=f"Raise the {asked} number of `version`{also}.",
    )


def _never(_: Facts) -> Iterable[Finding]:
    """One text alone shows no change."""
    return ()


def _numbers(version: str) -> tuple[int, ...]:
    return tuple(int(number) for number in version.split(".") if number.isdecimal())


RULES = (Rule(NAME, Severity.ERROR, _never, __doc__),)
