"""``stepfield format``: the one layout for the files of a protocol set. Only glue."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from collections.abc import Iterable

    from .language import Problem


@click.command("format", short_help="Put files into the one layout, with every comment.")
@click.argument("paths", nargs=-1, type=click.Path(path_type=Path))
@click.option("--check", "only_check", is_flag=True, help="Write nothing; tell which files would change.")
@click.pass_context
def format_(ctx: click.Context, paths: tuple[Path, ...], only_check: bool) -> None:
    """Put files into the one layout: keys in the order of the schema, two columns a level, long texts in lines.

    PATHS are folders with a clinic.yaml or files of them; without PATHS, the folder protocols. Nothing of the meaning
    changes, and no comment is lost; files adopted from another set stay as they are. Ends with 0; with 1 if a file
    cannot be read and is left alone, or with --check if one would change; with 2 if it was called wrongly.
    """
    from .language import take_in
    from .language.layout import laid_out
    from .language.saving import CannotSaveError, save
    from .language.tailoring import adopted_in
    from .language.yaml_reader import read_yaml

    failed = False
    for folder, names in _asked(paths or (Path("protocols"),)).items():
        taken = take_in(folder)
        before: dict[str, str] = {}
        after: dict[str, str] = {}
        problems = list(taken.refused)
        adopted = adopted_in(taken.files, taken.shown)
        for path, data in taken.files.items():
            if taken.inside(path) in adopted or (names and taken.inside(path) not in names):
                continue
            laid = laid_out(data, path, taken.inside(path))
            problems += laid.problems
            old = read_yaml(data, path).text
            if not laid.problems and laid.text != old:
                before[path], after[path] = old, laid.text
        _tell(problems)
        for path in after:
            click.echo(f"{path}: {'would be laid out anew' if only_check else 'laid out anew'}")
        failed = failed or bool(problems) or (only_check and bool(after))
        if not only_check:
            try:
                save(folder, before, after)
            except CannotSaveError as error:
                raise click.UsageError(f"{error}.") from None
    ctx.exit(1 if failed else 0)


def _asked(paths: Iterable[Path]) -> dict[Path, set[str]]:
    """The folders that are asked for, with the names of single files below them; none for all."""
    found: dict[Path, set[str]] = {}
    whole: set[Path] = set()
    for path in paths:
        if path.is_dir() and (path / "clinic.yaml").is_file():
            found.setdefault(path, set())
            whole.add(path)
            continue
        parent = path.parent.parent if path.parent.name == "parts" else path.parent
        if not path.is_file() or not (parent / "clinic.yaml").is_file():
            raise click.UsageError(f"{path} is neither a folder with a clinic.yaml nor a file of one.")
        found.setdefault(parent, set()).add(path.relative_to(parent).as_posix())
    return {folder: set() if folder in whole else names for folder, names in found.items()}


def _tell(problems: Iterable[Problem]) -> None:
    from .reports.terminal import harmless

    for problem in problems:
        span = problem.span
        click.echo(harmless(f"{span.path}:{span.line}:{span.column}: left alone: {problem.message}"), err=True)
