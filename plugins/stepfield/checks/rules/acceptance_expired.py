"""A finding was accepted until a day that is past.

## Why it matters on the floor

Somebody said that a slip may stay for a while. The while is over and the slip may still be there; if nobody has to
look again, a stopgap becomes the way things are done.

## Example

```yaml
phases:
  - phase: room
    title: Prepare the room
    steps:
      - id: close-doors
        role: circulating
        do: Close the doors of the room.
# in accepted.yaml:
accepted:
  - rule: caution-missing
    protocol: example
    step: close-doors
    subject: doors
    reason: The wording of the caution is with the board.
    by: Infection-control lead
    until: 2026-03-31
```

## Instead

```yaml
phases:
  - phase: room
    title: Prepare the room
    steps:
      - id: close-doors
        role: circulating
        do: Close the doors of the room.
```

## Limits

The last day itself still counts. From the day after, what was accepted counts again as if nobody had accepted it.
"""

from __future__ import annotations

from collections.abc import Iterable

from ..facts import Facts
from ..finding import Finding, Severity
from ..rule import Rule


def _told_with_acceptances(_: Facts) -> Iterable[Finding]:
    """What is accepted is held against all findings, once every rule has spoken: ``checks.accepting``."""
    return ()


RULES = (Rule("acceptance-expired", Severity.WARNING, _told_with_acceptances, __doc__),)
