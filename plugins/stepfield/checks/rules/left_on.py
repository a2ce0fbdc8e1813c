"""The protocol can end with something still worn, or with a cover still in place.

## Why it matters on the floor

Gloves and gowns that are kept on carry the case into the corridor; a drape that nobody takes away
lies on the patient, or under the next one. What is put on in a protocol is taken off in it.

## Example

```yaml
items:
  apron: {title: Plastic apron, starts: clean, worn_on: body}
phases:
  - phase: clear
    title: Clear the room
    steps:
      - id: put-on-apron
        role: circulating
        do: Put on a plastic apron.
        dons: [apron]
      - id: sort-waste
        role: circulating
        do: Sort the waste into its bags.
```

## Instead

```yaml
items:
  apron: {title: Plastic apron, starts: clean, worn_on: body}
phases:
  - phase: clear
    title: Clear the room
    steps:
      - id: put-on-apron
        role: circulating
        do: Put on a plastic apron.
        dons: [apron]
      - id: sort-waste
        role: circulating
        do: Sort the waste into its bags.
      - id: take-off-apron
        role: circulating
        do: Roll the apron up from the inside and throw it away.
        doffs: [apron]
        discards: [apron]
```

## Limits

A dressing that stays on the patient is not a cover in this sense: say `uses: {dressing: wound}` for
it. Throwing away a thing that is still worn does not take it off: `doffs` or `uncovers` comes
first.
"""

from __future__ import annotations

from ...language.model import Step
from ..remedies import steps_with
from ..slips import Case, Told, slip_rule
from ..words import at, listed, part_of, quoted


def _tell(case: Case) -> Told:
    named, by = case.naming.thing(case.slip.subject), case.slip.by or ""
    if part_of(by) is not None:
        text = f"the protocol ends with {named} still on {case.naming.thing(by)}"
    else:
        text = f"the protocol ends with {named} still covered by {case.naming.thing(by)}"
    since = f", since step {case.naming.step(case.cause)}" if case.cause is not None else ""
    return Told(case.say(text + since), _advice(case, by))


def _advice(case: Case, by: str) -> str:
    worn = part_of(by) is not None
    place = by if worn else case.slip.subject
    off = [case.setting.steps[number] for number in _taking_off(case, place)]
    after = (
        f" after {quoted(case.cause.id)} ({at(case.cause.id.span, case.span.path)})" if case.cause is not None else ""
    )
    if off:
        names = listed([_line(case, step) for step in off], "or")
        return f"Not every order ends with it off, though {names} takes it off: do that in every case{after}."
    way = f"`doffs: [{case.slip.subject}]`" if worn else f"`uncovers: [{place}]`"
    return f"Add a step{after} with {way}; then `discards` or `hands_over` what came off."


def _taking_off(case: Case, place: str) -> tuple[int, ...]:
    return steps_with(case.setting, "doffs", case.slip.subject) + steps_with(case.setting, "uncovers", place)


def _line(case: Case, step: Step) -> str:
    return f"{quoted(step.id)} ({at(step.id.span, case.span.path)})"


RULES = (slip_rule("left-on", __doc__, _tell),)
