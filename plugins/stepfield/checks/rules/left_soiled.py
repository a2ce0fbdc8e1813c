"""The protocol can end with something still carrying blood, tissue or other patient material.

## Why it matters on the floor

The next patient, and whoever clears the room, meets what was left behind. Each soiled thing ends in
the waste, in reprocessing, or cleaned.

## Example

```yaml
surfaces:
  hand-table: {title: Hand table}
items:
  gloves: {title: Examination gloves, starts: clean, worn_on: hands}
phases:
  - phase: clear
    title: Clear the room
    steps:
      - id: glove
        role: circulating
        do: Put on examination gloves.
        dons: [gloves]
      - id: lift-swabs
        role: circulating
        do: Lift the used swabs off the hand table; blood has dripped on it.
        soils: [hand-table]
      - id: unglove
        role: circulating
        do: Peel off the gloves and throw them away.
        doffs: [gloves]
        discards: [gloves]
```

## Instead

```yaml
surfaces:
  hand-table: {title: Hand table}
items:
  gloves: {title: Examination gloves, starts: clean, worn_on: hands}
phases:
  - phase: clear
    title: Clear the room
    steps:
      - id: glove
        role: circulating
        do: Put on examination gloves.
        dons: [gloves]
      - id: lift-swabs
        role: circulating
        do: Lift the used swabs off the hand table; blood has dripped on it.
        soils: [hand-table]
      - id: wipe-table
        role: circulating
        do: Wash the hand table, then wipe it with disinfectant.
        touches: [hand-table]
        makes: {hand-table: disinfected}
      - id: unglove
        role: circulating
        do: Peel off the gloves and throw them away.
        doffs: [gloves]
        discards: [gloves]
```

## Limits

Soil spreads by contact and to what rests on a soiled surface, as far as the text says so. Floors,
walls and clothes are nothing it knows unless they are declared.
"""

from __future__ import annotations

from ...language.model import Kind
from ..remedies import link, steps_with
from ..slips import Case, Told, slip_rule
from ..words import at, quoted


def _tell(case: Case) -> Told:
    named = case.naming.thing(case.slip.subject)
    by = f"; step {case.naming.step(case.cause)} soiled {named.them}" if case.cause is not None else ""
    text = f"the protocol ends with {named} still soiled{by}"
    return Told(case.say(text), _advice(case))


def _advice(case: Case) -> str:
    subject = case.setting.protocol.subjects[case.slip.subject]
    name, cause = subject.name.value, case.occurrence.cause
    enders = tuple(
        number for field in ("makes", "discards", "hands_over") for number in steps_with(case.setting, field, name)
    )
    for ender in enders:
        change = link(case, ender, cause) if cause is not None else None
        if change is not None:
            return f"{quoted(case.setting.steps[ender].id)} can come before it was soiled: {change}."
    after = (
        f" after {quoted(case.cause.id)} ({at(case.cause.id.span, case.span.path)})" if case.cause is not None else ""
    )
    if subject.kind in (Kind.ITEM, Kind.PACK):
        over = f"`hands_over: [{name}]`"
        way = over if subject.reusable else f"`discards: [{name}]`, or {over} if it is reprocessed"
        return f"Add a step{after} that takes it away: {way}."
    return f"Add a step{after} that cleans it, with `makes: {{{name}: clean}}` or better."


RULES = (slip_rule("left-soiled", __doc__, _tell),)
