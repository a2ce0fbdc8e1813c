"""No choice and no answer ever leads to a step.

## Why it matters on the floor

A step that cannot happen reads like a safeguard and is none. Mostly two conditions exclude each
other, or an option was renamed in one place only.

## Example

```yaml
choices:
  closing:
    title: Closing
    options: {stitches: Stitches, strips: Strips}
phases:
  - phase: close
    title: Close
    steps:
      - id: check-edges
        role: scrub
        when: {closing: stitches}
        do: Look whether the edges meet.
        asks: {question: Do the edges meet?, answers: [meet, gape]}
      - id: add-strip
        role: scrub
        when: {closing: strips, check-edges: gape}
        do: Add a strip.
```

## Instead

```yaml
choices:
  closing:
    title: Closing
    options: {stitches: Stitches, strips: Strips}
phases:
  - phase: close
    title: Close
    steps:
      - id: check-edges
        role: scrub
        do: Look whether the edges meet.
        asks: {question: Do the edges meet?, answers: [meet, gape]}
      - id: add-strip
        role: scrub
        when: {closing: strips, check-edges: gape}
        do: Add a strip.
```

## Limits

Told only when every order was explored. Steps that hang on a step which is never reached itself are
named with it, not told again.
"""

from __future__ import annotations

from collections.abc import Iterator

from ...language.model import Step
from ...language.source import Span
from ..facts import Facts
from ..finding import Finding, Severity
from ..remedies import when_text
from ..rule import Rule
from ..slips import Setting, used_here
from ..words import at, listed, quoted
from .asked_later import asked_too_late


def _check(facts: Facts) -> Iterator[Finding]:
    for examined in facts.examined:
        never = examined.proof.never if examined.proof is not None else ()
        setting = Setting(examined, facts)
        roots = list(_roots(setting, [setting.steps[number] for number in never]))
        for step, followers in roots:
            yield _finding(setting, step, followers)


def _roots(setting: Setting, never: list[Step]) -> Iterator[tuple[Step, list[Step]]]:
    """The steps nothing reaches for a reason of their own, each with those that hang on it or share its condition."""
    late = {step.id.value for step, _ in asked_too_late(setting)}
    names = {step.id.value for step in never}
    roots = [step for step in never if step.id.value not in late and not _questions(step) & names]
    told: dict[frozenset[Span], tuple[Step, list[Step]]] = {}
    for step in roots:
        conditions = _conditions(step)
        same = next((first for first in told if first and first <= conditions), None)
        if same is None:
            told[conditions or frozenset([step.id.span])] = (step, [])
        else:
            told[same][1].append(step)
    for step, alike in told.values():
        group = {one.id.value for one in (step, *alike)}
        hanging = [one for one in never if _questions(one) & group and one.id.value not in group]
        yield step, [*alike, *hanging]


def _conditions(step: Step) -> frozenset[Span]:
    return frozenset(condition.name.span for condition in step.when)


def _questions(step: Step) -> set[str]:
    return {condition.name.value for condition in step.when}


def _finding(setting: Setting, step: Step, followers: list[Step]) -> Finding:
    span, reason = _reason(setting, step)
    verb = "nor is" if len(followers) == 1 else "nor are"
    also = f"; {verb} {listed([quoted(one.id) for one in followers])}" if followers else ""
    return Finding(
        rule="never-reached",
        severity=Severity.ERROR,
        span=span,
        message=f"Step {setting.naming.step(step)} is never reached: {reason}{also}.",
        protocol=setting.protocol.id,
        step=step.id.value,
        advice=f"Change the `when` ({at(span, span.path)}) so that a choice or an answer leads to {quoted(step.id)}, "
        "or leave the step out.",
        related=used_here(step),
    )


def _reason(setting: Setting, step: Step) -> tuple[Span, str]:
    """Where and why nothing leads to a step; its own conditions stand after those of the use it came through."""
    by_id = {one.id.value: one for one in setting.steps}
    names = [condition.name.value for condition in step.when]
    for condition in reversed(step.when):
        name, span = condition.name.value, condition.name.span
        if names.count(name) > 1:
            both = [one for one in step.when if one.name.value == name]
            return span, f"it asks for {when_text(both)}, which exclude each other"
        asking = by_id.get(name)
        if asking is None:
            continue
        repeat = asking.repeat
        if repeat is not None and {option.value for option in condition.options} == {repeat.answer.value}:
            return span, f"at the answer {quoted(repeat.answer)}, {quoted(name)} goes back to {quoted(repeat.start)}"
        if asking.when:
            return span, f"{quoted(name)} is asked only when {when_text(asking.when)}"
    if not step.when:
        return step.id.span, "the steps before it never come to an end"
    return step.when[-1].name.span, f"no choice and no answer meets {when_text(step.when)}"


RULES = (Rule("never-reached", Severity.ERROR, _check, __doc__),)
