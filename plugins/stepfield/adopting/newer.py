"""Catching up with a newer baseline: from the set as it is here and the newer baseline to what it comes to.

Pure: files go in and come out as bytes by their path in the set's folder. Nothing of the clinic's own is changed but
tailoring.yaml, and in it only what was decided.
"""

from __future__ import annotations

import datetime
import json
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from ..asepsis import DEFAULT_LIMIT
from ..changes import Review, review_sets
from ..checks import Finding
from ..language.build import build_set
from ..language.editing import CannotEditError
from ..language.files import place_of
from ..language.model import ProtocolSet
from ..language.tailoring import digest_of
from ..language.unused import names_used
from ..language.yaml_reader import read_yaml
from .beginning import Source, said, upstream_text
from .entries import entries_of
from .entry_text import TakenOut, Write, edited
from .fate import Met
from .fates import Texts, fates
from .here import (
    CLINIC,
    TAILORING,
    UPSTREAM,
    CannotCatchUpError,
    Files,
    Here,
    below,
    check_version,
    own_of,
    path_in,
    read_here,
    remarks_on,
)
from .loosened import Loosened, loosened
from .settling import Settled, edits_of
from .versions import is_numbered

_SHARED = ("protocol", "part", "evidence")


@dataclass(frozen=True, slots=True)
class Settling:
    """An entry, what becomes of it, and what was decided: keep, take, or None if somebody still has to decide."""

    met: Met
    decision: str | None


@dataclass(frozen=True, slots=True)
class CaughtUp:
    """What catching up comes to. ``before`` and ``after`` are all files of the set by their path in its folder.

    ``entries`` are those of tailoring.yaml, in written order. ``review`` tells what is new in the baseline, and
    ``loosened`` where it guards less. ``appeared`` are the findings that only the result has, ``vanished`` those that
    only the set as it was has. ``lacking`` says what clinic.yaml lacks, ``remarks`` what else somebody should know.
    """

    name: str
    old_version: str
    version: str
    before: Files
    after: Files
    entries: tuple[Settling, ...] = ()
    review: Review | None = None
    loosened: tuple[Loosened, ...] = ()
    appeared: tuple[Finding, ...] = ()
    vanished: tuple[Finding, ...] = ()
    lacking: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()

    @property
    def undecided(self) -> tuple[Settling, ...]:
        """The entries on which somebody has to decide before anything is written."""
        return tuple(one for one in self.entries if one.decision is None)

    @property
    def changed(self) -> Files:
        """The files that are new or other than before."""
        return {path: data for path, data in self.after.items() if self.before.get(path) != data}

    @property
    def removed(self) -> tuple[str, ...]:
        """The files that are there no more."""
        return tuple(sorted(self.before.keys() - self.after.keys()))


def catch_up(
    files: Files,
    source: Source,
    today: datetime.date,
    settled: Settled | None = None,
    *,
    shown: str = "protocols",
    limit: int = DEFAULT_LIMIT,
) -> CaughtUp:
    """What taking in a newer baseline comes to, as of ``today``; nothing is written.

    ``files`` are those of the adopted set by their path in its folder, which findings show as ``shown``; ``settled``
    says what is to become of the entries on which somebody has to decide. ``limit`` bounds the states of one protocol.
    Raises CannotCatchUpError if this is no adopted set, if it was edited, if the newer baseline is none or would take
    the place of a file of the clinic's own, and UnknownEntryError if ``settled`` names an entry that is not there.
    """
    here = read_here(files, shown)
    own = own_of(here, source)
    old = here.upstream.version.value
    digests = {path: digest for path, (_, digest) in here.upstream.digests.items()}
    same = digests == {path: digest_of(data) for path, data in source.files.items()}
    if same and (old == source.version or not is_numbered(source.version)):
        return CaughtUp(source.clinic.name, old, old, dict(files), dict(files))
    check_version(here, source)
    kept = {path: data for path, data in files.items() if path not in digests}
    after = {**kept, **source.files, UPSTREAM: upstream_text(source, today).encode()}
    texts = _texts(here, source, after, own)
    found = fates(entries_of(here.tailoring, here.wishes), texts)
    settled = settled or Settled()
    settled.check(found)
    entries = tuple(Settling(one, settled.of(one)) for one in found)
    after[TAILORING] = _tailoring(here, source, entries)
    result = build_set(below(shown, after), shown)
    findings = review_sets(here.whole, result, ("before", "after"), today, limit=limit)
    before, now = _used(here, texts.before), _used(here, texts.now)
    return CaughtUp(
        name=source.clinic.name,
        old_version=old,
        version=source.version,
        before=dict(files),
        after=dict(sorted(after.items())),
        entries=entries,
        review=review_sets(before, now, (old, source.version), today, judged=False),
        loosened=tuple(loosened(before, now)),
        appeared=findings.appeared,
        vanished=findings.vanished,
        lacking=tuple(_lacking(here, source, now)),
        remarks=tuple(remarks_on(here, source)),
    )


def _texts(here: Here, source: Source, after: Files, own: frozenset[str]) -> Texts:
    """The texts to be held against each other, both without local changes read with one clinic that lacks nothing."""
    clinic = _whole_clinic(here, source)

    def adopted(files: Files) -> ProtocolSet:
        """The set without local changes; the clinic's own protocols too, since they may use shared parts."""
        told = {path: data for path, data in files.items() if place_of(path, "").kind in _SHARED}
        return build_set(below(here.shown, {**told, CLINIC: clinic}), here.shown)

    return Texts(
        before=adopted(here.files),
        now=adopted(after),
        ours=here.whole,
        tried=build_set(below(here.shown, after), here.shown),
        same=own,
    )


def _used(here: Here, whole: ProtocolSet) -> ProtocolSet:
    """A text of the set without the protocols that are left out here."""
    unused = {one.value for one in here.wishes.leave_out}
    return replace(whole, protocols=tuple(one for one in whole.protocols if one.id not in unused))


def _whole_clinic(here: Here, source: Source) -> bytes:
    """clinic.yaml with the roles and surfaces it lacks, so that a name missing in it hides nothing else."""
    document = read_yaml(here.files[CLINIC], CLINIC).document
    assert document is not None
    plain: Any = document.plain()
    roles, surfaces = plain.get("roles") or {}, plain.get("surfaces") or {}
    plain["roles"] = {role.id.value: {"title": role.title} for role in source.clinic.roles} | roles
    plain["surfaces"] = {
        one.name.value: {"title": one.title, "starts": one.starts.word} for one in source.clinic.surfaces
    } | surfaces
    return json.dumps(plain, ensure_ascii=False).encode()


def _lacking(here: Here, source: Source, now: ProtocolSet) -> Iterator[str]:
    """What the newer baseline names and clinic.yaml does not have, and what to write."""
    clinic = here.whole.clinic
    roles = {role.id.value for role in clinic.roles} if clinic is not None else set()
    surfaces = {one.name.value for one in clinic.surfaces} if clinic is not None else set()
    named = {role.value for one in now.protocols for role in one.team}
    used = {name for one in now.protocols for name in names_used(one)}
    for role in source.clinic.roles:
        if role.id.value in named - roles:
            yield f"Write `{role.id}: {{title: {said(role.title)}}}` under `roles` in clinic.yaml."
    for one in source.clinic.surfaces:
        if one.name.value in used - surfaces:
            told = f"{one.name}: {{title: {said(one.title)}, starts: {one.starts.word}}}"
            yield f"Write `{told}` under `surfaces` in clinic.yaml."


def _tailoring(here: Here, source: Source, entries: tuple[Settling, ...]) -> bytes:
    """The new text of tailoring.yaml."""
    data = here.files[TAILORING]
    mark = b"\xef\xbb\xbf" if data.startswith(b"\xef\xbb\xbf") else b""
    edits: list[TakenOut | Write] = [Write(("baseline", "version"), source.version)]
    if here.wishes.baseline.value != source.clinic.name:
        edits.append(Write(("baseline", "name"), source.clinic.name))
    for one in entries:
        edits += edits_of(one.met, one.decision, source.version)
    try:
        return mark + edited(data.removeprefix(mark).decode(), path_in(here.shown, TAILORING), edits).encode()
    except CannotEditError as error:
        raise CannotCatchUpError(str(error)) from None
