"""A reusable thing is thrown away instead of being handed over for reprocessing.

## Why it matters on the floor

A needle holder in the waste is missing from the next tray, and is found by whoever empties the bag.
Reusable things go back contained, to be cleaned, checked and sterilised.

## Example

```yaml
items:
  needle-holder: {title: Needle holder, reusable: true}
phases:
  - phase: clear
    title: Clear the room
    steps:
      - id: clear-tray
        role: scrub
        do: Empty the tray into the waste.
        discards: [needle-holder]
```

## Instead

```yaml
items:
  needle-holder: {title: Needle holder, reusable: true}
phases:
  - phase: clear
    title: Clear the room
    steps:
      - id: clear-tray
        role: scrub
        do: Close the used instruments into the transport box.
        hands_over: [needle-holder]
```

## Limits

A warning, since a damaged instrument may rightly be thrown away; say so in the step's `why`. What
reprocessing does with the thing is another protocol.
"""

from __future__ import annotations

from collections.abc import Iterator

from ..facts import Facts
from ..finding import Finding, Severity
from ..rule import Rule
from ..slips import Setting, used_here
from ..words import at, quoted


def _check(facts: Facts) -> Iterator[Finding]:
    for examined in facts.examined:
        setting = Setting(examined, facts)
        for step in setting.steps:
            for effect in step.effects:
                subject = setting.protocol.subjects.get(effect.thing.value)
                if effect.field != "discards" or subject is None or not subject.reusable:
                    continue
                named = setting.naming.thing(effect.thing.value)
                yield Finding(
                    rule="reusable-discarded",
                    severity=Severity.WARNING,
                    span=effect.thing.span,
                    message=f"Step {setting.naming.step(step)} throws away {named}, which {named.be} reusable.",
                    protocol=setting.protocol.id,
                    step=step.id.value,
                    subject=effect.thing.value,
                    advice=f"Write `hands_over: [{effect.thing}]` in {quoted(step.id)} "
                    f"({at(step.id.span, effect.thing.span.path)}) instead of `discards`.",
                    related=used_here(step),
                )


RULES = (Rule("reusable-discarded", Severity.WARNING, _check, __doc__),)
