"""Days as the command line takes them."""

from __future__ import annotations

import datetime
import re

import click


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
