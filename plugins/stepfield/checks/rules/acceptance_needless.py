"""A finding is accepted that is not found, or that cannot be accepted.

## Why it matters on the floor

An acceptance without a finding lies in wait: if the slip comes back one day, nobody is told of it. One with a slip of
the pen in it accepts nothing, and its writer thinks it does.

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
    until: 2026-12-31
```

## Instead

```yaml
packs:
  hand-pack: {holds: {scalpel: {title: Scalpel, sharp: true}}}
items:
  sharps-box: {title: Sharps box, sharps: true}
phases:
  - phase: room
    title: Prepare the room
    steps:
      - id: clear-away
        role: circulating
        do: Open the pack and put the scalpel into the sharps box.
        opens: [hand-pack]
        touches: [scalpel]
        discards: {scalpel: sharps-box}
# in accepted.yaml:
accepted:
  - rule: caution-missing
    protocol: example
    step: clear-away
    subject: scalpel
    reason: The wording of the caution is with the board.
    by: Infection-control lead
    until: 2026-12-31
```

## Limits

A finding is recognised by its rule, protocol, step and subject. Where an acceptance leaves one of these out, it means
a finding that has none. Files that cannot be read as meant, and orders that could not all be tried, cannot be
accepted.
"""

from __future__ import annotations

from collections.abc import Iterable

from ..facts import Facts
from ..finding import Finding, Severity
from ..rule import Rule


def _told_with_acceptances(_: Facts) -> Iterable[Finding]:
    """What is accepted is held against all findings, once every rule has spoken: ``checks.accepting``."""
    return ()


RULES = (Rule("acceptance-needless", Severity.WARNING, _told_with_acceptances, __doc__),)
