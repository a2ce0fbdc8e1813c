"""Steps wait for each other in a circle, so that none of them can ever begin.

## Why it matters on the floor

Two people stand and wait for one another, or one of them gives up the order that protected the
patient. A loop is always a slip of the text.

## Example

```yaml
phases:
  - phase: room
    title: Prepare the room
    steps:
      - id: open-cover
        role: circulating
        after: [wipe-table]
        do: Open the cover.
      - id: fetch-wipes
        role: circulating
        do: Fetch disinfectant wipes for the scrub nurse.
      - id: wipe-table
        role: scrub
        after: [fetch-wipes]
        do: Wipe the table.
```

## Instead

```yaml
phases:
  - phase: room
    title: Prepare the room
    steps:
      - id: fetch-wipes
        role: circulating
        do: Fetch disinfectant wipes for the scrub nurse.
      - id: open-cover
        role: circulating
        after: [wipe-table]
        do: Open the cover.
      - id: wipe-table
        role: scrub
        after: [fetch-wipes]
        do: Wipe the table.
```

## Limits

One loop is told for each knot of steps: the shortest. Another one may show when it is undone. A
`repeat` is no loop. Parts that use each other in a circle are told here too.
"""

from __future__ import annotations

from collections.abc import Iterator

from ...asepsis import Link
from ..facts import Facts
from ..finding import Finding, Note, Severity
from ..problems import from_problems
from ..rule import Rule
from ..slips import Setting, used_here
from ..words import at, quoted


def _check(facts: Facts) -> Iterator[Finding]:
    yield from from_problems(facts, "order-loop")
    for examined in facts.examined:
        setting = Setting(examined, facts)
        for loop in examined.order.loops:
            yield _finding(setting, loop)


def _finding(setting: Setting, loop: tuple[Link, ...]) -> Finding:
    last = min((link for link in loop if link.why == "after"), key=lambda link: link.later)
    place = loop.index(last)
    chain = (*loop[place + 1 :], *loop[: place + 1])
    step, other = setting.steps[last.later], setting.steps[last.earlier]
    span = next((name.span for name in step.after if name.value == other.id.value), step.id.span)
    if last.earlier == last.later:
        message = f"Step {quoted(step.id)} waits for itself."
    else:
        way = ", then ".join([quoted(step.id), *(_link(setting, link) for link in chain[:-1])])
        message = (
            f"These steps wait for each other in a circle: {way}, then {quoted(step.id)} again ({_why(setting, last)})."
        )
    return Finding(
        rule="order-loop",
        severity=Severity.ERROR,
        span=span,
        message=message,
        protocol=setting.protocol.id,
        step=step.id.value,
        advice=_advice(setting, last, chain, span.path),
        related=(
            *(Note(setting.steps[link.later].id.span, _link(setting, link)) for link in chain[:-1]),
            *used_here(step),
        ),
    )


def _link(setting: Setting, link: Link) -> str:
    step = setting.steps[link.later]
    return f"{quoted(step.id)} ({_why(setting, link)})"


def _why(setting: Setting, link: Link) -> str:
    earlier, later = setting.steps[link.earlier].id, setting.steps[link.later].id
    if link.why == "lane":
        return f"same person, {setting.naming.role(link.role)}"
    if link.why == "phase":
        return "a later phase"
    return f"{quoted(later)} says after: {earlier}"


def _advice(setting: Setting, last: Link, chain: tuple[Link, ...], path: str) -> str:
    step, other = setting.steps[last.later], setting.steps[last.earlier]
    text = f"Take {quoted(other.id)} out of the `after` of {quoted(step.id)} ({at(step.id.span, path)})"
    lanes = [link for link in chain if link.why == "lane"]
    if lanes:
        first, second = setting.steps[lanes[0].earlier], setting.steps[lanes[0].later]
        return f"{text}, or write {quoted(second.id)} ({at(second.id.span, path)}) above {quoted(first.id)}."
    if any(link.why == "phase" for link in chain):
        return f"{text}, or move one of the two to the other's phase."
    return f"{text}, or undo another of these waits." if len(chain) > 1 else f"{text}."


RULES = (Rule("order-loop", Severity.ERROR, _check, __doc__),)
