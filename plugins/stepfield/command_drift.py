"""``stepfield drift``: a clinic, or many, beside the set they adopted. Only glue."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from .command_given import Day, of_set

if TYPE_CHECKING:
    from collections.abc import Iterator

    from .changes.drift import Drift
    from .changes.drift.fleet import Member


@click.command(short_help="Tell what an adopted set does otherwise, and why.")
@of_set
@click.option(
    "--fleet",
    type=click.Path(path_type=Path),
    default=None,
    help="Many clinics side by side: each folder in this one that holds a set, itself or in protocols/.",
)
@click.option(
    "--common",
    "percent",
    type=click.IntRange(1, 100),
    default=50,
    show_default=True,
    help="With --fleet: how many in a hundred of the clinics must do it for it to be common; 2 at least.",
)
@click.option(
    "--format",
    "form",
    type=click.Choice(["text", "json", "csv"]),
    default="text",
    show_default=True,
    help="What to print.",
)
@click.option("--today", type=Day(), default=None, help="The day from which days are counted; default: today.")
def drift(folder: Path, fleet: Path | None, percent: int, form: str, today: datetime.date | None) -> None:
    """Hold a clinic beside the set it adopted: what is different, how it is graded, why, who agreed, and until when.

    With --fleet, tell which clinic deviates where, and what so many do that the shared text should look at it.
    Ends with 0, whatever differs; with 2 if it was called wrongly.
    """
    day = today or datetime.date.today()  # noqa: DTZ011 - the day where the clinic is
    text = _of_one(folder, day, form) if fleet is None else _of_many(fleet, day, form, percent)
    click.echo(text, nl=False)


def _of_one(folder: Path, day: datetime.date, form: str) -> str:
    from .changes.drift.as_csv import csv_drift
    from .changes.drift.as_json import json_drift
    from .changes.drift.as_text import text_drift

    found, why = _drift(folder, day)
    if found is None:
        raise click.UsageError(f"{folder.as_posix()}: {why}.")
    return {"text": text_drift, "json": json_drift, "csv": csv_drift}[form](found)


def _of_many(folder: Path, day: datetime.date, form: str, percent: int) -> str:
    from .changes.drift.fleet import fleet_of
    from .changes.drift.fleet_forms import csv_fleet, json_fleet
    from .changes.drift.fleet_text import text_fleet

    try:
        members = list(_members(folder, day))
    except OSError as error:
        raise click.UsageError(f"{folder.as_posix()} cannot be read: {error.strerror or error}.") from None
    if not members:
        raise click.UsageError(f"There is no folder in {folder.as_posix()}.")
    found = fleet_of(members, percent)
    return {"text": text_fleet, "json": json_fleet, "csv": csv_fleet}[form](found)


def _members(folder: Path, day: datetime.date) -> Iterator[Member]:
    """Every folder in a folder, with what is different in the clinic that it holds."""
    from .changes.drift.fleet import Member

    for inner in sorted(folder.iterdir()):
        if inner.name.startswith(".") or not inner.is_dir():
            continue
        found, why = _drift(inner, day)
        yield Member(inner.name, found, why)


def _drift(folder: Path, day: datetime.date) -> tuple[Drift | None, str]:
    """What is different in the set that a folder holds, or why that cannot be told."""
    from .changes.drift import drift_of, is_adopted
    from .language import read_set

    try:
        home = next((one for one in (folder, folder / "protocols") if (one / "clinic.yaml").is_file()), None)
        if home is None:
            return None, "no protocol set: neither the folder nor its folder protocols has a clinic.yaml"
        found = read_set(home)
    except OSError as error:
        return None, f"cannot be read: {error.strerror or error}"
    if is_adopted(found):
        return drift_of(found, day), ""
    heads = ("clinic.yaml", "tailoring.yaml", "upstream.yaml")
    unread = [one for one in found.problems if one.span.path.rpartition("/")[2] in heads]
    if unread:
        return None, f"cannot be read as meant, {unread[0].span.path} line {unread[0].span.line}: {unread[0].message}"
    return None, "this set was not adopted from another: it has no upstream.yaml and no tailoring.yaml"
