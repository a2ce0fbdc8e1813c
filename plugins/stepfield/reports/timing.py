"""How long a protocol takes, in words: the total and its spread, what decides it, who is busy, what stands open."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from ..asepsis import Order
from ..checks.clocks import time_of
from ..checks.words import Naming, folded
from ..language.model import Clinic, Protocol
from ..planning.scenarios import done_in
from ..planning.schedule import Schedule, open_times, schedule, spread
from .terminal import harmless

RUNS = 1000
"""How often durations are drawn for the spread."""
SEED = 1


def timing_text(protocol: Protocol, order: Order, clinic: Clinic | None, scenario: Mapping[str, str]) -> str:
    """The times of one scenario."""
    return "\n".join(harmless(line) for line in _lines(protocol, order, clinic, scenario)) + "\n"


def _lines(protocol: Protocol, order: Order, clinic: Clinic | None, scenario: Mapping[str, str]) -> Iterator[str]:
    done, naming = done_in(protocol, scenario), Naming(protocol, clinic)
    usual = schedule(protocol, order, done)
    by_formula, drawn = spread(protocol, order, done, runs=RUNS, seed=SEED)
    settled = ", ".join(f"{name}: {option}" for name, option in scenario.items())
    yield f"{protocol.id}  {folded(protocol.title.value)}"
    yield f"With {settled}." if settled else "Nothing is settled before: there is one way."
    yield ""
    if len(usual.unknown) == len(usual.rows):
        yield "How long it takes is not known: no step says a duration (`takes`)."
        return
    yield f"Usually {_whole(usual.total)}, if everybody starts as soon as possible."
    yield (
        f"Three-point formulas on the critical path: mean {_whole(by_formula.mean)}, "
        f"standard deviation {_whole(by_formula.deviation)}."
    )
    yield (
        f"Drawn {drawn.runs:,} times: one in ten stays below {_whole(drawn.below[10])}, half below "
        f"{_whole(drawn.below[50])}, nine in ten below {_whole(drawn.below[90])}."
    )
    yield ""
    yield "What decides the total, step by step:"
    yield from _path(protocol, usual, naming)
    yield ""
    yield "Busy, and waiting between the first and the last own step:"
    for role in protocol.team:
        name = role.value
        yield f"  {naming.role(role)}: {_whole(usual.busy.get(name, 0))}, {_whole(usual.idle.get(name, 0))}"
    opened = open_times(protocol, usual)
    if opened:
        yield ""
        yield "How long packs lie open before anything of them is handled:"
        for pack, seconds in opened.items():
            yield f"  {naming.thing(pack)}: {_whole(seconds)}"
    if usual.unknown:
        count = len(usual.unknown)
        yield ""
        yield (
            f"{count} of {len(usual.rows)} steps {'says' if count == 1 else 'say'} no duration and count as "
            "taking no time; a step that may be repeated counts as done once."
        )


def _path(protocol: Protocol, usual: Schedule, naming: Naming) -> Iterator[str]:
    at = {one.step: one for one in usual.rows}
    for number in usual.critical:
        step, one = protocol.steps[number], at[number]
        if one.ends > one.starts:
            yield f"  {_whole(one.starts)} to {_whole(one.ends)}  {naming.role(step.role)}: {step.id}"


def _whole(seconds: float) -> str:
    """A time to the minute, or to the second below ten minutes."""
    return time_of(round(seconds / 60) * 60 if seconds >= 600 else round(seconds))
