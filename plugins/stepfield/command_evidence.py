"""``stepfield evidence``: what a protocol set rests on, and the gaps. Only glue."""

from __future__ import annotations

import datetime
from pathlib import Path

import click

from .command_given import Day, of_set, set_in


@click.command(name="evidence", short_help="List what the protocols rest on: requirements, steps, gaps.")
@click.argument("protocol", required=False)
@click.option(
    "--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True, help="What to print."
)
@click.option(
    "--csv", "csv_file", type=click.Path(dir_okay=False, path_type=Path), help="Write a table into this file."
)
@click.option("--today", type=Day(), default=None, help="The day the age of sources is judged on; default: today.")
@of_set
def evidence(protocol: str | None, form: str, csv_file: Path | None, today: datetime.date | None, folder: Path) -> None:
    """List each requirement of evidence.yaml with its source and the steps that answer it, the gaps first.

    With PROTOCOL, an id within the set, only what that protocol adopts or answers.
    """
    from .checks.tracing import of_protocol, trace
    from .reports.evidence import evidence_json, evidence_table, evidence_text
    from .reports.tables import csv_table

    whole = set_in(folder)
    found = trace(whole, today or datetime.date.today())  # noqa: DTZ011 - the day where the clinic is
    if protocol is not None:
        if protocol not in found.protocols:
            known = ", ".join(found.protocols) or "none"
            raise click.UsageError(f"There is no protocol {protocol!r} that can be read; known are: {known}.")
        found = of_protocol(found, protocol)
    click.echo(evidence_json(found) if form == "json" else evidence_text(found), nl=False)
    if csv_file is not None:
        try:
            csv_file.write_bytes(csv_table([evidence_table(found)]))
        except OSError as error:
            raise click.UsageError(f"{csv_file} cannot be written: {error.strerror}.") from None
