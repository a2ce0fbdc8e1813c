"""A protocol leaves so much order open that not every order could be tried.

## Why it matters on the floor

What was not tried is not proved, and must not look as if it were. A text that leaves so much open
is hard for people too: say who waits for whom, or cut a phase in two.

## Example

```yaml max-states=10
phases:
  - phase: room
    title: Prepare the room
    steps:
      - {id: doors, role: circulating, do: Close the doors., confirms: [room-changed]}
      - {id: lights, role: circulating, do: Switch on the lights., confirms: [room-changed]}
      - {id: papers, role: circulating, do: Lay out the papers., confirms: [room-changed]}
      - {id: table, role: scrub, do: Draw up the table., confirms: [room-changed]}
      - {id: stool, role: scrub, do: Draw up the stool., confirms: [room-changed]}
      - {id: lamp, role: scrub, do: Turn the lamp., confirms: [room-changed]}
```

## Instead

```yaml max-states=10
phases:
  - phase: room
    title: Prepare the room
    steps:
      - {id: doors, role: circulating, do: Close the doors., confirms: [room-changed]}
      - {id: lights, role: circulating, do: Switch on the lights., confirms: [room-changed]}
      - {id: papers, role: circulating, do: Lay out the papers., confirms: [room-changed]}
  - phase: furniture
    title: Draw up the furniture
    steps:
      - {id: table, role: scrub, do: Draw up the table., confirms: [room-changed]}
      - {id: stool, role: scrub, do: Draw up the stool., confirms: [room-changed]}
      - {id: lamp, role: scrub, do: Turn the lamp., confirms: [room-changed]}
```

## Limits

The example is checked with `--max-states 10`; the usual bound is far higher. Other findings of such
a protocol hold; that there are no further ones does not. A protocol that cannot be tried at all
because of other errors is named in the summary instead.
"""

from __future__ import annotations

from collections.abc import Iterator

from ..facts import Facts
from ..finding import Finding, Severity
from ..rule import Rule


def _check(facts: Facts) -> Iterator[Finding]:
    for examined in facts.examined:
        proof = examined.proof
        if proof is None or examined.unproved is None:
            continue
        many = f", in each of {proof.scenarios:,} scenarios," if proof.scenarios > 1 else ""
        yield Finding(
            rule="not-proved",
            severity=Severity.ERROR,
            span=examined.protocol.title.span,
            message=f"Not every order{many} was tried, since {examined.unproved}.",
            protocol=examined.protocol.id,
            advice="Say with `after` who waits for whom, cut a long phase in two, "
            "or allow more states with `--max-states`.",
        )


RULES = (Rule("not-proved", Severity.ERROR, _check, __doc__),)
