"""A step belongs to nobody, or to a role that the clinic or the team does not have.

## Why it matters on the floor

What everybody could do, nobody does. Each step has one owner; who helps stands under `with`.

## Example

```yaml
team: [scrub, circulating]
phases:
  - phase: room
    title: Prepare the room
    steps:
      - id: close-doors
        do: Close the doors of the room.
```

## Instead

```yaml
team: [scrub, circulating]
phases:
  - phase: room
    title: Prepare the room
    steps:
      - id: close-doors
        role: circulating
        do: Close the doors of the room.
```

## Limits

A role is one person here. Two people who share a role are not told apart, and whether anybody fills
the role on the day is for the roster.
"""

from __future__ import annotations

from collections.abc import Iterator

from ...language.model import Step
from ..facts import Facts
from ..finding import Finding, Note, Severity
from ..one_person import person_of
from ..rule import Rule
from ..slips import Setting, used_here
from ..words import at, listed, quoted


def _check(facts: Facts) -> Iterator[Finding]:
    clinic = facts.protocol_set.clinic
    for examined in facts.examined:
        setting = Setting(examined, facts)
        team = [role.value for role in setting.protocol.team]
        known = team if clinic is None else [role.id.value for role in clinic.roles]
        told = _told_of_team(facts, setting.protocol.id)
        for step in setting.steps:
            role = None if step.role is None else step.role.value
            if (role is None or role not in team or role not in known) and role not in told:
                yield _finding(setting, step, team, known)
            elif role is not None:
                yield from _alone(setting, step, role)


def _alone(setting: Setting, step: Step, role: str) -> Iterator[Finding]:
    """Where a step takes two people at one moment, and here one person is both."""
    person = person_of(setting.protocol, role)
    mine = {one.value for one in person.roles} if person is not None else set()
    helper = next((one for one in step.helpers if one.value in mine), None)
    if person is None or helper is None:
        return
    both = f"{setting.naming.role(role)} and {setting.naming.role(helper.value)}"
    yield Finding(
        rule="no-owner",
        severity=Severity.ERROR,
        span=step.id.span,
        message=f"Step {quoted(step.id)} takes {both} at the same moment, and here one person is both.",
        protocol=setting.protocol.id,
        step=step.id.value,
        subject=helper.value,
        advice=f"Give one of the two roles to somebody else under `people` "
        f"({at(person.id.span, step.id.span.path)}), or have the step done by one.",
        related=(Note(person.id.span, "one person has these roles"), *used_here(step)),
    )


def _told_of_team(facts: Facts, protocol: str) -> set[str | None]:
    """Roles that the team names and the clinic lacks: that is told once, at the team."""
    problems = facts.protocol_set.problems
    return {
        problem.subject
        for problem in problems
        if problem.rule == "unknown-name" and problem.protocol == protocol and problem.step is None and problem.subject
    }


def _finding(setting: Setting, step: Step, team: list[str], known: list[str]) -> Finding:
    from difflib import get_close_matches

    path, members = step.id.span.path, [quoted(role) for role in team]
    names = listed(members, "or", 8)
    if step.role is None:
        message = f"Step {quoted(step.id)} has no role: nobody owns it."
        advice = f"Write `role:` with one of the team in {quoted(step.id)} ({at(step.id.span, path)}): {names}."
    else:
        role = step.role.value
        lacks = "the team does not have" if role in known else "the clinic does not have"
        message = f"Step {quoted(step.id)} belongs to the role {quoted(role)}, which {lacks}."
        near = get_close_matches(role, team, n=1)
        advice = f"The team has {listed(members, 'and', 8)}."
        if near:
            advice = f"Write {quoted(near[0])} if that is meant, or another one of the team: {names}."
        if role in known:
            advice += f" Or add {quoted(role)} to `team`."
    return Finding(
        rule="no-owner",
        severity=Severity.ERROR,
        span=step.id.span if step.role is None else step.role.span,
        message=message,
        protocol=setting.protocol.id,
        step=step.id.value,
        subject=None if step.role is None else step.role.value,
        advice=advice,
        related=used_here(step),
    )


RULES = (Rule("no-owner", Severity.ERROR, _check, __doc__),)
