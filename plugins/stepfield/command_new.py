"""``stepfield new``: begins a protocol, a part or a whole clinic. Only glue."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path

import click


@click.command(short_help="Begin a protocol, a part or a whole clinic.")
@click.argument("kind", type=click.Choice(["protocol", "part", "clinic"]))
@click.argument("name")
@click.option(
    "--into",
    type=click.Path(file_okay=False, path_type=Path),
    default=None,
    help="The folder of the protocol set (default: protocols); for a clinic, its new folder.",
)
@click.option(
    "--from",
    "table",
    type=click.Path(dir_okay=False, path_type=Path),
    default=None,
    help="Draft the protocol from a table of steps, a .csv or .xlsx file with columns such as role, step, after.",
)
def new(kind: str, name: str, into: Path | None, table: Path | None) -> None:
    """Write a small commented file that already checks clean, to be changed line by line.

    NAME is the id of the protocol or part, or the name of the clinic in quotes. Nothing that exists is overwritten.
    """
    from .starting import Refused, TableError

    if table is not None and kind != "protocol":
        raise click.UsageError("--from drafts a protocol: stepfield new protocol NAME --from TABLE.")
    try:
        if kind == "clinic":
            _clinic(name, into)
        else:
            _file(kind, name, into or Path("protocols"), table)
    except Refused as refused:
        raise click.UsageError(f"{refused}.") from None
    except TableError as error:
        raise click.UsageError(f"{table}: {error}.") from None
    except OSError as error:
        raise click.UsageError(f"{error.filename} cannot be written: {error.strerror}.") from None


def _file(kind: str, name: str, folder: Path, table: Path | None) -> None:
    from .language import read_set
    from .starting import draft_from, new_part, new_protocol, read_table

    if not (folder / "clinic.yaml").is_file():
        raise click.UsageError(
            f"there is no {(folder / 'clinic.yaml').as_posix()}: name the folder of the protocol set with --into, "
            "or begin one with: stepfield new clinic 'NAME OF THE CLINIC'."
        )
    clinic = read_set(folder).clinic
    roles = {} if clinic is None else {role.id.value: role.title for role in clinic.roles}
    missed: tuple[str, ...] = ()
    path = folder / f"{name}.yaml" if kind == "protocol" else folder / "parts" / f"{name}.yaml"
    if table is not None:
        draft = draft_from(read_table(table.name, _content(table)), name, roles)
        text, missed = draft.text, draft.not_understood
    else:
        text = new_protocol(name, list(roles)) if kind == "protocol" else new_part(name)
    _write({path: text})
    for line in missed:
        click.echo(f"Not understood: {line}", err=True)
    click.echo(f"Written: {path.as_posix()}. Change it to what your team does, then: stepfield check {path.as_posix()}")


def _content(table: Path) -> bytes:
    from .starting.sheets import MOST_BYTES

    try:
        with table.open("rb") as file:
            return file.read(MOST_BYTES + 1)
    except OSError as error:
        raise click.UsageError(f"{table} cannot be read: {error.strerror}.") from None


def _clinic(name: str, into: Path | None) -> None:
    from .starting import Refused, new_clinic
    from .starting.beginning import as_id

    if into is None and not as_id(name):
        raise Refused(f"{name!r} gives no name for a folder; name one with --into")
    folder = into or Path(as_id(name))
    _write({folder / path: text for path, text in new_clinic(name).items()})
    click.echo(f"Written: {folder.as_posix()}/. Next: cd {folder.as_posix()}, stepfield check, mkdocs serve;")
    click.echo("the roles stand in protocols/clinic.yaml, the first protocol in protocols/first-protocol.yaml.")


def _write(files: Mapping[Path, str]) -> None:
    """Writes new files only: each is made by the one call that fails if there is one already."""
    there = [path.as_posix() for path in files if path.exists() or path.is_symlink()]
    if there:
        raise click.UsageError(f"{there[0]} is there already; nothing was written.")
    for path, text in files.items():
        path.parent.mkdir(parents=True, exist_ok=True)
        with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666), "w", encoding="utf-8") as file:
            file.write(text)
