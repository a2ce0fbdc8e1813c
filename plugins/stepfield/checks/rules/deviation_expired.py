"""A local change was to hold until a day that is past.

## Why it matters on the floor

A stopgap was agreed for a while: until the new washer comes, until the supplier delivers. If nobody has to look
again, it stays for ever, and the next nurse learns it as the way things are done.

## Example

```yaml
phases:
  - phase: room
    title: Prepare the room
    steps:
      - id: air-room
        role: circulating
        do: Let the air of the room change.
        takes: 15 min
# in tailoring.yaml:
baseline: {name: Quillhaven Day Surgery, version: 3.2.0}
changes:
  - protocol: example
    step: air-room
    set: {takes: 10 min}
    because: A second fan stands in the room.
    agreed: {by: Infection-control board, date: 2025-06-02}
    until: 2026-05-01
```

## Instead

```yaml
phases:
  - phase: room
    title: Prepare the room
    steps:
      - id: air-room
        role: circulating
        do: Let the air of the room change.
        takes: 15 min
# in tailoring.yaml:
baseline: {name: Quillhaven Day Surgery, version: 3.2.0}
changes:
  - protocol: example
    step: air-room
    set: {takes: 10 min}
    because: A second fan stands in the room.
    agreed: {by: Infection-control board, date: 2026-05-02}
    until: 2027-05-01
```

## Limits

The day itself still counts. A stricter or neutral change need not say until when; if it does, it is held to it. The
change is carried out all the same, so that the pages show what was agreed last.
"""

from __future__ import annotations

from collections.abc import Iterator

from ...language.tailored import Deviation
from ..deviations import grades_of
from ..facts import Facts
from ..finding import Finding, Severity
from ..rule import Rule
from ..words import quoted, sentence


def _check(facts: Facts) -> Iterator[Finding]:
    tailoring = facts.protocol_set.tailoring
    for deviation in tailoring.deviations if tailoring is not None else ():
        until = deviation.reason.until
        if until is None or until[0] >= facts.today:
            continue
        days = (facts.today - until[0]).days
        ago = f"{days} {'day' if days == 1 else 'days'} ago"
        grade = grades_of(deviation)[0].effect.word
        yield Finding(
            rule="deviation-expired",
            severity=Severity.ERROR,
            span=until[1],
            message=sentence(f"the {grade} change of {quoted(deviation.name)} was to end on {until[0]}: {ago}"),
            protocol=deviation.protocol,
            step=None if deviation.what == "thing" else deviation.name.value,
            subject=_subject(deviation),
            advice="Look at it again: take the entry out, or have it agreed anew with a later `until`.",
        )


def _subject(deviation: Deviation) -> str | None:
    """What tells several entries about one step apart: the first field that is set, or the thing."""
    if deviation.what == "thing":
        return deviation.name.value
    return deviation.fields[0].value if deviation.fields else None


RULES = (Rule("deviation-expired", Severity.ERROR, _check, __doc__),)
