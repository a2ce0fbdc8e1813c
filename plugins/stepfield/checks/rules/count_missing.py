"""A counted thing is used on the patient without a count before the first use or after the last.

## Why it matters on the floor

A swab or a needle that stays in a wound is found by counting, and only if the number was known
before: one count before the first use, one after the last, before the wound is closed for good.

## Example

```yaml
sites:
  cut: {title: The cut}
packs:
  swab-pack: {title: Swab pack, holds: {swabs: {title: Gauze swabs, count: 10, counted: true}}}
phases:
  - phase: operate
    title: Operate
    steps:
      - id: open-swabs
        role: scrub
        do: Open the swabs.
        opens: [swab-pack]
      - id: first-count
        role: scrub
        do: Count the swabs aloud.
        counts: [swabs]
      - id: dab
        role: scrub
        do: Dab the cut dry.
        uses: {swabs: cut}
```

## Instead

```yaml
sites:
  cut: {title: The cut}
packs:
  swab-pack: {title: Swab pack, holds: {swabs: {title: Gauze swabs, count: 10, counted: true}}}
phases:
  - phase: operate
    title: Operate
    steps:
      - id: open-swabs
        role: scrub
        do: Open the swabs.
        opens: [swab-pack]
      - id: first-count
        role: scrub
        do: Count the swabs aloud.
        counts: [swabs]
      - id: dab
        role: scrub
        do: Dab the cut dry.
        uses: {swabs: cut}
      - id: last-count
        role: scrub
        do: Count the swabs again, all of them, aloud.
        counts: [swabs]
```

## Limits

That the two numbers agree, and what follows if they do not, is for the team; ask it with `asks`,
and let the closing wait for the answer. Only uses on a site of the patient are counted.
"""

from __future__ import annotations

from ..remedies import bring_before, line, link, steps_with
from ..slips import Case, Told, slip_rule
from ..words import quoted


def _tell(case: Case) -> Told:
    named, step = case.naming.thing(case.slip.subject), case.naming.step(case.step)
    counts = steps_with(case.setting, "counts", case.slip.subject)
    if not counts:
        text = f"step {step} uses {named} on the patient, and no step counts {named.them}"
        both = f"Count {named.them} before {line(case, case.step)} and again after: `counts: [{case.slip.subject}]`."
        return Told(case.say(text), both)
    if case.slip.by == "before":
        text = f"step {step} uses {named} on the patient before {named.they} {named.be} counted"
        mend = bring_before(case, counts)
        add = f"Add `counts: [{case.slip.subject}]` to a step before {line(case, case.step)}."
        return Told(case.say(text), mend or add)
    text = f"no step counts {named} again after {step}, the last use on the patient"
    return Told(case.say(text), _after(case, counts))


def _after(case: Case, counts: tuple[int, ...]) -> str:
    for count in reversed(counts):
        change = link(case, count, case.number)
        if change is not None:
            return f"Let {quoted(case.setting.steps[count].id)} wait for {quoted(case.step.id)}: {change}."
    return f"Add a step after {line(case, case.step)} with `counts: [{case.slip.subject}]`."


RULES = (slip_rule("count-missing", __doc__, _tell),)
