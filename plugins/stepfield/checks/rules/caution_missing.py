"""A step handles something sharp or hazardous, and no caution of that kind stands before it.

## Why it matters on the floor

A warning helps before the hand moves. Who reads only their own steps must meet it there, in the
step or at the head of its phase, and not three pages earlier.

## Example

```yaml
items:
  scalpel: {title: Scalpel, sharp: true, reusable: true}
phases:
  - phase: operate
    title: Operate
    steps:
      - id: hand-scalpel
        role: scrub
        do: Hand the scalpel to the surgeon.
        passes: {scalpel: surgeon}
      - id: send-scalpel
        role: scrub
        after: [hand-scalpel]
        do: Close the scalpel into the transport box.
        hands_over: [scalpel]
```

## Instead

```yaml
items:
  scalpel: {title: Scalpel, sharp: true, reusable: true}
phases:
  - phase: operate
    title: Operate
    steps:
      - id: hand-scalpel
        role: scrub
        do: Hand the scalpel to the surgeon.
        passes: {scalpel: surgeon}
        cautions: [{kind: sharps, text: Pass it in a tray; say "scalpel" aloud.}]
      - id: send-scalpel
        role: scrub
        after: [hand-scalpel]
        do: Close the scalpel into the transport box.
        hands_over: [scalpel]
```

## Limits

Looked at are the steps that touch, pass or use the thing. Whether the words of the caution fit the
hazard is not judged, nor are hazards that nobody declared.
"""

from __future__ import annotations

from collections.abc import Iterator

from ...language.model import Phase, Step, Subject
from ..facts import Facts
from ..finding import Finding, Severity
from ..rule import Rule
from ..slips import Setting, used_here
from ..words import at, listed, quoted

HANDLING = ("touches", "passes", "uses")


def _check(facts: Facts) -> Iterator[Finding]:
    for examined in facts.examined:
        setting = Setting(examined, facts)
        for phase in setting.protocol.phases:
            for step in phase.steps:
                yield from _of_step(setting, phase, step)


def _of_step(setting: Setting, phase: Phase, step: Step) -> Iterator[Finding]:
    warned = {caution.kind.value for caution in (*step.cautions, *phase.cautions)}
    for effect in step.effects:
        for name in (effect.thing, effect.target) if effect.field in HANDLING else ():
            subject = setting.protocol.subjects.get(name.value) if name is not None else None
            if name is None or subject is None:
                continue
            kinds = [kind for kind in _hazards(subject) if kind not in warned]
            if not kinds:
                continue
            named, kind = setting.naming.thing(name.value), listed(kinds)
            lacks = f"caution of the kind {kind}" if len(kinds) == 1 else f"cautions of the kinds {kind}"
            yield Finding(
                rule="caution-missing",
                severity=Severity.ERROR,
                span=name.span,
                message=f"Step {setting.naming.step(step)} handles {named} with no {lacks} in it or in its phase.",
                protocol=setting.protocol.id,
                step=step.id.value,
                subject=name.value,
                advice=f"Write `cautions: [{{kind: {kinds[0]}, text: …}}]` in {quoted(step.id)} "
                f"({at(step.id.span, name.span.path)}), or in the phase {quoted(phase.id)} if it holds for all of it.",
                related=used_here(step),
            )


def _hazards(subject: Subject) -> list[str]:
    sharp = ["sharps"] if subject.sharp else []
    return list(dict.fromkeys([*sharp, *([subject.hazard] if subject.hazard else [])]))


RULES = (Rule("caution-missing", Severity.ERROR, _check, __doc__),)
