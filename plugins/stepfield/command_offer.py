"""``stepfield offer``: a patch of the shared text out of entries of tailoring.yaml. Only glue."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from collections.abc import Iterator

    from .adopting.offering import Offer, Offered


@click.command(short_help="Offer local changes to those who keep the shared text.")
@click.argument("entries", nargs=-1, metavar="[ENTRY]...")
@click.option(
    "--set",
    "folder",
    type=click.Path(file_okay=False, path_type=Path),
    default=Path("protocols"),
    show_default=True,
    help="The folder of the protocol set.",
)
@click.option(
    "--into",
    default="protocols",
    show_default=True,
    help="The folder that the set has in the repository which the patch is for; '.' for its top.",
)
@click.option("--from", "sender", default=None, help="Make it a mail for git am, from 'NAME <ADDRESS>'.")
@click.option(
    "--output", type=click.Path(dir_okay=False, path_type=Path), default=None, help="Write into this file instead."
)
@click.pass_context
def offer(
    ctx: click.Context, entries: tuple[str, ...], folder: Path, into: str, sender: str | None, output: Path | None
) -> None:
    """Make a patch of the adopted text out of entries of tailoring.yaml, with their reasons as the message.

    ENTRY is PROTOCOL/STEP, or items/NAME, surfaces/NAME, packs/NAME; without ENTRY, all that concern the adopted text.
    Nothing of the set is changed. Once the shared text has taken a change in, stepfield catch-up tells that its entry
    is needless. Ends with 0; with 1 if an entry cannot be offered; with 2 if nothing can, or it was called wrongly.
    """
    from .adopting.mail import mail, patch
    from .adopting.offering import CannotOfferError, offered_of
    from .language import take_in
    from .reports.terminal import harmless

    into = into.strip("/").removeprefix("./")
    into = "" if into == "." else into
    if not re.fullmatch(r"(?:[A-Za-z0-9_-][A-Za-z0-9._-]*(?:/(?!$)|$))*", into):
        raise click.UsageError(
            f"{into!r} cannot be the place of a set in a repository; write a folder such as protocols."
        )
    try:
        taken = take_in(folder)
        result = offered_of(taken.files, taken.shown, entries)
    except OSError as error:
        raise click.UsageError(f"{folder.as_posix()} cannot be read: {error}.") from None
    except CannotOfferError as error:
        raise click.UsageError(harmless(f"{error}.")) from None
    for name, why in result.refused:
        click.echo(harmless(f"{name} is not offered: {why}."), err=True)
    if not result.offered or result.before == result.after:
        raise click.UsageError("There is nothing that can be offered.")
    try:
        made = mail(_subject(result), _message(result), patch(result.before, result.after, into), sender)
    except ValueError as error:
        raise click.UsageError(f"{error}.") from None
    _write(made, output)
    for one in result.offered:
        if one.also:
            click.echo(harmless(f"{one.entry.name} changes {', '.join(one.also)} as well."), err=True)
    ctx.exit(1 if result.refused else 0)


def _subject(result: Offer) -> str:
    count = len(result.offered)
    return f"Offered by a clinic: {count} {'change' if count == 1 else 'changes'}"


def _message(result: Offer) -> Iterator[str]:
    """A paragraph for each entry: what it is about, why, and what else it changes."""
    for one in result.offered:
        also = f" It changes {', '.join(one.also)} as well." if one.also else ""
        looser = f", {one.grade.reason}" if one.grade is not None and one.grade.reason else ""
        grade = "" if one.grade is None else f" ({one.grade.effect.word}{looser})"
        yield f"* {one.entry.name}{grade}: {_reason(one)}{also}"


def _reason(one: Offered) -> str:
    written, thing = one.entry.written, one.entry.thing
    reason = written.reason if written is not None else thing.reason if thing is not None else None
    if reason is None or reason.because is None:
        return "no reason is written beside it."
    text = str(reason.because)
    return text if text.endswith((".", "!", "?")) else f"{text}."


def _write(data: bytes, output: Path | None) -> None:
    if output is None:
        click.echo(data, nl=False)
        return
    try:
        output.write_bytes(data)
    except OSError as error:
        raise click.UsageError(f"{output.as_posix()} cannot be written: {error.strerror or error}.") from None
    click.echo(f"Written: {output.as_posix()}", err=True)
