"""A small invented set, adopted by another clinic, and ways to take a newer text of it in."""

from __future__ import annotations

import datetime
from collections.abc import Mapping

from stepfield.adopting import CaughtUp, Settled, Source, adopted_clinic, catch_up
from stepfield.language import build_set

TODAY = datetime.date(2026, 11, 2)
CLINIC = """\
clinic: Quillhaven Day Surgery
language: en
roles: {scrub: {title: Scrub nurse}, circulating: {title: Circulating nurse}}
surfaces: {side-table: {title: Side table}}
"""
ROOM = """\
kind: protocol
title: Room
version: 1.0.0
owner: lead
team: [scrub, circulating]
choices: {size: {options: {big: Big, small: Small}}}
surfaces: {tray: {title: Tray}}
items: {swab: {count: 10}, cloth: {title: Cloth}}
phases:
  - phase: room
    steps:
      - {id: look, role: circulating, do: Look at the room., takes: 2 min, touches: [tray]}
      - {id: wipe, role: scrub, do: Wipe the table., makes: {side-table: disinfected}, takes: 3 min, touches: [cloth]}
      - {id: photo, role: circulating, do: Take a photo of the room., why: For the file.}
      - {id: tidy, role: scrub, do: Tidy up., when: {size: big}, touches: [swab, tray]}
      - {use: rub, as: hands, with: {who: scrub}}
"""
HALL = """\
kind: protocol
title: Hall
version: 1.0.0
owner: lead
team: [circulating]
phases:
  - phase: hall
    steps:
      - {id: sweep, role: circulating, do: Sweep the hall., takes: 5 min}
      - {id: air, role: circulating, do: Open the windows of the hall.}
"""
RUB = """\
kind: part
title: Hand rub
for: {who: role}
steps:
  - {id: rub, role: who, do: Rub your hands., makes: {who.hands: disinfected}, takes: 25 s}
"""
BASE = {"room.yaml": ROOM, "hall.yaml": HALL, "parts/rub.yaml": RUB}
HEAD = 'baseline: {name: "Quillhaven Day Surgery", version: 1.0.0}\n'
LOOSER = "because: x, agreed: {by: Board, date: 2026-01-01}, until: 2027-01-01"


def source(files: Mapping[str, str] = BASE, version: str = "1.0.0", clinic: str = CLINIC) -> Source:
    """A text of the set as it is handed on."""
    whole = build_set(
        {"p/clinic.yaml": clinic.encode(), **{f"p/{path}": text.encode() for path, text in files.items()}}
    )
    assert whole.clinic is not None
    return Source(whole.clinic, version, {path: text.encode() for path, text in files.items()}, "../quillhaven")


def adopted(old: Source | None = None, **own: str) -> dict[str, bytes]:
    """The files of a clinic's set that adopted it; ``own`` are the entries of tailoring.yaml, by their key."""
    files = adopted_clinic(old or source(), "Larkmere Hand Clinic", TODAY)
    found = {path.removeprefix("protocols/"): data for path, data in files.items() if path.startswith("protocols/")}
    if own:
        found["tailoring.yaml"] = (HEAD + "".join(f"{key}: {text}\n" for key, text in own.items())).encode()
    return found


def changed(*edits: tuple[str, str, str], version: str = "1.1.0", **more: str) -> Source:
    """The newer text: for each edit the file, what stood in it and what stands there now; ``more`` are other files."""
    files = dict(BASE)
    for path, old, new in edits:
        assert old in files[path], old
        files[path] = files[path].replace(old, new)
    files |= {f"{name}.yaml": text for name, text in more.items()}
    return source(files, version)


def caught(files: Mapping[str, bytes], newer: Source, settled: Settled | None = None) -> CaughtUp:
    """What taking the newer text in comes to."""
    return catch_up(files, newer, TODAY, settled, shown="p")
