"""Taking steps out of a protocol so that the order through them is kept, and settling choices for good."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

from .model import Choice, Condition, Phase, Repeat, Step
from .source import Span, Text

Where = Mapping[str, Span]


def without_steps(phases: tuple[Phase, ...], gone: Where) -> tuple[Phase, ...]:
    """The phases without some steps; each of these comes with the place that says so.

    Whoever came after a step that is gone, in its lanes or by name, now comes after what that step came after. Waits
    that count from it go; going back to it becomes going back to the step behind it. A phase left with no step goes.
    """
    for name, span in gone.items():
        phases = _without(phases, name, span)
    return tuple(phase for phase in phases if phase.steps)


def settled_for_good(phases: tuple[Phase, ...], settled: Mapping[str, str]) -> tuple[tuple[Phase, ...], frozenset[str]]:
    """The phases without the conditions that settled choices meet, and the names of the steps that are never done.

    A step that asks and is never done gets no answer, so the steps that want one are never done either.
    """
    never: set[str] = set()
    steps = [step for phase in phases for step in phase.steps]
    while True:
        more = {step.id.value for step in steps if any(_fails(part, settled, never) for part in step.when)} - never
        if not more:
            break
        never |= more
    kept = tuple(replace(phase, steps=tuple(_freed(step, settled) for step in phase.steps)) for phase in phases)
    return kept, frozenset(never)


def can_be_settled(phases: Iterable[Phase], choice: Choice) -> bool:
    """Whether every condition on a choice names options that it has: else a slip would be hidden."""
    known = {option.value for option, _ in choice.options}
    conditions = (part for phase in phases for step in phase.steps for part in step.when)
    return all(
        option.value in known for part in conditions if part.name.value == choice.id.value for option in part.options
    )


def people_of(step: Step) -> set[str]:
    """The roles that do a step."""
    return {role.value for role in (step.role, *step.helpers) if role is not None}


def depends_on(step: Step, name: str) -> bool:
    """Whether a step is done only at some answer of another."""
    return any(part.name.value == name for part in step.when)


def counts_from(step: Step, name: str) -> bool:
    """Whether a step must wait, or be done, so long after another."""
    return any(wait.step.value == name for wait in (*step.waits, *step.within))


def _fails(part: Condition, settled: Mapping[str, str], never: set[str]) -> bool:
    if part.name.value in never:
        return True
    return part.name.value in settled and settled[part.name.value] not in {option.value for option in part.options}


def _freed(step: Step, settled: Mapping[str, str]) -> Step:
    return replace(step, when=tuple(part for part in step.when if part.name.value not in settled))


def _without(phases: tuple[Phase, ...], name: str, span: Span) -> tuple[Phase, ...]:
    lane = next((phase.steps for phase in phases for step in phase.steps if step.id.value == name), ())
    place = next((number for number, step in enumerate(lane) if step.id.value == name), None)
    if place is None:
        return phases
    gone = lane[place]
    uses = {name[:end] for end, sign in enumerate(name) if sign == "."}
    before, behind = lane[:place], lane[place + 1 :]
    earlier = (*gone.after, *(Text(found, span) for found in _nearest(reversed(before), gone)))
    followers = set(_nearest(behind, gone))
    kept = []
    for phase in phases:
        steps = (step for step in phase.steps if step is not gone)
        kept.append(
            replace(phase, steps=tuple(_freed_of(step, name, uses, earlier, followers, behind) for step in steps))
        )
    return tuple(kept)


def _nearest(steps: Iterable[Step], gone: Step) -> Iterator[str]:
    """For each of the step's people the first of these steps that they do."""
    missing = people_of(gone)
    for step in steps:
        if missing & people_of(step):
            missing -= people_of(step)
            yield step.id.value


def _freed_of(
    step: Step, name: str, uses: set[str], earlier: tuple[Text, ...], followers: set[str], behind: tuple[Step, ...]
) -> Step:
    """The step, no longer after the one that is gone but after what that one came after."""
    named = {wait.step.value for wait in (*step.waits, *step.within)} | {after.value for after in step.after}
    named |= {step.repeat.start.value} if step.repeat is not None else set()
    if name not in named and not uses & named and step.id.value not in followers:
        return step
    after = [one for one in step.after if one.value != name]
    known = {step.id.value, *(one.value for one in after)}
    for one in earlier:
        if one.value not in known:
            known.add(one.value)
            after.append(one)
    return replace(
        step,
        after=tuple(after),
        waits=tuple(wait for wait in step.waits if wait.step.value != name),
        within=tuple(wait for wait in step.within if wait.step.value != name),
        repeat=_repeat(step, name, behind),
    )


def _repeat(step: Step, name: str, behind: tuple[Step, ...]) -> Repeat | None:
    if step.repeat is None or step.repeat.start.value != name:
        return step.repeat
    lane = [one for one in behind if step.role is not None and step.role.value in people_of(one)]
    start = lane[0].id.value if lane else step.id.value
    return replace(step.repeat, start=Text(start, step.repeat.start.span))
