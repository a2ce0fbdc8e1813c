"""A step uses something that is not there yet, not there any more, or on somebody else.

## Why it matters on the floor

A hand that reaches for a thing still in its wrapper waits, or opens the pack itself and is no
longer sterile. A thing that was thrown away comes back out of the waste. Both happen when nothing
tells the one to wait for the other.

## Example

```yaml
sites:
  cut: {title: The cut}
packs:
  suture-pack: {title: Suture pack, holds: {suture: {title: Suture}}}
phases:
  - phase: close
    title: Close the cut
    steps:
      - id: open-sutures
        role: circulating
        do: Open the suture pack towards the scrub nurse.
        opens: [suture-pack]
      - id: sew
        role: surgeon
        do: Close the cut with single stitches.
        uses: {suture: cut}
```

## Instead

```yaml
sites:
  cut: {title: The cut}
packs:
  suture-pack: {title: Suture pack, holds: {suture: {title: Suture}}}
phases:
  - phase: close
    title: Close the cut
    steps:
      - id: open-sutures
        role: circulating
        do: Open the suture pack towards the scrub nurse.
        opens: [suture-pack]
      - id: sew
        role: surgeon
        after: [open-sutures]
        do: Close the cut with single stitches.
        uses: {suture: cut}
```

## Limits

Whether the store has the thing, whether there are enough of it, and where in the room it lies is
not looked at.
"""

from __future__ import annotations

from ..remedies import bring_before, line, link, steps_with
from ..slips import Case, Told, slip_rule
from ..words import quoted


def _tell(case: Case) -> Told:
    by, subject = case.slip.by, case.setting.protocol.subjects[case.slip.subject]
    if by is not None and by == subject.held_in:
        return _in_pack(case, by)
    if by is not None and by in case.setting.protocol.subjects:
        return _worn(case, by)
    return _gone(case)


def _in_pack(case: Case, pack: str) -> Told:
    named, wrapper = case.naming.thing(case.slip.subject), case.naming.thing(pack)
    openers = steps_with(case.setting, "opens", pack)
    text = f"step {case.naming.step(case.step)} uses {named} before {wrapper} is opened"
    if not openers:
        lacks = f"No step opens {wrapper}: add one with `opens: [{pack}]` before {line(case, case.step)}."
        return Told(case.say(text), lacks)
    mend = bring_before(case, openers)
    return Told(case.say(text), mend or f"Open {wrapper} in a step before {line(case, case.step)}.")


def _gone(case: Case) -> Told:
    named = case.naming.thing(case.slip.subject)
    text = f"step {case.naming.step(case.step)} uses {named} after {_left(case)}"
    if case.cause is None or case.occurrence.cause is None:
        return Told(case.say(text), f"Bring another one for {line(case, case.step)}, under a name of its own.")
    change = link(case, case.occurrence.cause, case.number)
    if change is not None:
        return Told(case.say(text), f"Do {line(case, case.step)} first: {change}.")
    advice = f"Let {line(case, case.cause)} come after {quoted(case.step.id)}, or bring another one under its own name."
    return Told(case.say(text), advice)


def _left(case: Case) -> str:
    named = case.naming.thing(case.slip.subject)
    if case.cause is None:
        return f"{named.they} had left the room"
    thrown = any(
        effect.field == "discards" and effect.thing.value == case.slip.subject for effect in case.cause.effects
    )
    deed = f"threw {named.them} away" if thrown else f"handed {named.them} over"
    return f"step {case.naming.step(case.cause)} {deed}"


def _worn(case: Case, place: str) -> Told:
    named, wearer = case.naming.thing(case.slip.subject), case.naming.thing(place)
    since = f" since {case.naming.step(case.cause)}" if case.cause is not None else ""
    text = f"step {case.naming.step(case.step)} takes {named} in hand while {named.they} {named.be} on {wearer}{since}"
    off = steps_with(case.setting, "doffs", case.slip.subject) + steps_with(case.setting, "uncovers", place)
    advice = bring_before(case, off)
    return Told(
        case.say(text), advice or f"Have {named.them} taken off before {line(case, case.step)}, or use another one."
    )


RULES = (slip_rule("not-available", __doc__, _tell),)
