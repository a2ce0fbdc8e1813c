"""An approved protocol should have been looked at again before today.

## Why it matters on the floor

Products change, guidance changes, and so do rooms and teams. A text past its day may still be
right; nobody has said so.

## Example

```yaml
status: approved
approved: {by: Infection-control board, date: 2024-03-01}
review_by: 2025-03-01
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

The day itself still counts as in time. Drafts, texts in review and retired ones are not looked at.
"""

from __future__ import annotations

from collections.abc import Iterator

from ..facts import Facts
from ..finding import Finding, Severity
from ..rule import Rule
from ..words import at


def _check(facts: Facts) -> Iterator[Finding]:
    for examined in facts.examined:
        protocol = examined.protocol
        if protocol.status.value != "approved" or protocol.review_by is None or protocol.review_by[0] >= facts.today:
            continue
        day, span = protocol.review_by
        days = (facts.today - day).days
        yield Finding(
            rule="review-overdue",
            severity=Severity.ERROR,
            span=span,
            message=f"This protocol was to be looked at again by {day}: {days} {'day' if days == 1 else 'days'} ago.",
            protocol=protocol.id,
            advice="Look at it again and have it approved anew with a later `review_by`, "
            f"or set its status to in-review or retired ({at(protocol.status.span, span.path)}).",
        )


RULES = (Rule("review-overdue", Severity.ERROR, _check, __doc__),)
