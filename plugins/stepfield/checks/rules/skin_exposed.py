"""Blood, tissue or other patient material gets on bare hands or a bare face.

## Why it matters on the floor

What the patient carries reaches staff through small cuts and through eyes, nose and mouth. Washing
afterwards does not undo it: the glove or the shield has to be on before the contact.

## Example

```yaml
sites:
  cut: {title: The cut}
items:
  gloves: {title: Examination gloves, starts: clean, worn_on: hands}
phases:
  - phase: after
    title: After the operation
    steps:
      - id: cut-bleeds
        role: surgeon
        do: Let the pressure off; the cut bleeds a little.
        soils: [cut]
      - id: wipe-cut
        role: circulating
        after: [cut-bleeds]
        do: Wash the skin round the cut until it is clean.
        touches: [cut]
        makes: {cut: clean}
```

## Instead

```yaml
sites:
  cut: {title: The cut}
items:
  gloves: {title: Examination gloves, starts: clean, worn_on: hands}
phases:
  - phase: after
    title: After the operation
    steps:
      - id: cut-bleeds
        role: surgeon
        do: Let the pressure off; the cut bleeds a little.
        soils: [cut]
      - id: glove
        role: circulating
        do: Put on examination gloves.
        dons: [gloves]
      - id: wipe-cut
        role: circulating
        after: [cut-bleeds]
        do: Wash the skin round the cut until it is clean.
        touches: [cut]
        makes: {cut: clean}
      - id: unglove
        role: circulating
        do: Peel off the gloves and throw them away.
        doffs: [gloves]
        discards: [gloves]
```

## Limits

Only hands and face are looked at. Splashes are not known by themselves: a step that may splash says
so with `soils: [ROLE.face]`, and a mask or shield worn on the face then takes it.
"""

from __future__ import annotations

from ...language.model import Step
from ..remedies import bring_before, line
from ..slips import Case, Told, slip_rule
from ..words import listed, part_of, quoted


def _tell(case: Case) -> Told:
    named = case.naming.thing(case.slip.subject)
    text = f"step {case.naming.step(case.step)} gets patient material on {named} while {named.they} {named.be} bare"
    return Told(case.say(text), _advice(case))


def _advice(case: Case) -> str:
    subject = case.slip.subject
    role, part = subject.rpartition(".")[0], part_of(subject)
    putting_on = case.setting.steps_where(lambda step: _covers(case, step, role, part or ""))
    mend = bring_before(case, putting_on)
    if mend is not None:
        return mend
    items = [quoted(thing.name) for thing in case.setting.protocol.subjects.values() if thing.worn_on == part]
    what = listed(items, "or") or ("gloves" if part == "hands" else "a mask or a shield")
    return f"Have {what} on (`dons`) from before {line(case, case.step)} until the last such contact."


def _covers(case: Case, step: Step, role: str, part: str) -> bool:
    things = case.setting.protocol.subjects
    return any(
        (effect.field == "covers" and effect.thing.value == case.slip.subject)
        or (effect.field == "dons" and str(step.role) == role and things[effect.thing.value].worn_on == part)
        for effect in step.effects
    )


RULES = (slip_rule("skin-exposed", __doc__, _tell),)
