"""The set as it is here before it catches up, and every reason for which it cannot."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from ..language.build import build_set
from ..language.files import place_of
from ..language.model import ProtocolSet
from ..language.names import listed, quoted
from ..language.source import Problem
from ..language.tailored import Upstream
from ..language.tailoring import Wishes, read_tailoring
from ..language.yaml_nodes import Document
from ..language.yaml_reader import read_yaml
from .beginning import Source
from .versions import is_numbered, is_older

Files = Mapping[str, bytes]
TAILORING, UPSTREAM, CLINIC = "tailoring.yaml", "upstream.yaml", "clinic.yaml"


class CannotCatchUpError(Exception):
    """The newer baseline cannot be taken in; says why and what to do, for people."""


@dataclass(frozen=True, slots=True)
class Here:
    """The set as it is here: its files, what is read of them, and how findings show their folder."""

    files: Files
    shown: str
    whole: ProtocolSet
    upstream: Upstream
    tailoring: Document
    wishes: Wishes


def read_here(files: Files, shown: str) -> Here:
    """The set as it is. Raises CannotCatchUpError if it is not adopted, was edited, or cannot be read as meant."""
    for path in (UPSTREAM, TAILORING, CLINIC):
        if path not in files:
            raise CannotCatchUpError(f"there is no {path} in {shown}: this is no set that was adopted from another")
    whole = build_set(below(shown, files), shown)
    tailoring = read_yaml(files[TAILORING], path_in(shown, TAILORING)).document
    for problem in whole.problems:
        if problem.rule in ("bad-yaml", "bad-shape") and problem.span.path in {
            path_in(shown, path) for path in (UPSTREAM, TAILORING, CLINIC)
        }:
            _refuse(problem)
    upstream = whole.upstream
    assert upstream is not None
    assert tailoring is not None
    other = [path for path, (_, digest) in upstream.digests.items() if upstream.found.get(path) not in (None, digest)]
    gone = [path for path in upstream.digests if path not in upstream.found]
    if other:
        raise CannotCatchUpError(
            f"{listed(other, 'and')} {'was' if len(other) == 1 else 'were'} edited here, and catching up would lose "
            "that; move it into tailoring.yaml with `stepfield tailor`, or put the file back as it was"
        )
    if gone:
        raise CannotCatchUpError(
            f"{listed(gone, 'and')} of the adopted set is not there any more; put it back as it was in "
            f"{upstream.version}, and name a protocol that is not used here under leave_out in tailoring.yaml"
        )
    return Here(files, shown, whole, upstream, tailoring, read_tailoring(tailoring, []))


def source_named(files: Files) -> str | None:
    """Where upstream.yaml says that the set came from; None if it does not say, or cannot be read."""
    document = read_yaml(files[UPSTREAM], UPSTREAM).document if UPSTREAM in files else None
    root = None if document is None else document.plain()
    named = root.get("source") if isinstance(root, dict) else None
    return named if isinstance(named, str) else None


def _refuse(problem: Problem) -> None:
    raise CannotCatchUpError(
        f"{problem.span.path} line {problem.span.line} cannot be read as meant: {problem.message}; mend that first"
    )


def own_of(here: Here, source: Source) -> frozenset[str]:
    """The clinic's own protocols that the baseline now has word for word.

    Raises CannotCatchUpError if the newer baseline has a file that is another one of the clinic's own.
    """
    clash = [path for path in source.files if path in here.files and path not in here.upstream.digests]
    other = [path for path in clash if here.files[path] != source.files[path]]
    if other:
        names = listed(other, "and")
        ids = [place_of(path, "").id for path in other]
        raise CannotCatchUpError(
            f"the newer baseline has {names}, and your clinic has another file of that name; rename yours, "
            f"such as {quoted(f'own-{ids[0]}')}, in `own` of tailoring.yaml and wherever it is named; then catch up"
        )
    return frozenset(place_of(path, "").id for path in clash)


def check_version(here: Here, source: Source) -> None:
    """Raises CannotCatchUpError if what is to be taken in is no newer text of the same set."""
    old, new = here.upstream.version.value, source.version
    if not is_numbered(new) and is_numbered(old):
        raise CannotCatchUpError(
            f"version {old} was adopted, and what is to be taken in has no version: say which it is, such as "
            "`--version 3.3.0`, or name a tag that is called after it as `--ref`"
        )
    if old == new:
        raise CannotCatchUpError(
            f"version {old} is the one that was adopted, but its files are others: have the newer one given a version "
            "of its own, and name it with `--version` or `--ref`"
        )
    if is_numbered(old) and is_older(new, old):
        raise CannotCatchUpError(f"version {new} is older than {old}, which was adopted; there is nothing to catch up")
    if not {*source.files} & {*here.upstream.digests}:
        raise CannotCatchUpError(
            f"{source.place} has no file in common with the set that was adopted: it seems to be another set"
        )


def remarks_on(here: Here, source: Source) -> Iterator[str]:
    """What else somebody should know."""
    if here.upstream.name.value != source.clinic.name:
        was = here.upstream.name.value
        yield f"The set was that of {quoted(was)}, and is that of {quoted(source.clinic.name)} now."
    if not is_numbered(source.version) and source.version != here.upstream.version.value:
        yield "Neither text has a version that somebody gave: which of the two is the newer one is not known."
    left_out = [one.value for one in here.wishes.leave_out]
    if left_out:
        yield f"What is new in {listed(left_out, 'and')} is not told, since that is left out here."


def below(shown: str, files: Files) -> Files:
    """The files by the path that findings show."""
    return {path_in(shown, path): data for path, data in files.items()}


def path_in(shown: str, path: str) -> str:
    """A file as findings show it."""
    return f"{shown}/{path}" if shown else path
