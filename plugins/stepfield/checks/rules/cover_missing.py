"""A step takes off a cover or a garment that is not there, or that lies under another one.

## Why it matters on the floor

The order of taking off is what protects: an outer glove comes off before the gown under it. A step
that takes off what is not on means that the text and the room have come apart: something was
forgotten, or done twice.

## Example

```yaml
items:
  gown: {title: Protective gown, starts: clean, worn_on: body}
  apron: {title: Plastic apron, starts: clean, worn_on: body}
phases:
  - phase: round
    title: Dressing round
    steps:
      - id: dress
        role: circulating
        do: Put on the gown, then the apron over it.
        dons: [gown, apron]
      - id: undress
        role: circulating
        do: Take off the gown, then the apron.
        doffs: [gown, apron]
        discards: [apron, gown]
```

## Instead

```yaml
items:
  gown: {title: Protective gown, starts: clean, worn_on: body}
  apron: {title: Plastic apron, starts: clean, worn_on: body}
phases:
  - phase: round
    title: Dressing round
    steps:
      - id: dress
        role: circulating
        do: Put on the gown, then the apron over it.
        dons: [gown, apron]
      - id: undress
        role: circulating
        do: Take off the apron, then the gown.
        doffs: [apron, gown]
        discards: [apron, gown]
```

## Limits

Layers are kept for each place by itself: a glove on the hands does not lie over a sleeve on the
body. Where an order between the two matters, say it with a need or a fact.
"""

from __future__ import annotations

from ..remedies import bring_before, line, link, steps_with
from ..slips import Case, Told, slip_rule
from ..words import quoted


def _tell(case: Case) -> Told:
    named, step = case.naming.thing(case.slip.subject), case.naming.step(case.step)
    if case.slip.by is not None:
        above = case.naming.thing(case.slip.by)
        text = f"step {step} takes off {named}, but {above} {above.be} still on top"
        first, second = quoted(case.slip.by), quoted(case.slip.subject)
        advice = f"Take off {first} before {second}, in {line(case, case.step)} or earlier."
        return Told(case.say(text), advice)
    worn = any(effect.field == "doffs" and effect.thing.span == case.slip.span for effect in case.step.effects)
    since = f" since {case.naming.step(case.cause)}" if case.cause is not None else ""
    if worn:
        text = f"step {step} takes off {named}, but the one who does it is not wearing {named.them}{since}"
    else:
        text = f"step {step} uncovers {named}, but nothing covers {named.them}{since}"
    return Told(case.say(text), _advice(case, worn))


def _advice(case: Case, worn: bool) -> str:
    subject = case.slip.subject
    if case.cause is not None and case.occurrence.cause is not None:
        change = link(case, case.occurrence.cause, case.number)
        if change is not None:
            return f"One of the two is one too many; or do {line(case, case.step)} first: {change}."
        return f"One of {line(case, case.cause)} and {line(case, case.step)} is one too many: leave one out."
    putting_on = steps_with(case.setting, "dons" if worn else "covers", subject)
    if worn:
        putting_on += case.setting.steps_where(
            lambda step: any(
                effect.field == "covers" and effect.target is not None and effect.target.value == subject
                for effect in step.effects
            )
        )
    mend = bring_before(case, putting_on)
    if mend is not None:
        return mend
    way = f"`dons: [{subject}]`" if worn else f"`covers` for {subject}"
    return f"Add {way} before {line(case, case.step)}, or leave the taking off out."


RULES = (slip_rule("cover-missing", __doc__, _tell),)
