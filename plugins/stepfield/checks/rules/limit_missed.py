"""A step says that it answers a requirement, and does not keep the limit the requirement sets.

## Why it matters on the floor

An antiseptic works in its own time. A scrub that is half as long as the guidance asks looks the same
and leaves on the skin what should be gone; and the page says that the guidance is met.

## Example

```yaml
phases:
  - phase: prepare
    title: Prepare
    steps:
      - id: rub-hands
        role: scrub
        do: Rub your hands with alcohol hand rub until they are dry.
        takes: 10 s
        meets: [hand-rub-time]
```

## Instead

```yaml
phases:
  - phase: prepare
    title: Prepare
    steps:
      - id: rub-hands
        role: scrub
        do: Rub your hands with alcohol hand rub until they are dry.
        takes: {least: 20 s, likely: 30 s, most: 45 s}
        meets: [hand-rub-time]
```

## Limits

A least time is kept if the step takes at least so long, or if the step, or another, waits so long after
it; a longest time if the step takes at most so long, or if it or another has to end within it. Which
of these a requirement means is not known. A drying time that `fire-risk` asks for is told there only.
A limit that is no time, such as a distance, is kept by the value the step writes in `keeps`; whether
the room really looks like that is for people to see.
"""

from __future__ import annotations

from collections.abc import Iterator

from ...language.model import Requirement, Step
from ...language.quantities import TIME, Limit
from ...language.source import Text
from ..clocks import time_of
from ..facts import Examined, Facts
from ..finding import Finding, Severity
from ..rule import Rule
from ..slips import Setting
from ..words import quoted


def _check(facts: Facts) -> Iterator[Finding]:
    known = {one.id.value: one for one in facts.protocol_set.requirements}
    for examined in facts.examined:
        setting = Setting(examined, facts)
        told = _told_as_fire_risk(examined)
        for step in examined.protocol.steps:
            for name in step.meets:
                limit = known[name.value].limit if name.value in known and name.value not in told else None
                if limit is None:
                    continue
                if limit.dimension == TIME:
                    yield from _timed(setting, step, name, known[name.value])
                else:
                    yield from _valued(setting, step, name, limit)


def _told_as_fire_risk(examined: Examined) -> set[str]:
    """The requirements whose drying time some `fire-risk` already asks for: one slip is one finding."""
    occurrences = examined.proof.occurrences if examined.proof is not None else ()
    used = {one.slip.by for one in occurrences if one.slip.kind == "fire-risk"}
    return {name.value for step in examined.protocol.steps if step.id.value in used for name in step.meets}


def _timed(setting: Setting, step: Step, name: Text, requirement: Requirement) -> Iterator[Finding]:
    steps = setting.protocol.steps
    if requirement.at_least is not None:
        told = [
            *([("takes", step.takes.least)] if step.takes is not None else []),
            *(("waits", wait.seconds) for wait in step.waits),
            *(("is waited for", wait.seconds) for other in steps for wait in other.waits if _is(wait.step, step)),
        ]
        if not any(seconds >= requirement.at_least for _, seconds in told):
            yield _finding(setting, step, name, f"at least {time_of(requirement.at_least)}", told)
    if requirement.at_most is not None:
        told = [
            *([("takes up to", step.takes.most)] if step.takes is not None else []),
            *(("has to end within", wait.seconds) for wait in step.within),
            *(("bounds another to", wait.seconds) for other in steps for wait in other.within if _is(wait.step, step)),
        ]
        if not any(seconds <= requirement.at_most for _, seconds in told):
            yield _finding(setting, step, name, f"at most {time_of(requirement.at_most)}", told)


def _valued(setting: Setting, step: Step, name: Text, limit: Limit) -> Iterator[Finding]:
    """A limit that is no time, against the value that the step says it keeps."""
    kept = next((one for one in step.keeps if one.requirement.value == name.value), None)
    if kept is not None and kept.amount.dimension == limit.dimension and limit.is_kept_by(kept.amount):
        return
    if kept is None:
        says = f"the step says no {limit.dimension}"
    elif kept.amount.dimension == limit.dimension:
        says = f"the step keeps {kept.amount}"
    else:
        says = f"the step keeps {kept.amount}, which is {kept.amount.dimension} and not {limit.dimension}"
    bound = limit.at_least or limit.at_most
    yield Finding(
        rule="limit-missed",
        severity=Severity.ERROR,
        span=name.span if kept is None else kept.span,
        message=f"Step {setting.naming.step(step)} meets {quoted(name)}, which asks for {limit}; {says}.",
        protocol=setting.protocol.id,
        step=step.id.value,
        subject=name.value,
        advice=f"Write the value that holds in {quoted(step.id)}, such as `keeps: {{{name}: {bound}}}`, "
        "or take the requirement out of `meets` and say in the evidence why.",
    )


def _is(name: Text, step: Step) -> bool:
    return name.value == step.id.value


def _finding(setting: Setting, step: Step, name: Text, asked: str, told: list[tuple[str, float]]) -> Finding:
    says = " and ".join(f"{word} {time_of(seconds)}" for word, seconds in told) or "says no time"
    kept = asked.removeprefix("at least ").removeprefix("at most ")
    write = f"least: {kept}" if asked.startswith("at least") else f"most: {kept}"
    return Finding(
        rule="limit-missed",
        severity=Severity.ERROR,
        span=name.span,
        message=f"Step {setting.naming.step(step)} meets {quoted(name)}, which asks for {asked}; the step {says}.",
        protocol=setting.protocol.id,
        step=step.id.value,
        subject=name.value,
        advice=f"Write the time in {quoted(step.id)}, for instance with `{write}` in its `takes`, "
        "or take the requirement out of `meets` and say in the evidence why.",
    )


RULES = (Rule("limit-missed", Severity.ERROR, _check, __doc__),)
