"""A heat or spark source is switched on while something that burns may still be wet on the patient.

## Why it matters on the floor

Skin preparations with alcohol, and their vapour under a drape, catch fire from one spark. The
drying time that the maker or the requirement names has to pass, always, before the first spark; it
must not depend on who is quicker.

## Example

```yaml
sites:
  palm: {title: Skin of the palm}
items:
  paint: {title: Antiseptic with alcohol, hazard: fire, starts: sterile}
phases:
  - phase: operate
    title: Operate
    cautions: [{kind: fire, text: The antiseptic burns until it is dry.}]
    steps:
      - id: paint-palm
        role: scrub
        do: Paint the palm.
        uses: {paint: palm}
      - id: stop-bleeding
        role: surgeon
        after: [paint-palm]
        do: Stop small bleedings with the cautery.
        ignition: true
```

## Instead

```yaml
sites:
  palm: {title: Skin of the palm}
items:
  paint: {title: Antiseptic with alcohol, hazard: fire, starts: sterile}
phases:
  - phase: operate
    title: Operate
    cautions: [{kind: fire, text: The antiseptic burns until it is dry.}]
    steps:
      - id: paint-palm
        role: scrub
        do: Paint the palm.
        uses: {paint: palm}
      - id: stop-bleeding
        role: surgeon
        after: [paint-palm]
        waits: [{for: paint-palm, at_least: 3 min}]
        do: Stop small bleedings with the cautery.
        ignition: true
```

## Limits

The wait has to be as long as the longest `at_least` among the requirements that the step with the
burning thing meets; where it meets none, any wait will do, and the label of the product decides.
Oxygen, pooled fluid and soaked drapes are not seen.
"""

from __future__ import annotations

from ..remedies import line
from ..slips import Case, Told, slip_rule
from ..words import quoted


def _tell(case: Case) -> Told:
    named, used_at = case.naming.thing(case.slip.subject), case.slip.by or ""
    text = (
        f"step {case.naming.step(case.step)} uses heat or sparks while {named}, "
        f"used in {quoted(used_at)}, may still be wet"
    )
    advice = (
        f"Write `waits: [{{for: {used_at}, at_least: …}}]` in {line(case, case.step)} or in a step before it, "
        "with the drying time that the label and the requirement name."
    )
    if used_at and _is_waited_for(case, used_at):
        advice = (
            f"A wait for {quoted(used_at)} is there, but it is shorter than the requirement asks or comes too late: "
            f"lengthen it, and let {line(case, case.step)} come after it."
        )
    return Told(case.say(text), advice)


def _is_waited_for(case: Case, used_at: str) -> bool:
    return any(wait.step.value == used_at for step in case.setting.steps for wait in step.waits)


RULES = (slip_rule("fire-risk", __doc__, _tell),)
