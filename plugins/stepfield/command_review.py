"""``stepfield review``: what a change of a protocol set does. Only glue."""

from __future__ import annotations

import datetime
import os
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from collections.abc import Iterator

    from .changes import Review
    from .language import ProtocolSet, Taken


@click.command(short_help="Review what a change does, and whom it concerns.")
@click.argument("base")
@click.argument("head", required=False)
@click.option(
    "--format",
    "form",
    type=click.Choice(["text", "markdown", "json"]),
    default="text",
    show_default=True,
    help="What to print.",
)
@click.option(
    "--protocols",
    "folder",
    type=click.Path(path_type=Path),
    default=Path("protocols"),
    show_default=True,
    help="The folder of the protocol set, as it lies in the work tree.",
)
@click.option(
    "--pictures",
    type=click.Path(file_okay=False, path_type=Path),
    default=None,
    help="Write the phases before and after into this folder, as SVG files that the review shows.",
)
@click.option(
    "--output",
    type=click.Path(dir_okay=False, path_type=Path),
    default=None,
    help="Write the review into this file instead of printing it.",
)
@click.option(
    "--max-states",
    type=click.IntRange(min=1),
    default=None,
    help="How many states of one protocol are looked at before the check gives up.",
)
@click.pass_context
def review(  # noqa: PLR0913, PLR0917 - an argument for each option
    ctx: click.Context,
    base: str,
    head: str | None,
    form: str,
    folder: Path,
    pictures: Path | None,
    output: Path | None,
    max_states: int | None,
) -> None:
    """Tell what changed from BASE to HEAD, how grave it is, and for each role what changes for it.

    BASE and HEAD are commits, branches or tags of git, or folders with a clinic.yaml; without HEAD, the files as they
    lie in the work tree. Nothing there is touched. Ends with 1 if the change brings an error or its version is not
    raised as far as it asks, with 2 if it was called wrongly.
    """
    from .asepsis import DEFAULT_LIMIT
    from .changes import review_sets
    from .changes.as_json import json_review
    from .changes.as_markdown import markdown_review
    from .changes.as_text import text_review
    from .checks import Severity

    old, new = _set(base, folder), _set(head, folder)
    limit = DEFAULT_LIMIT if max_states is None else max_states
    today = datetime.date.today()  # noqa: DTZ011 - the day where the clinic is
    found = review_sets(old, new, (base, head or "the work tree"), today, limit=limit)
    drawn = _drawn(found, (old, new), pictures, output, today) if pictures is not None else {}
    if form == "json":
        text = json_review(found, drawn)
    else:
        text = markdown_review(found, drawn) if form == "markdown" else text_review(found)
    _write(text, output)
    failed = any(one.severity is Severity.ERROR for one in (*found.unraised, *found.appeared))
    ctx.exit(1 if failed else 0)


def _set(named: str | None, folder: Path) -> ProtocolSet:
    """The set in a folder, or as it stood at a commit; without a name as it lies in the work tree."""
    from .language import set_of, take_in

    if named is not None:
        return set_of(taken_at(named, folder))
    if not (folder / "clinic.yaml").is_file():
        raise click.UsageError(f"There is no protocol set in {folder.as_posix()}: no clinic.yaml.")
    return set_of(take_in(folder))


def taken_at(named: str, folder: Path) -> Taken:
    """The files of another text of the set in a folder: those of the folder named, or as they stood at a commit.

    Findings name them as they lie in the set's own folder. Raises click.UsageError if there are none.
    """
    from .changes import HistoryError, taken_from
    from .language import take_in

    try:
        if not named.startswith("-") and (Path(named) / "clinic.yaml").is_file():
            return take_in(Path(named), folder.as_posix())
        return taken_from(folder, named)
    except HistoryError as error:
        raise click.UsageError(f"{named} cannot be compared: {error}.") from None
    except (OSError, ValueError) as error:
        raise click.UsageError(f"The protocol set cannot be read: {error}.") from None


def _drawn(
    found: Review, sets: tuple[ProtocolSet, ProtocolSet], pictures: Path, output: Path | None, today: datetime.date
) -> dict[tuple[str, str], tuple[str | None, str | None]]:
    """Writes the phases touched as pictures; where each lies, as seen from the review's own file."""
    here = output.parent if output is not None else Path()
    shown: dict[tuple[str, str], tuple[str | None, str | None]] = {}
    try:
        pictures.mkdir(parents=True, exist_ok=True)
        for protocol, phase, side, text in _files(found, sets, today):
            file = pictures / f"{protocol}-{phase}-{side}.svg"
            file.write_text(text, encoding="utf-8")
            address = Path(os.path.relpath(file, here)).as_posix()
            before, after = shown.get((protocol, phase), (None, None))
            shown[protocol, phase] = (address, after) if side == "before" else (before, address)
    except OSError as error:
        raise click.UsageError(f"{pictures} cannot be written: {error.strerror}.") from None
    return shown


def _files(
    found: Review, sets: tuple[ProtocolSet, ProtocolSet], today: datetime.date
) -> Iterator[tuple[str, str, str, str]]:
    """Protocol, phase, side and text of every picture."""
    from .asepsis import order_of
    from .checks import Examined, Facts
    from .pages.phases import phase_file

    for side, whole in zip(("before", "after"), sets, strict=True):
        by_id = {one.id: one for one in whole.protocols}
        for one in found.protocols:
            for phase in one.phases:
                number = phase.number_before if side == "before" else phase.number_after
                if number is None:
                    continue
                protocol = by_id[one.protocol]
                examined = Examined(protocol, order_of(protocol), None, "only drawn")
                lanes = tuple(dict.fromkeys(role.value for role in protocol.team))
                text = phase_file(examined, Facts(whole, (examined,), today), number, lanes)
                if text is not None:
                    yield one.protocol, phase.id, side, text


def _write(text: str, output: Path | None) -> None:
    if output is None:
        click.echo(text, nl=False)
        return
    try:
        output.write_text(text, encoding="utf-8")
    except OSError as error:
        raise click.UsageError(f"{output} cannot be written: {error.strerror}.") from None
