"""The times that a step must not fall short of: what its page counts down."""

from __future__ import annotations

from dataclasses import dataclass

from ..language.model import Step
from .reading import Reading
from .words import length


@dataclass(frozen=True, slots=True)
class Timer:
    """A least time in seconds; ``key`` names it on its page, ``say`` tells whose time it is.

    Timers with one key are one: the time since a step can be started where that step stands and where it is waited
    for. ``plain`` tells that nothing but the plan asks for it.
    """

    key: str
    seconds: float
    time: str
    say: str
    plain: bool


def timers_of(reading: Reading, number: int, role: str) -> tuple[Timer, ...]:
    """The timers of a step on a role's page: its own least time, and the waits that begin or end with it."""
    step = reading.steps[number]
    own = _own(reading, step)
    ending = [_waiting(reading, number, wait.step.value, wait.seconds) for wait in step.waits]
    begun = [
        _waiting(reading, later, step.id.value, seconds)
        for later, seconds in reading.counted_from.get(step.id.value, ())
        if later != number and role in reading.people(reading.steps[later])
    ]
    return tuple(dict.fromkeys(timer for timer in (own, *ending, *begun) if timer is not None and timer.seconds >= 1))


def _own(reading: Reading, step: Step) -> Timer | None:
    met = [reading.requirement[name.value] for name in step.meets if name.value in reading.requirement]
    asked = [requirement.at_least for requirement in met if requirement.at_least is not None]
    before = [wait.seconds for wait in step.waits]
    waited = max((*before, *(seconds for _, seconds in reading.counted_from.get(step.id.value, ()))), default=0.0)
    planned = step.takes.least if step.takes is not None else 0.0
    # A limit that a wait keeps is counted with the wait.
    required = max((seconds for seconds in asked if seconds > waited or seconds <= planned), default=0.0)
    seconds = max(planned, required)
    if not seconds:
        return None
    say = reading.speech.say("This step takes at least %(time)s.", time=length(seconds, reading.speech))
    return Timer(step.id.value, seconds, length(seconds, reading.speech), say, plain=not required)


def _waiting(reading: Reading, number: int, since: str, seconds: float) -> Timer | None:
    earlier = reading.index.get(since)
    if earlier is None:
        return None
    say = reading.speech.say(
        "At least %(time)s pass between the end of step %(earlier)s and the start of step %(later)s.",
        time=length(seconds, reading.speech), earlier=earlier + 1, later=number + 1,
    )  # fmt: skip
    key = f"{reading.steps[number].id.value} {since}"
    return Timer(key, seconds, length(seconds, reading.speech), say, plain=False)
