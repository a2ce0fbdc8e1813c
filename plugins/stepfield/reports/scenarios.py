"""When a finding occurs, in the fewest words: which choices and answers it takes."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from ..checks.words import folded, listed, quoted
from ..language.model import Protocol

MOST = 3
"""How many combinations are written out before the rest is only counted."""


def only_when(scenarios: Sequence[Mapping[str, str]], protocol: Protocol) -> str | None:
    """What must be chosen or answered for a finding to occur; None if it occurs whatever is."""
    if not scenarios:
        return None
    options = {choice.id.value: [option.value for option, _ in choice.options] for choice in protocol.choices}
    keys = list(dict.fromkeys(key for scenario in scenarios for key in scenario))
    values = {key: list(dict.fromkeys(scenario.get(key) for scenario in scenarios)) for key in keys}
    free = all(None not in seen for seen in values.values())
    if free and math.prod(len(seen) for seen in values.values()) == len(scenarios):
        parts = [
            _part(protocol, key, [value for value in seen if value is not None])
            for key, seen in values.items()
            if len(seen) < len(options.get(key, [])) or key not in options
        ]
        return f"only with {listed(parts)}" if parts else None
    told = [listed([_part(protocol, key, [value]) for key, value in scenario.items()]) for scenario in scenarios]
    more = f", or in {len(told) - MOST} more combinations" if len(told) > MOST else ""
    return f"only with {'; or with '.join(told[:MOST])}{more}"


def _part(protocol: Protocol, key: str, values: list[str]) -> str:
    for choice in protocol.choices:
        if choice.id.value == key:
            titles = {option.value: folded(title) for option, title in choice.options}
            return f"{folded(choice.title)}: {listed([titles.get(value, value) for value in values], 'or')}"
    return f"{quoted(key)} answered {listed([quoted(value) for value in values], 'or')}"
