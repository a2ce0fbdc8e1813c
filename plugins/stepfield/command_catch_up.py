"""``stepfield catch-up``: takes a newer baseline into an adopted set. Only glue."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from .adopting import CaughtUp, Source
    from .language import Taken


@click.command("catch-up", short_help="Take a newer text of an adopted set in.")
@click.argument("source", required=False, type=click.Path(path_type=Path))
@click.option("--ref", default=None, help="Take the newer text as it stood at this commit, branch or tag of SOURCE.")
@click.option("--version", default=None, help="The version of the newer text; default: what --ref is called.")
@click.option("--dry-run", is_flag=True, help="Print the whole report, and write nothing.")
@click.option(
    "--keep", multiple=True, metavar="ENTRY", help="Let this entry of tailoring.yaml go on; all: every one in question."
)
@click.option(
    "--take", multiple=True, metavar="ENTRY", help="Take what the newer text says; the entry becomes a comment."
)
@click.option(
    "--set",
    "folder",
    type=click.Path(path_type=Path),
    default=Path("protocols"),
    show_default=True,
    help="The folder of the adopted set.",
)
@click.pass_context
def catch_up(  # noqa: PLR0913, PLR0917 - an argument for each option
    ctx: click.Context,
    source: Path | None,
    ref: str | None,
    version: str | None,
    dry_run: bool,
    keep: tuple[str, ...],
    take: tuple[str, ...],
    folder: Path,
) -> None:
    """Take a newer text of the adopted set in, from SOURCE, a folder on this machine.

    Without SOURCE it comes from where the set was adopted, as upstream.yaml says. All files are written or none, and
    the report is kept in the folder catch-up. Ends with 1, and writes nothing, if an entry of tailoring.yaml is lost
    or meets a change of the same field, until --keep or --take says what is to become of it.
    """
    from .adopting import CannotAdoptError, CannotCatchUpError, Settled, UnknownEntryError
    from .adopting import catch_up as caught_up
    from .adopting.report import opening, text_report

    today = datetime.date.today()  # noqa: DTZ011 - the day where the clinic is
    _end_what_was_broken_off(folder, dry_run=dry_run)
    try:
        taken = _taken(folder)
        files = {taken.inside(path): data for path, data in taken.files.items()}
        newer = _newer(source, folder, files, ref, version)
        settled = Settled(frozenset(keep), frozenset(take))
        found = caught_up(files, newer, today, settled, shown=taken.shown)
    except (CannotAdoptError, CannotCatchUpError, UnknownEntryError) as error:
        raise click.UsageError(f"{error}; nothing was written.") from None
    if dry_run or found.undecided:
        click.echo(text_report(found), nl=False)
    else:
        click.echo("\n".join(opening(found)))
        if found.changed or found.removed:
            _write(folder, found)
    ctx.exit(1 if found.undecided else 0)


def _end_what_was_broken_off(folder: Path, *, dry_run: bool) -> None:
    """Ends an earlier run that was broken off between its files, and tells of it."""
    from .adopting.ending import CannotEndError, ended

    try:
        for line in ended(folder, dry_run=dry_run):
            click.echo(line)
    except CannotEndError as error:
        raise click.UsageError(str(error)) from None


def _taken(folder: Path) -> Taken:
    """The files of the adopted set."""
    from .adopting import CannotCatchUpError
    from .language import take_in

    if not (folder / "clinic.yaml").is_file():
        raise click.UsageError(f"There is no protocol set in {folder.as_posix()}: no clinic.yaml.")
    taken = take_in(folder)
    for problem in taken.refused:
        raise CannotCatchUpError(f"{problem.span.path}: {problem.message}")
    return taken


def _newer(source: Path | None, folder: Path, files: dict[str, bytes], ref: str | None, version: str | None) -> Source:
    """The newer text; its place is told as seen from the clinic's folder, or as upstream.yaml has it."""
    from dataclasses import replace

    from .adopting import CannotCatchUpError, source_in
    from .adopting.here import source_named
    from .adopting.taking import place_from

    home = folder.resolve().parent
    if source is not None:
        return replace(source_in(source, ref, version), place=place_from(home, source))
    named = source_named(files)
    if named is None:
        raise CannotCatchUpError(
            "upstream.yaml does not say where the set came from: name it, stepfield catch-up SOURCE"
        )
    if not (home / named).is_dir():
        raise CannotCatchUpError(
            f"upstream.yaml says that the set came from {named}, and that is no folder on this machine: fetch or copy "
            "the newer text, and name where it lies, stepfield catch-up SOURCE"
        )
    return replace(source_in(home / named, ref, version), place=named)


def _write(folder: Path, found: CaughtUp) -> None:
    """Puts the new files in the place of the old ones, and says what to do next."""
    from .adopting.report import markdown_report
    from .adopting.swapping import ChangedMeanwhileError, swap

    name = f"{found.old_version}-to-{found.version}.md"
    try:
        swap(folder, found.before, found.after, found.version, (name, markdown_report(found)))
    except ChangedMeanwhileError:
        raise click.UsageError("The files of the set were changed in the meantime; nothing was written.") from None
    except OSError as error:
        told = f"{error.filename2 or error.filename} cannot be written: {error.strerror}"
        raise click.UsageError(
            f"{told}; the set reads as before or as after, and running this again ends it."
        ) from None
    click.echo(f"Written: version {found.version} in {folder.as_posix()}/; the report is catch-up/{name}.")
    click.echo("Next: stepfield check; read the report; commit all of it together for the pull request.")
