"""A time limit is kept on a quick day, and not if every step takes as long as it may.

## Why it matters on the floor

The day on which everything takes longer is the day the limit was made for: an opened field stands too
long, or an antiseptic has dried and gone. A limit that holds only if all goes well is none.

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
        takes: {least: 10 min, likely: 15 min, most: 30 min}
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
        takes: {least: 10 min, likely: 12 min, most: 15 min}
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
    return clash_findings(facts, "wait-too-short", slow=True)


RULES = (Rule("wait-too-short", Severity.ERROR, _check, __doc__),)
