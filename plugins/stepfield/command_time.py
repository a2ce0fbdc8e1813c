"""``stepfield time``: how long a protocol takes. Only glue."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from .command_given import of_set, protocol_in, set_in

if TYPE_CHECKING:
    from .language.model import Person, Protocol, Step

_TIME = re.compile(r"([0-9]{1,6}(?:\.[0-9]{1,3})?) ?(s|min|h|d)")
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
    "--people",
    "people",
    multiple=True,
    metavar="NAME=ROLE,ROLE",
    help="What if one person had several roles, such as nurse=scrub,circulating.",
)
@click.option(
    "--draws",
    default=10_000,
    show_default=True,
    metavar="COUNT",
    type=click.IntRange(1, 100_000),
    help="How often durations are drawn.",
)
@click.option(
    "--seed",
    default=1,
    show_default=True,
    metavar="NUMBER",
    type=click.IntRange(0),
    help="The same seed draws the same.",
)
@click.option(
    "--format",
    "layout",
    type=click.Choice(["text", "json"]),
    default="text",
    show_default=True,
    help="For reading, or for programs.",
)
@of_set
def time(
    protocol: str,
    chosen: tuple[str, ...],
    takes: tuple[str, ...],
    people: tuple[str, ...],
    folder: Path,
    **how: str | int,
) -> None:
    """Tell how long PROTOCOL, an id within the set, takes if everybody starts as soon as possible.

    What is not settled with --choose is taken as first written, and a question is answered so that nobody goes back.
    This is the clock only: asepsis is judged by `stepfield check` and `stepfield team`.
    """
    from .asepsis import order_of
    from .planning.timing import timing
    from .reports.timing import timing_text
    from .reports.timing_json import timing_json

    found = set_in(folder)
    asked = protocol_in(found, protocol)
    order = order_of(asked)
    if order.loops:
        raise click.UsageError(f"The steps of {protocol} wait for each other in a loop; mend that first.")
    changed, settled, shared = _with_times(asked, takes), _settled(asked, chosen), _people(asked, people)
    runs, seed = int(how["draws"]), int(how["seed"])
    told = timing(changed, order, settled, shared, runs=runs, seed=seed)
    written = timing(asked, order, settled, runs=1, seed=seed) if takes or people else None
    if how["layout"] == "json":
        click.echo(timing_json(changed, told, written), nl=False)
    else:
        click.echo(timing_text(changed, found.clinic, told, written), nl=False)


def _settled(protocol: Protocol, chosen: tuple[str, ...]) -> dict[str, str]:
    """The scenario that is asked for."""
    from .planning.scenarios import settled_by, usual_scenario

    wanted = dict(one.split("=", 1) for one in chosen if "=" in one)
    known = settled_by(protocol)
    for name, option in wanted.items():
        if name not in known:
            raise click.UsageError(f"Nothing is settled by {name!r}; known are: {', '.join(sorted(known)) or 'none'}.")
        if option not in known[name]:
            raise click.UsageError(f"{name} can't be {option!r}; known are: {', '.join(known[name])}.")
    if len(wanted) < len(chosen):
        raise click.UsageError("Write --choose as CHOICE=OPTION, each choice once.")
    return usual_scenario(protocol, wanted)


def _people(protocol: Protocol, people: tuple[str, ...]) -> tuple[Person, ...] | None:
    """The people with several roles that are asked for; None if those of the clinic are meant."""
    from .language.model import Person
    from .language.source import Text

    team = {role.value for role in protocol.team}
    found: list[Person] = []
    for one in people:
        name, _, told = one.partition("=")
        roles = [role.strip() for role in told.split(",")]
        if not name or len(roles) < 2 or len({*roles}) < len(roles):
            raise click.UsageError(f"Write --people as NAME=ROLE,ROLE with two roles or more, not {one!r}.")
        for role in roles:
            if role not in team:
                raise click.UsageError(f"{protocol.id} has no role {role!r}; its team is: {', '.join(sorted(team))}.")
            if any(role == other.value for person in found for other in person.roles):
                raise click.UsageError(f"Two people can't both be {role!r}.")
        if name in team - {*roles} or any(name == person.id.value for person in found):
            raise click.UsageError(f"{name!r} is somebody else already; give the person another name.")
        found.append(Person(Text(name, protocol.span), tuple(Text(role, protocol.span) for role in roles)))
    return tuple(found) if people else None


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
