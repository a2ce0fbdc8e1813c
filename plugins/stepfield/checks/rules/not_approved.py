"""A protocol calls itself approved, and who approved it, when, or until when is missing or lies ahead.

## Why it matters on the floor

The word "approved" on a page is what staff rely on. Behind it must stand somebody who agreed, on a
day that has come, and a day by which the text is looked at again.

## Example

```yaml
status: approved
review_by: 2027-03-01
phases:
  - phase: room
    title: Prepare the room
    steps:
      - id: close-doors
        role: circulating
        do: Close the doors of the room.
```

## Instead

```yaml
status: approved
approved: {by: Infection-control board, date: 2026-03-01}
review_by: 2027-03-01
phases:
  - phase: room
    title: Prepare the room
    steps:
      - id: close-doors
        role: circulating
        do: Close the doors of the room.
```

## Limits

Whether that board agreed to this very text is for version control to show. Drafts, texts in review
and retired ones are not looked at.
"""

from __future__ import annotations

from collections.abc import Iterator

from ..facts import Facts
from ..finding import Finding, Severity
from ..rule import Rule
from ..words import at, listed

_WRITTEN = {"approved": "`approved: {by: …, date: …}`", "review_by": "`review_by: …`"}


def _check(facts: Facts) -> Iterator[Finding]:
    for examined in facts.examined:
        protocol = examined.protocol
        if protocol.status.value != "approved":
            continue
        lacks = [
            name
            for name, value in (("approved", protocol.approved), ("review_by", protocol.review_by))
            if value is None
        ]
        if lacks:
            span = protocol.status.span
            verb = "is" if len(lacks) == 1 else "are"
            message = f"The status is approved, but {listed([f'`{name}`' for name in lacks])} {verb} missing."
            needed = listed([_WRITTEN[name] for name in lacks])
            advice = f"Add {needed}, or write `status: in-review` ({at(span, span.path)})."
        elif protocol.approved is not None and protocol.approved.date > facts.today:
            span = protocol.approved.span
            message = f"The approval is dated {protocol.approved.date}, which is after today, {facts.today}."
            advice = f"Mend the date, or write `status: in-review` until then ({at(protocol.status.span, span.path)})."
        else:
            continue
        yield Finding("not-approved", Severity.ERROR, span, message, protocol=protocol.id, advice=advice)


RULES = (Rule("not-approved", Severity.ERROR, _check, __doc__),)
