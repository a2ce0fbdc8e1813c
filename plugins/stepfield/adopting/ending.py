"""Ending a change of several files that was broken off between them, told for people."""

from __future__ import annotations

from pathlib import Path

from ..language.half_done import half_done_in
from .swapping import REPORTS, finish


class CannotEndError(Exception):
    """What was broken off cannot be ended, or is not to be; says why and what to do, for people."""


def ended(folder: Path, *, dry_run: bool) -> tuple[str, ...]:
    """Ends what was broken off in a set's folder; sentences that tell what it was, none if there was nothing.

    Raises CannotEndError if nothing is to be written, if the list of what is to be done is none that the program wrote,
    or if something cannot be written.
    """
    try:
        begun = half_done_in(folder)
        if begun is None:
            return ()
        if dry_run:
            raise CannotEndError(f"An earlier run was broken off between its files; end it with: {begun.command}.")
        end = finish(folder)
    except ValueError as error:
        raise CannotEndError(f"{folder.as_posix()}/{error}; take that folder away.") from None
    except OSError as error:
        raise CannotEndError(f"{error.filename2 or error.filename} cannot be written: {error.strerror}.") from None
    if end is None:
        return ()
    told = f"version {end.done.to} is taken in" if end.done.to else "the edits are in tailoring.yaml"
    see = "" if end.report is None else f", see {REPORTS}/{end.report.name}"
    return (
        f"Ended what was broken off: {told}{see}.",
        *(
            f"A file was changed in the meantime and replaced; as it was edited it lies in {REPORTS}/{kept.name}."
            for kept in end.kept
        ),
    )
