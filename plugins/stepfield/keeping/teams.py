"""Teams judged earlier, so that only a protocol that changed is judged anew."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping

from ..checks.staffing import staffing
from ..language.files import place_of
from ..language.model import Protocol, ProtocolSet
from ..planning.shortest import Scheduler, scheduler
from ..planning.teams import Teams
from ..reports.teams import teams_entry, teams_from
from .shelf import Kept, Shelf, key_of

Judge = Callable[[Protocol, ProtocolSet, Scheduler | None], Teams | str]


def teams_kept(
    protocol_set: ProtocolSet, folder: str, shelf: Shelf, judge: Judge = staffing
) -> Mapping[str, Teams | str]:
    """The teams of every protocol by its id, or why they cannot be judged.

    ``folder`` is how the set is shown, as in the paths of its files. Whether the solver is there decides what is known.
    """
    solve = scheduler()
    key = "teams-" + key_of(folder, str(solve is not None))
    known, kept, found = _known(shelf, key), {}, {}
    for protocol in protocol_set.protocols:
        mark = _mark(protocol, protocol_set, folder)
        teams = _read(known.get(mark))
        if teams is None:
            teams = judge(protocol, protocol_set, solve)
        found[protocol.id] = teams
        kept[mark] = teams if isinstance(teams, str) else teams_entry(teams)
    if kept != known:
        shelf.keep(key, Kept(json.dumps(kept), failed=False))
    return found


def _mark(protocol: Protocol, protocol_set: ProtocolSet, folder: str) -> str:
    """A digest of all that the protocol is read from: its file, its parts, and what holds for the whole set."""
    texts = [protocol.id]
    for path, text in sorted(protocol_set.sources.items()):
        place = place_of(path.removeprefix(f"{folder}/"), "")
        shared = place.kind not in ("protocol", "part") or (place.kind == "part" and place.id in protocol.parts)
        if path == protocol.path or shared:
            texts += [path, text]
    return key_of(*texts)


def _known(shelf: Shelf, key: str) -> dict[str, object]:
    kept = shelf.find(key)
    try:
        found = json.loads(kept.text) if kept is not None else {}
    except ValueError:
        return {}
    return found if isinstance(found, dict) else {}


def _read(entry: object) -> Teams | str | None:
    """The teams as they were kept; None where what was kept is no such thing."""
    if isinstance(entry, str):
        return entry
    try:
        return teams_from(entry) if isinstance(entry, dict) else None
    except (KeyError, TypeError, ValueError):
        return None
