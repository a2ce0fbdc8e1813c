"""A sharp thing is not thrown into a sharps container, or is still about at the end.

## Why it matters on the floor

A blade in a waste bag or among the drapes finds the hand of whoever clears up, and with it whatever
the patient carries. Each sharp leaves the case in a sharps container, or contained on its way to
reprocessing.

## Example

```yaml
items:
  needle: {title: Hollow needle, sharp: true}
  sharps-box: {title: Sharps box, sharps: true}
phases:
  - phase: clear
    title: Clear the room
    cautions: [{kind: sharps, text: A used needle lies on the tray.}]
    steps:
      - id: drop-needle
        role: scrub
        do: Throw away the used needle.
        discards: [needle]
```

## Instead

```yaml
items:
  needle: {title: Hollow needle, sharp: true}
  sharps-box: {title: Sharps box, sharps: true}
phases:
  - phase: clear
    title: Clear the room
    cautions: [{kind: sharps, text: A used needle lies on the tray.}]
    steps:
      - id: drop-needle
        role: scrub
        do: Drop the used needle into the sharps box.
        discards: {needle: sharps-box}
```

## Limits

How full the container is, whether it stands within reach, and how a blade is passed on is not
looked at. A sharp thing in a pack that nobody opened counts as safe.
"""

from __future__ import annotations

from ..remedies import line
from ..slips import Case, Told, slip_rule
from ..words import at, listed, quoted


def _tell(case: Case) -> Told:
    named, subject = case.naming.thing(case.slip.subject), case.slip.subject
    if case.slip.step is None:
        out = f", out of its pack since step {case.naming.step(case.cause)}" if case.cause is not None else ""
        after = (
            f" after {quoted(case.cause.id)} ({at(case.cause.id.span, case.span.path)})"
            if case.cause is not None
            else ""
        )
        text = f"the protocol ends with {named} neither in a sharps container nor handed over{out}"
        advice = f"Add a step{after} with `discards: {{{subject}: {_container(case)}}}`, or `hands_over: [{subject}]`."
        return Told(case.say(text), advice)
    where = (
        f"into {case.naming.thing(case.slip.by)}, which is no sharps container" if case.slip.by else "into no container"
    )
    text = f"step {case.naming.step(case.step)} throws {named}, which {named.be} sharp, {where}"
    advice = f"Write `discards: {{{subject}: {_container(case)}}}` in {line(case, case.step)}{_declare(case)}."
    return Told(case.say(text), advice)


def _containers(case: Case) -> list[str]:
    return [thing.name.value for thing in case.setting.protocol.subjects.values() if thing.sharps]


def _container(case: Case) -> str:
    return listed(_containers(case), "or") or "sharps-box"


def _declare(case: Case) -> str:
    if _containers(case):
        return ""
    return ", and declare `sharps-box: {title: Sharps box, sharps: true}` under `items`"


RULES = (slip_rule("sharp-loose", __doc__, _tell),)
