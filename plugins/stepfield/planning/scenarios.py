"""The scenarios of a protocol: settlings of the choices and answers that steps look at, and what is done in each."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping

from ..language.model import Protocol, Step


def scenarios_of(protocol: Protocol) -> Iterator[dict[str, str]]:
    """Every settling of the choices and answers that some step looks at, in written order."""
    looked_at = {condition.name.value for step in protocol.steps for condition in step.when}
    options = {
        one.id.value: [option.value for option, _ in one.options]
        for one in protocol.choices
        if one.id.value in looked_at
    }
    for step in protocol.steps:
        if step.id.value in looked_at and step.asks is not None:
            options[step.id.value] = [answer.value for answer in step.asks.answers]
    for values in itertools.product(*options.values()):
        yield dict(zip(options, values, strict=True))


def done_in(protocol: Protocol, scenario: Mapping[str, str]) -> list[bool]:
    """For each step whether it is done; a step that looks at the answer of one that is not done is not done either."""
    steps = {step.id.value: step for step in protocol.steps}

    def is_done(step: Step) -> bool:
        for condition in step.when:
            name = condition.name.value
            if name in scenario and scenario[name] not in {option.value for option in condition.options}:
                return False
            if name in steps and not is_done(steps[name]):
                return False
        return True

    return [is_done(step) for step in protocol.steps]
