"""A step goes ahead although something it requires has not been confirmed, or no longer holds.

## Why it matters on the floor

The pause before the cut, the check of a pack, the question about allergies: they protect only if
nobody starts without their result. If one person can begin while the other is still asking, the
check is a form and not a barrier.

## Example

```yaml
phases:
  - phase: start
    title: Start
    steps:
      - id: team-pause
        role: circulating
        do: Read out name, operation and side; everybody agrees aloud.
        confirms: [side-agreed]
      - id: begin
        role: surgeon
        do: Begin the operation.
        requires: [side-agreed]
```

## Instead

```yaml
phases:
  - phase: start
    title: Start
    steps:
      - id: team-pause
        role: circulating
        with: [surgeon]
        do: Read out name, operation and side; everybody agrees aloud.
        confirms: [side-agreed]
      - id: begin
        role: surgeon
        do: Begin the operation.
        requires: [side-agreed]
```

## Limits

A fact is a word: whether the check behind it is done, and done well, is for the people in the room.
Facts need no declaration, so a misspelled one is told here, as a fact that no step confirms.
"""

from __future__ import annotations

from ..remedies import bring_before, line, link
from ..slips import Case, Told, slip_rule
from ..words import quoted


def _tell(case: Case) -> Told:
    fact, step = quoted(case.slip.subject), case.naming.step(case.step)
    if case.cause is not None:
        text = f"step {step} requires {fact}, which no longer holds since {case.naming.step(case.cause)}"
        return Told(case.say(text), _renew(case))
    confirmers = _confirmers(case)
    if not confirmers:
        return Told(case.say(f"step {step} requires {fact}, which no step confirms"), _none(case))
    text = f"step {step} requires {fact} before any step has confirmed it"
    advice = bring_before(case, confirmers)
    return Told(case.say(text), advice or f"Confirm {fact} in a step before {line(case, case.step)}.")


def _confirmers(case: Case) -> tuple[int, ...]:
    return case.setting.steps_where(lambda step: any(name.value == case.slip.subject for name in step.confirms))


def _none(case: Case) -> str:
    from difflib import get_close_matches

    known = sorted({name.value for step in case.setting.steps for name in step.confirms})
    near = get_close_matches(case.slip.subject, known, n=1, cutoff=0.85)
    meant = f"If {quoted(near[0])} is meant, write that; otherwise add" if near else "Add"
    return f"{meant} a step with `confirms: [{case.slip.subject}]` before {line(case, case.step)}."


def _renew(case: Case) -> str:
    cause, fact = case.occurrence.cause, case.slip.subject
    if cause is None:
        raise ValueError("a withdrawn fact has a step that withdrew it")
    change = link(case, cause, case.number)
    if change is not None:
        return f"Do {line(case, case.step)} first: {change}."
    withdrawn = line(case, case.setting.steps[cause])
    return (
        f"Confirm {quoted(fact)} again between {withdrawn} and {line(case, case.step)}, or leave its `withdraws` out."
    )


RULES = (slip_rule("fact-missing", __doc__, _tell),)
