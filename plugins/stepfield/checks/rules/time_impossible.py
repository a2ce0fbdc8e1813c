"""A time limit or a wait can't be kept, however quickly everybody works.

## Why it matters on the floor

A limit that nobody can keep is soon not kept by anybody, and then the limits beside it are not
believed either. Two waits that wait for one another stop the case.

## Example

```yaml
phases:
  - phase: prepare
    title: Prepare
    steps:
      - id: open-pack
        role: scrub
        do: Open the pack.
      - id: lay-up
        role: scrub
        do: Lay up the table.
        takes: {least: 25 min, likely: 30 min, most: 40 min}
      - id: cover-table
        role: scrub
        do: Cover the table.
        within: [{of: open-pack, at_most: 20 min}]
```

## Instead

```yaml
phases:
  - phase: prepare
    title: Prepare
    steps:
      - id: open-pack
        role: scrub
        do: Open the pack.
      - id: lay-up
        role: scrub
        do: Lay up the table.
        takes: {least: 5 min, likely: 10 min, most: 15 min}
      - id: cover-table
        role: scrub
        do: Cover the table.
        within: [{of: open-pack, at_most: 20 min}]
```

## Limits

Steps that say no duration count as taking no time, and a step that is repeated as done once. Durations
are taken all at their shortest, or all at their longest: a mixture can't be worse, since a limit is only
ever broken by something that takes longer. A step is taken to be held back where a limit asks for it, as
if everybody knew how long the others will take; `stepfield time` tells how often a limit is kept if
nobody holds back. People with several roles are not taken to do one thing after the other.
Of more than 4,096 settlings of choices and answers the first are looked at.
"""

from __future__ import annotations

from collections.abc import Iterator

from ..clocks import clash_findings
from ..facts import Facts
from ..finding import Finding, Severity
from ..rule import Rule


def _check(facts: Facts) -> Iterator[Finding]:
    return clash_findings(facts, "time-impossible", slow=False)


RULES = (Rule("time-impossible", Severity.ERROR, _check, __doc__),)
