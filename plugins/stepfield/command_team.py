"""``stepfield team``: how few people can do a protocol. Only glue."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from .command_given import of_set, protocol_in, set_in

if TYPE_CHECKING:
    from collections.abc import Iterator

    from .language.model import Clinic, Protocol
    from .planning.teams import Teams


@click.command(name="team", short_help="Tell how few people can do a protocol, and how long it then takes.")
@click.argument("protocol")
@click.option(
    "--format",
    "layout",
    type=click.Choice(["text", "json"]),
    default="text",
    show_default=True,
    help="For reading, or for programs.",
)
@of_set
def team(protocol: str, layout: str, folder: Path) -> None:
    """Tell how few people can do PROTOCOL, an id within the set, and how long it then takes.

    Every way of putting its roles on people is judged: whether some order keeps asepsis, and the shortest time. The
    extra "planner" finds that time where one person's order is free. Who has which roles here makes no difference.
    """
    from .checks.staffing import staffing
    from .planning.shortest import scheduler
    from .reports.teams import teams_json

    found = set_in(folder)
    asked = protocol_in(found, protocol)
    teams = staffing(asked, found, scheduler())
    if isinstance(teams, str):
        raise click.UsageError(f"The teams of {protocol} cannot be judged yet: {teams}.")
    if layout == "json":
        click.echo(teams_json(protocol, teams), nl=False)
        return
    for line in _lines(asked, found.clinic, teams):
        click.echo(line)


def _lines(protocol: Protocol, clinic: Clinic | None, teams: Teams) -> Iterator[str]:
    from .checks.words import Naming, folded, quoted
    from .pages.fewest import Names, fewest_of, notes_of
    from .pages.speech import speech
    from .planning.teams import team_now
    from .reports.terminal import harmless

    naming = Naming(protocol, clinic)
    names = Names(speech("en"), naming.role, lambda name: str(naming.thing(name)), quoted)
    told = fewest_of(teams, names, team_now(protocol))
    yield harmless(f"{protocol.id}  {folded(protocol.title.value)}")
    for size in told.sizes:
        yield ""
        yield harmless(f"Team of {size.people}: {size.headline}")
        for row in size.rows:
            known = f": {row.time}" if row.time else ""
            yield harmless(f"  {' | '.join(row.people)}{known}")
            for sentence in row.told:
                yield harmless(f"    {sentence}")
            if row.order:
                yield harmless(f"    For example: {', '.join(row.order)}.")
        if size.more:
            yield f"  and {size.more:,} more teams of this size; --format json tells all"
    yield ""
    yield told.smallest
    yield ""
    yield from (*told.notes, *notes_of(speech("en")))
