"""A step depends on an answer that may not have been given when its turn comes.

## Why it matters on the floor

Nobody can act on a question that has not been asked. In the room the step is then done on a guess,
or left out.

## Example

```yaml
phases:
  - phase: start
    title: Start
    steps:
      - id: ask-allergy
        role: circulating
        do: Ask about allergies.
        asks: {question: Allergic to iodine?, answers: [allergic, not-allergic]}
      - id: fetch-other-paint
        role: scrub
        when: {ask-allergy: allergic}
        do: Fetch the antiseptic without iodine.
```

## Instead

```yaml
phases:
  - phase: start
    title: Start
    steps:
      - id: ask-allergy
        role: circulating
        do: Ask about allergies.
        asks: {question: Allergic to iodine?, answers: [allergic, not-allergic]}
      - id: fetch-other-paint
        role: scrub
        after: [ask-allergy]
        when: {ask-allergy: allergic}
        do: Fetch the antiseptic without iodine.
```

## Limits

The question has to come before the step in every order. A question that is itself skipped at times
is no slip: the step is then skipped too.
"""

from __future__ import annotations

from collections.abc import Iterator

from ...asepsis import bits
from ...language.model import Condition, Step
from ..facts import Facts
from ..finding import Finding, Note, Severity
from ..remedies import wait_for
from ..rule import Rule
from ..slips import Setting, used_here
from ..words import at, listed, quoted


def _check(facts: Facts) -> Iterator[Finding]:
    for examined in facts.examined:
        setting = Setting(examined, facts)
        for step, condition in asked_too_late(setting):
            yield _finding(setting, step, condition)


def asked_too_late(setting: Setting) -> Iterator[tuple[Step, Condition]]:
    """Steps with a condition on a question that need not come before them; none while steps wait in a loop."""
    if setting.order.loops:
        return
    index = {step.id.value: number for number, step in enumerate(setting.steps)}
    choices = {choice.id.value for choice in setting.protocol.choices}
    for number, step in enumerate(setting.steps):
        for condition in step.when:
            asking = index.get(condition.name.value)
            if asking is None or condition.name.value in choices:
                continue
            if not setting.comes_before(asking, number):
                yield step, condition


def _finding(setting: Setting, step: Step, condition: Condition) -> Finding:
    number, asking = (
        setting.steps.index(step),
        next(position for position, one in enumerate(setting.steps) if one.id.value == condition.name.value),
    )
    question, path = setting.steps[asking], condition.name.span.path
    if asking == number:
        message = f"Step {quoted(step.id)} depends on its own answer."
        advice = f"Ask in a step of its own before {quoted(step.id)} ({at(step.id.span, path)})."
    elif setting.comes_before(number, asking):
        way = _way(setting, number, asking)
        message = f"Step {setting.naming.step(step)} depends on {quoted(question.id)}, which comes later: {way}."
        place = at(question.id.span, path)
        advice = f"Move {quoted(question.id)} ({place}) to before {quoted(step.id)}, or drop the condition."
    else:
        message = (
            f"Step {setting.naming.step(step)} depends on the answer at {setting.naming.step(question)}, "
            "but nothing makes it wait for that."
        )
        change = wait_for(setting, number, asking, path)
        advice = (
            f"To wait for the answer, {change}."
            if change
            else f"Move {quoted(question.id)} to before the part is used."
        )
    return Finding(
        rule="asked-later",
        severity=Severity.ERROR,
        span=condition.name.span,
        message=message,
        protocol=setting.protocol.id,
        step=step.id.value,
        subject=condition.name.value,
        advice=advice,
        related=(Note(question.id.span, "asked here"), *used_here(step)),
    )


def _way(setting: Setting, start: int, goal: int) -> str:
    """A shortest chain of reasons why one step comes before another."""
    came: dict[int, int] = {}
    edge = [goal]
    while edge and start not in came:
        nearer = []
        for step in edge:
            for earlier in bits(setting.order.before[step]):
                if earlier not in came:
                    came[earlier] = step
                    nearer.append(earlier)
        edge = nearer
    words, at_step = [quoted(setting.steps[start].id)], start
    while at_step != goal:
        words.append(f"{quoted(setting.steps[came[at_step]].id)} ({_reason(setting, at_step, came[at_step])})")
        at_step = came[at_step]
    return listed([", then ".join(words)])


def _reason(setting: Setting, earlier: int, later: int) -> str:
    for link in setting.order.links:
        if (link.earlier, link.later) == (earlier, later):
            if link.why == "lane":
                return f"same person, {setting.naming.role(link.role)}"
            return f"says after: {setting.steps[earlier].id}"
    return "a later phase"


RULES = (Rule("asked-later", Severity.ERROR, _check, __doc__),)
