"""``stepfield adopt``: begins a clinic with the protocol set of another. Only glue."""

from __future__ import annotations

import datetime
import os
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path

import click


@click.command(short_help="Begin a clinic with the protocols of another.")
@click.argument("source", type=click.Path(path_type=Path))
@click.argument("dest", type=click.Path(file_okay=False, path_type=Path))
@click.option("--clinic", "name", required=True, help="The name of the clinic that adopts the set.")
@click.option("--ref", default=None, help="Take the set as it stood at this commit, branch or tag of SOURCE.")
@click.option("--version", default=None, help="The version of the set, such as 3.2.0; default: what --ref is called.")
def adopt(source: Path, dest: Path, name: str, ref: str | None, version: str | None) -> None:
    """Make a new clinic's folder DEST with the protocols of SOURCE, a folder on this machine.

    The adopted files stay as they are. What is different in the new clinic goes into clinic.yaml and tailoring.yaml.
    DEST must not be there yet, or be empty.
    """
    from dataclasses import replace

    from .adopting import CannotAdoptError, adopted_clinic, source_in
    from .adopting.taking import place_from
    from .starting import Refused

    try:
        if os.path.lexists(dest) and (not dest.is_dir() or dest.is_symlink() or any(dest.iterdir())):
            raise click.UsageError(f"{dest.as_posix()} is there already and not empty; nothing was written.")
        for folder in (source, source / "protocols"):
            if (folder / "clinic.yaml").is_file() and dest.resolve().is_relative_to(folder.resolve()):
                raise click.UsageError(f"{dest.as_posix()} lies among the files of the set: choose a folder outside.")
        today = datetime.date.today()  # noqa: DTZ011 - the day where the clinic is
        taken = replace(source_in(source, ref, version), place=place_from(dest, source))
        _write(adopted_clinic(taken, name, today), dest)
    except (CannotAdoptError, Refused) as error:
        raise click.UsageError(f"{error}; nothing was written.") from None
    except OSError as error:
        raise click.UsageError(f"{dest.as_posix()} cannot be written: {error.strerror or error}.") from None
    shown = dest.as_posix()
    count = f"{len(taken.files)} {'file' if len(taken.files) == 1 else 'files'}"
    click.echo(f"Written: {shown}/ with {count} of {taken.clinic.name}, version {taken.version}.")
    _tell(dest, today)
    click.echo(f"Next: cd {shown}; put your names into protocols/clinic.yaml; write what you do otherwise into")
    click.echo("protocols/tailoring.yaml; then stepfield check, mkdocs serve, and git init to keep its history.")


def _write(files: Mapping[str, bytes], dest: Path) -> None:
    """Writes all files beside the folder they are for, and puts that in its place whole: it is there all or not."""
    dest.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=f".{dest.name}-", dir=dest.parent, ignore_cleanup_errors=True) as beside:
        whole = Path(beside) / "clinic"
        for path, data in files.items():
            target = whole / path
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(data)
        if dest.is_dir():
            dest.rmdir()
        shutil.move(whole, dest)


def _tell(dest: Path, today: datetime.date) -> None:
    """Says what a check of the new clinic finds."""
    from .checks import check_set
    from .language import read_set

    report = check_set(read_set(dest / "protocols"), today)
    found = len(report.findings)
    if found:
        click.echo(
            f"A check of it has {found} {'finding' if found == 1 else 'findings'} already: stepfield check shows."
        )
    else:
        click.echo("A check of it has no findings.")
