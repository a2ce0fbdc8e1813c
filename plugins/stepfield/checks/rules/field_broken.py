"""Something that is not sterile touches the sterile field before the field is given up.

## Why it matters on the floor

From the moment a sterile cover lies in place, a gown is on or the skin is prepared, it is guarded:
only sterile things may meet it. One touch by a bare hand or an outer wrapper ends that, mostly
without anybody seeing it, and what lies on the field goes into the wound.

## Example

```yaml
sites:
  palm: {title: Skin of the palm}
phases:
  - phase: prepare
    title: Prepare the hand
    steps:
      - id: paint-palm
        role: scrub
        do: Paint the palm with antiseptic, from the middle outwards.
        makes: {palm: disinfected}
      - id: mark-cut
        role: surgeon
        do: Draw the line of the cut on the palm.
        touches: [palm]
```

## Instead

```yaml
sites:
  palm: {title: Skin of the palm}
phases:
  - phase: prepare
    title: Prepare the hand
    steps:
      - id: paint-palm
        role: scrub
        after: [mark-cut]
        do: Paint the palm with antiseptic, from the middle outwards.
        makes: {palm: disinfected}
      - id: mark-cut
        role: surgeon
        do: Draw the line of the cut on the palm.
        touches: [palm]
```

## Limits

Only contact breaks the field here. Reaching over it, turning one's back to it, drafts and the time
it stands open are not seen. What a step does knowingly (`contaminates`, `wets`) is told where the
thing is needed or touched next. After `ends_field` nothing is guarded any more.
"""

from __future__ import annotations

from ...asepsis import World
from ...language.model import Step
from ..remedies import line, link
from ..slips import Case, Told, slip_rule


def _tell(case: Case) -> Told:
    slip = case.slip
    if slip.have is None or slip.asked is None or slip.by is None:
        raise ValueError("a contact names two things and two levels")
    member, other = case.naming.thing(slip.subject), case.naming.thing(slip.by)
    joined, fell = _since_in_field(case), _since_low(case)
    low = f"only {slip.asked.word}" + (f" since '{fell.id}'" if fell is not None else "")
    high = f"{slip.have.word} and part of the field" + (f" since '{joined.id}'" if joined is not None else "")
    text = f"step {case.naming.step(case.step)} brings {other}, {low}, to {member}, which {member.be} {high}"
    return Told(case.say(text), _advice(case, joined))


def _since_in_field(case: Case) -> Step | None:
    subject = case.graph.number[case.slip.subject]
    return case.since(lambda world: world.in_field(world.outside(subject)))


def _since_low(case: Case) -> Step | None:
    other = case.graph.number[case.slip.by or case.slip.subject]

    def is_low(world: World) -> bool:
        return world.touch_level(world.outside(other)) == case.slip.asked

    return case.since(is_low) if case.moments and is_low(World(case.graph, case.moments[-1].before)) else None


def _advice(case: Case, joined: Step | None) -> str:
    setting = case.setting
    member, other = case.naming.short(case.slip.subject), case.naming.short(case.slip.by or "")
    if joined is not None:
        change = link(case, setting.steps.index(joined), case.number)
        if change is not None:
            return f"Do {line(case, case.step)} before {member} becomes part of the field: {change}."
    for end in setting.steps_where(lambda step: step.ends_field):
        change = link(case, case.number, end)
        if change is not None:
            return f"Do {line(case, case.step)} when the field has been given up: {change}."
    have = case.slip.have.word if case.slip.have is not None else "sterile"
    return (
        f"Let only {have} things meet {member}: have {other} {have} before {line(case, case.step)}, "
        "leave the contact out, or, if the field is no longer used, give it up first (`ends_field: true`)."
    )


RULES = (slip_rule("field-broken", __doc__, _tell),)
