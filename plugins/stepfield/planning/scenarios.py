"""The scenarios of a protocol: settlings of the choices and answers that steps look at, and what is done in each."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping

from ..language.model import Protocol, Step
from ..language.source import Text


def settled_by(protocol: Protocol) -> dict[str, tuple[str, ...]]:
    """The choices and questions that some step looks at, each with its options or answers in written order."""
    looked_at = {condition.name.value for step in protocol.steps for condition in step.when}
    options = {
        one.id.value: tuple(option.value for option, _ in one.options)
        for one in protocol.choices
        if one.id.value in looked_at
    }
    for step in protocol.steps:
        if step.id.value in looked_at and step.asks is not None:
            options[step.id.value] = tuple(answer.value for answer in step.asks.answers)
    return options


def scenarios_of(protocol: Protocol) -> Iterator[dict[str, str]]:
    """Every settling of the choices and answers that some step looks at, in written order."""
    options = settled_by(protocol)
    for values in itertools.product(*options.values()):
        yield dict(zip(options, values, strict=True))


def usual_scenario(protocol: Protocol, settled: Mapping[str, str] | None = None) -> dict[str, str]:
    """Every choice as first written, and every question with the first answer that sends nobody back.

    What ``settled`` names is settled so.
    """
    back = {(step.id.value, step.repeat.answer.value) for step in protocol.steps if step.repeat is not None}
    known = settled or {}
    return {
        name: known.get(name) or next((option for option in options if (name, option) not in back), options[0])
        for name, options in settled_by(protocol).items()
    }


def done_in(protocol: Protocol, scenario: Mapping[str, str]) -> list[bool]:
    """For each step whether it is done; a step that looks at the answer of one that is not done is not done either."""
    steps = {step.id.value: step for step in protocol.steps}
    known: dict[str, bool] = {}

    def is_done(step: Step) -> bool:
        name = step.id.value
        if name not in known:
            known[name] = False  # a step that looks at its own answer is an error told elsewhere; it is never done
            known[name] = all(holds(condition.name.value, condition.options) for condition in step.when)
        return known[name]

    def holds(name: str, options: tuple[Text, ...]) -> bool:
        if name in scenario and scenario[name] not in {option.value for option in options}:
            return False
        return name not in steps or is_done(steps[name])

    return [is_done(step) for step in protocol.steps]
