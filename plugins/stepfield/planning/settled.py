"""A protocol as it is in one scenario: every choice settled, every question answered, nothing conditional left."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass, replace

from ..language.leaving_out import settled_for_good, without_steps
from ..language.model import Protocol
from .scenarios import done_in, scenarios_of


@dataclass(frozen=True, slots=True)
class Scenarios:
    """The scenarios in which nobody goes back, one for each set of steps that can come to be done.

    ``all`` is false where there were more settlings than were looked at. ``foreseen`` are the steps whose answer some
    step looks at and may be one of several: what is worked out for one scenario takes that answer as known beforehand.
    """

    settled: tuple[Mapping[str, str], ...]
    all: bool
    foreseen: tuple[str, ...]


def scenarios_without_repeats(protocol: Protocol, most: int) -> Scenarios:
    """The scenarios in which no question gets the answer that sends somebody back, of the first ``most`` settlings."""
    back = {(step.id.value, step.repeat.answer.value) for step in protocol.steps if step.repeat is not None}
    onward = (one for one in scenarios_of(protocol) if not back & set(one.items()))
    found: dict[tuple[bool, ...], Mapping[str, str]] = {}
    for settled in itertools.islice(onward, most):
        found.setdefault(tuple(done_in(protocol, settled)), settled)
    names = {step.id.value for step in protocol.steps}
    given: dict[str, set[str]] = {}
    for known in found.values():
        for name in names & known.keys():
            given.setdefault(name, set()).add(known[name])
    foreseen = tuple(sorted(name for name, answers in given.items() if len(answers) > 1))
    return Scenarios(tuple(found.values()), next(onward, None) is None, foreseen)


def in_scenario(protocol: Protocol, settled: Mapping[str, str]) -> Protocol:
    """The protocol without the steps that a scenario passes over, and with no condition and no way back left.

    The order through what is passed over is kept, as it is when the steps are done.
    """
    phases, never = settled_for_good(protocol.phases, settled)
    spans = {step.id.value: step.id.span for step in protocol.steps}
    phases = without_steps(phases, {name: spans[name] for name in spans if name in never})
    plain = tuple(
        replace(phase, steps=tuple(replace(step, when=(), repeat=None) for step in phase.steps)) for phase in phases
    )
    return replace(protocol, phases=plain)
