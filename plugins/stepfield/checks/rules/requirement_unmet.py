"""A protocol adopts a requirement, and none of its steps says that it meets it.

## Why it matters on the floor

Whoever adopts a guidance says to the inspector, and to the next nurse, that it is followed. What no
step does is not done, however well it is known.

## Example

```yaml
adopts: [hand-care]
phases:
  - phase: prepare
    title: Prepare
    steps:
      - id: rub-hands
        role: scrub
        do: Rub your hands with alcohol hand rub until they are dry.
        takes: 30 s
```

## Instead

```yaml
adopts: [hand-care]
phases:
  - phase: prepare
    title: Prepare
    steps:
      - id: rub-hands
        role: scrub
        do: Rub your hands with alcohol hand rub until they are dry.
        takes: 30 s
        meets: [hand-rub-time]
```

## Limits

A step says itself that it meets a requirement; whether its words do what the guidance asks is for
people to judge. A requirement counts as met if some step meets it, though not with every choice.
"""

from __future__ import annotations

from collections.abc import Iterator

from ..facts import Facts
from ..finding import Finding, Note, Severity
from ..rule import Rule
from ..words import folded, quoted


def _check(facts: Facts) -> Iterator[Finding]:
    whole = facts.protocol_set
    known = {one.id.value: one for one in whole.requirements}
    for examined in facts.examined:
        protocol = examined.protocol
        met = {name.value for step in protocol.steps for name in step.meets}
        for adopted in protocol.evidence:
            for member in whole.sets.get(adopted.value, ()):
                if member.value in met or member.value not in known:
                    continue
                met.add(member.value)
                said = folded(known[member.value].text)
                yield Finding(
                    rule="requirement-unmet",
                    severity=Severity.ERROR,
                    span=adopted.span,
                    message=f"No step meets {quoted(member)} of the adopted {quoted(adopted)}: {said}",
                    protocol=protocol.id,
                    subject=member.value,
                    advice=f"Write `meets: [{member}]` in the step that does it, or add that step; "
                    f"what does not apply here does not belong into what is adopted.",
                    related=(Note(known[member.value].id.span, "the requirement"),),
                )


RULES = (Rule("requirement-unmet", Severity.ERROR, _check, __doc__),)
