"""``stepfield tailor``: moves edits of adopted files into tailoring.yaml. Only glue."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from .adopting.moving import Left, Moved, Outcome
    from .language import Taken
    from .language.tailored import Upstream


@click.command(short_help="Move edits of adopted files into tailoring.yaml.")
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path), default=Path("protocols"))
@click.option(
    "--from",
    "source",
    type=click.Path(path_type=Path),
    default=None,
    help="The folder or repository that the set was adopted from; default: the history of FOLDER itself.",
)
@click.option("--ref", default=None, help="With --from: the commit, branch or tag that was adopted.")
@click.option("--dry-run", is_flag=True, help="Write nothing; tell what would be written.")
@click.pass_context
def tailor(ctx: click.Context, folder: Path, source: Path | None, ref: str | None, dry_run: bool) -> None:
    """Say in tailoring.yaml what was edited in adopted files, and put these back as they were adopted.

    FOLDER is that of the protocol set; without it, protocols. A file is only put back if the set then asks the same of
    everybody. Ends with 0; with 1 if an edit cannot be said in tailoring.yaml, so that its file was left alone; with 2
    if it was called wrongly, or a file as it was adopted cannot be found.
    """
    from .adopting.ending import CannotEndError, ended
    from .adopting.moving import move_edits
    from .adopting.originals import NoOriginalError, edited_files, originals_in, originals_in_history
    from .language import build_set, take_in

    if ref is not None and source is None:
        raise click.UsageError("--ref names a commit of the repository given with --from.")
    try:
        for line in ended(folder, dry_run=dry_run):
            click.echo(line)
    except CannotEndError as error:
        raise click.UsageError(str(error)) from None
    try:
        taken = take_in(folder)
    except OSError as error:
        raise click.UsageError(f"{folder.as_posix()} cannot be read: {error}.") from None
    for problem in taken.refused:
        raise click.UsageError(f"{problem.span.path}: {problem.message}.")
    upstream = build_set(taken.files, taken.shown).upstream
    if upstream is None:
        raise click.UsageError(f"{folder.as_posix()} has no upstream.yaml that can be read: it was not adopted.")
    names = edited_files(upstream)
    _tell_gone(upstream)
    if not names:
        click.echo("No adopted file was edited: there is nothing to move.")
        return
    _check_tailoring(taken, upstream)
    try:
        found = (
            originals_in_history(folder, names, upstream)
            if source is None
            else originals_in(source, ref, names, upstream)
        )
    except NoOriginalError as error:
        raise click.UsageError(f"{error}. Nothing was written.") from None
    originals = {f"{taken.shown}/{name}" if taken.shown else name: data for name, data in found.items()}
    outcome = move_edits(taken.files, originals, taken.shown)
    if outcome.moved and not dry_run:
        _save(folder, taken, outcome)
    for moved in outcome.moved:
        _tell_moved(moved, dry_run=dry_run)
    _tell_reasons(outcome)
    for left in outcome.left:
        _tell_left(left)
    ctx.exit(1 if outcome.left else 0)


def _tell_gone(upstream: Upstream) -> None:
    for name in upstream.digests:
        if name not in upstream.found:
            click.echo(f"{name} of the adopted set is not there any more; stepfield check says what to do.", err=True)


def _check_tailoring(taken: Taken, upstream: Upstream) -> None:
    """There must be a tailoring.yaml that can be read as meant, or there is nothing to write into."""
    from .language import build_set

    path = f"{taken.shown}/tailoring.yaml" if taken.shown else "tailoring.yaml"
    if path not in taken.files:
        told = f"baseline: {{name: {upstream.name}, version: {upstream.version}}}"
        raise click.UsageError(f"there is no {path}; begin it with the line: {told}")
    for problem in build_set(taken.files, taken.shown).problems:
        if problem.span.path == path and problem.rule in ("bad-yaml", "bad-shape"):
            raise click.UsageError(f"{path} line {problem.span.line}: {problem.message}. Mend that first.")


def _save(folder: Path, taken: Taken, outcome: Outcome) -> None:
    """Puts tailoring.yaml and the files whose edits it now holds in their places, all of them or none."""
    from .adopting.swapping import ChangedMeanwhileError, swap

    before, after = (
        {taken.inside(path): data for path, data in files.items()} for files in (taken.files, outcome.files)
    )
    try:
        swap(folder, before, after)
    except ChangedMeanwhileError:
        raise click.UsageError("The files of the set were changed in the meantime; nothing was written.") from None
    except OSError as error:
        told = f"{error.filename2 or error.filename} cannot be written: {error.strerror}"
        raise click.UsageError(
            f"{told}; the set reads as before or as after, and running this again ends it."
        ) from None


def _tell_moved(moved: Moved, *, dry_run: bool) -> None:
    from .reports.terminal import harmless

    count = f"{len(moved.entries)} {'entry' if len(moved.entries) == 1 else 'entries'}"
    would = "would be" if dry_run else "is"
    click.echo(harmless(f"{moved.path}: {count} in tailoring.yaml; the file {would} as it was adopted."))
    for entry in moved.entries:
        why = f" ({entry.reason})" if entry.reason else ""
        click.echo(harmless(f"  line {entry.line}: {entry.says}: {entry.grade.word}{why}"))
    for remark in moved.remarks:
        click.echo(harmless(f"  {remark[0].upper()}{remark[1:]}."))


def _tell_reasons(outcome: Outcome) -> None:
    entries = [entry for moved in outcome.moved for entry in moved.entries]
    looser = sum(entry.grade.word == "looser" for entry in entries)
    if entries:
        click.echo("Nobody but you knows why: write `because:` into each of these entries.")
    if looser:
        are = "1 of them is" if looser == 1 else f"{looser} of them are"
        click.echo(f"{are} looser than the adopted text: there write `agreed:` and `until:` as well.")


def _tell_left(left: Left) -> None:
    from .reports.terminal import harmless

    for reason in left.reasons:
        at = f"{reason.span.path}:{reason.span.line}"
        click.echo(harmless(f"{at}: left alone: {reason.message}."), err=True)
