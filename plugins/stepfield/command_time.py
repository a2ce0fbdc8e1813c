"""``stepfield time``: how long a protocol takes. Only glue."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from .language.model import Protocol, Step

_TIME = re.compile(r"([0-9]{1,6}(?:\.[0-9]{1,3})?) (s|min|h|d)")
_UNITS = {"s": 1, "min": 60, "h": 3600, "d": 86_400}


@click.command(name="time", short_help="Tell how long a protocol takes, and what decides it.")
@click.argument("protocol")
@click.option(
    "--choose", "chosen", multiple=True, metavar="CHOICE=OPTION", help="How a choice or a question is settled."
)
@click.option(
    "--takes", "takes", multiple=True, metavar="STEP=TIME", help="What if a step took so long, such as 3 min."
)
@click.option(
    "--set",
    "folder",
    type=click.Path(path_type=Path),
    default=Path("protocols"),
    show_default=True,
    help="The folder of the protocol set.",
)
def time(protocol: str, chosen: tuple[str, ...], takes: tuple[str, ...], folder: Path) -> None:
    """Tell how long PROTOCOL, an id within the set, takes if everybody starts as soon as possible.

    What is not settled with --choose is taken as first written, and a question is answered so that nobody goes back.
    """
    from .asepsis import order_of
    from .language import read_set
    from .reports.timing import timing_text

    try:
        found = read_set(folder)
    except OSError as error:
        raise click.UsageError(f"The protocol set cannot be read: {error}.") from None
    asked = next((one for one in found.protocols if one.id == protocol), None)
    if asked is None:
        known = ", ".join(one.id for one in found.protocols) or "none"
        raise click.UsageError(f"There is no protocol {protocol!r} that can be read; known are: {known}.")
    order = order_of(asked)
    if order.loops:
        raise click.UsageError(f"The steps of {protocol} wait for each other in a loop; mend that first.")
    changed = _with_times(asked, takes)
    click.echo(timing_text(changed, order, found.clinic, _settled(asked, chosen)), nl=False)


def _settled(protocol: Protocol, chosen: tuple[str, ...]) -> dict[str, str]:
    """The scenario that is asked for."""
    from .planning.scenarios import scenarios_of

    wanted = dict(one.split("=", 1) for one in chosen if "=" in one)
    known = list(scenarios_of(protocol))
    names = {name for scenario in known for name in scenario}
    for name in wanted:
        if name not in names:
            raise click.UsageError(f"Nothing is settled by {name!r}; known are: {', '.join(sorted(names)) or 'none'}.")
    if len(wanted) < len(chosen):
        raise click.UsageError("Write --choose as CHOICE=OPTION.")
    back = {(step.id.value, step.repeat.answer.value) for step in protocol.steps if step.repeat is not None}
    fits = [one for one in known if all(one[name] == option for name, option in wanted.items())]
    if not fits:
        raise click.UsageError(f"There is no scenario with {', '.join(chosen)}.")
    return min(fits, key=lambda one: sum(pair in back for pair in one.items()))


def _with_times(protocol: Protocol, takes: tuple[str, ...]) -> Protocol:
    """The protocol with other durations of single steps."""
    from .language.model import Duration

    other: dict[str, float] = {}
    for one in takes:
        name, _, told = one.partition("=")
        shape = _TIME.fullmatch(told.strip())
        if shape is None or name not in {step.id.value for step in protocol.steps}:
            raise click.UsageError(f"{one!r} is no step of {protocol.id} with a time, such as scrub=3 min.")
        other[name] = float(shape[1]) * _UNITS[shape[2]]

    def changed(step: Step) -> Step:
        seconds = other.get(step.id.value)
        return step if seconds is None else replace(step, takes=Duration(seconds, seconds, seconds, step.span))

    phases = tuple(replace(phase, steps=tuple(map(changed, phase.steps))) for phase in protocol.phases)
    return replace(protocol, phases=phases)
