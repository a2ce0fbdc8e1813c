"""A step begins while something it relies on is less clean than the step needs.

## Why it matters on the floor

A level that a step needs is a promise to the patient: this trolley has been disinfected, these
gloves are sterile. If the team can come to the step in an order in which that is not yet so, or no
longer so, then some day it will. The same goes for gowning: a sterile gown or glove that is put on
over hands that were not prepared carries what was on them to its own outside.

## Example

```yaml
surfaces:
  side-table: {title: Side table}
phases:
  - phase: room
    title: Prepare the room
    steps:
      - id: wipe-table
        role: circulating
        do: Wipe the side table with disinfectant, and let it dry.
        makes: {side-table: disinfected}
      - id: set-out
        role: scrub
        do: Set out the dressings on the side table.
        needs: {side-table: disinfected}
```

## Instead

```yaml
surfaces:
  side-table: {title: Side table}
phases:
  - phase: room
    title: Prepare the room
    steps:
      - id: wipe-table
        role: circulating
        do: Wipe the side table with disinfectant, and let it dry.
        makes: {side-table: disinfected}
      - id: set-out
        role: scrub
        after: [wipe-table]
        do: Set out the dressings on the side table.
        needs: {side-table: disinfected}
```

## Limits

Only what the text says is judged. A step that needs something and does not say so under `needs` or
`sterile` is not held to it, and a touch that is not written down lowers nothing.
"""

from __future__ import annotations

from ...language.model import Level
from ..remedies import bring_before, line, link, raisers
from ..slips import Case, Told, slip_rule
from ..words import part_of, quoted


def _tell(case: Case) -> Told:
    subject, have, asked = case.slip.subject, case.slip.have, case.slip.asked
    if have is None or asked is None:
        raise ValueError("a need names two levels")
    named, step = case.naming.thing(subject), case.naming.step(case.step)
    if _is_written(case):
        text = f"step {step} needs {named} {asked.word}, but {named.they} {named.be} only {have.word} then"
    else:
        text = f"step {step} puts on sterile {_put_on(case)}, but {named} {named.be} only {have.word} then"
    return Told(case.say(text + _why(case, asked)), _advice(case, asked))


def _is_written(case: Case) -> bool:
    """Whether the step itself asks for the level; if not, it is what putting something sterile on a person asks for."""
    return any(need.subject.span == case.slip.span for need in case.step.needs)


def _put_on(case: Case) -> str:
    """What the step puts on a person."""
    effect = next(effect for effect in case.step.effects if effect.thing.span == case.slip.span)
    item = effect.thing if effect.target is None else effect.target
    return str(case.naming.thing(item.value))


def _why(case: Case, asked: Level) -> str:
    named = case.naming.thing(case.slip.subject)
    if case.cause is not None:
        return f", since {case.naming.step(case.cause)}"
    if not raisers(case.setting, case.slip.subject, asked):
        return f": no step makes {named.them} {asked.word}"
    return f": no step before it has made {named.them} {asked.word}"


def _advice(case: Case, asked: Level) -> str:
    subject = case.slip.subject
    named = case.naming.thing(subject)
    if case.occurrence.cause is not None and case.cause is not None:
        change = link(case, case.occurrence.cause, case.number)
        if change is not None:
            return f"Do {line(case, case.step)} first: {change}; or make {named} {asked.word} again in between."
        return (
            f"Make {named} {asked.word} again between {line(case, case.cause)} and {line(case, case.step)}, "
            f"or keep {named.them} {asked.word} in {quoted(case.cause.id)}."
        )
    mend = bring_before(case, raisers(case.setting, subject, asked))
    if mend is not None:
        return mend
    way = f"`makes: {{{subject}: {asked.word}}}`"
    if part_of(subject) in ("hands", "body") and asked is Level.STERILE:
        way = f"`dons` or `covers`, with something sterile worn on the {part_of(subject)}"
    lower = "; or lower what the step needs, if that is enough" if _is_written(case) else ""
    return f"Before {line(case, case.step)}, add a step with {way}{lower}."


RULES = (slip_rule("needs-not-met", __doc__, _tell),)
