"""What several commands are given: days, the folder of a protocol set, one protocol of it."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from .language.model import Protocol, ProtocolSet

Command = TypeVar("Command", bound=Callable[..., Any])


def of_set(command: Command) -> Command:
    """Gives a command the option ``--set``, as its argument ``folder``."""
    return click.option(
        "--set",
        "folder",
        type=click.Path(path_type=Path),
        default=Path("protocols"),
        show_default=True,
        help="The folder of the protocol set.",
    )(command)


def set_in(folder: Path) -> ProtocolSet:
    """The protocol set in a folder; fails as wrong usage if there is none."""
    from .language import read_set

    try:
        return read_set(folder)
    except OSError as error:
        raise click.UsageError(f"The protocol set cannot be read: {error}.") from None


def protocol_in(found: ProtocolSet, name: str) -> Protocol:
    """The protocol of that name; fails as wrong usage if it is not there or cannot be read."""
    protocol = next((one for one in found.protocols if one.id == name), None)
    if protocol is None:
        known = ", ".join(one.id for one in found.protocols) or "none"
        raise click.UsageError(f"There is no protocol {name!r} that can be read; known are: {known}.")
    return protocol


class Day(click.ParamType[datetime.date]):
    """A day written YYYY-MM-DD."""

    name = "YYYY-MM-DD"

    def convert(
        self, value: str | datetime.date, param: click.Parameter | None, ctx: click.Context | None
    ) -> datetime.date:
        """The day; fails as wrong usage if it is none."""
        if isinstance(value, datetime.date):
            return value
        try:
            if not re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", value):
                raise ValueError
            return datetime.date.fromisoformat(value)
        except ValueError:
            self.fail(f"{value!r} is not a day such as 2026-10-01", param, ctx)
