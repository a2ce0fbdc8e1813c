"""An invented clinic that adopted a small invented set, with local changes of every kind; used by several tests."""

from __future__ import annotations

import datetime
from collections.abc import Mapping

from stepfield.adopting import Source, adopted_clinic
from stepfield.language import ProtocolSet, build_set

TODAY = datetime.date(2026, 11, 2)
CLINIC = (
    "clinic: Quillhaven Day Surgery\nlanguage: en\nroles: {scrub: {title: Scrub nurse}, runner: {title: Runner}}\n"
    "surfaces: {shelf: {title: Shelf, starts: clean}, bench: {title: Bench}}\n"
)
ROOM = """\
kind: protocol
title: Room
version: 1.0.0
status: approved
approved: {by: Board, date: 2026-10-01}
review_by: 2027-10-01
owner: lead
team: [scrub, runner]
choices: {light: {title: Light, options: {lamp: Ceiling lamp, head: Head lamp}}}
items: {cloth: {title: Cloth, starts: clean}, camera: {title: Camera, starts: clean}}
phases:
  - phase: room
    title: Prepare
    steps:
      - {id: rub, role: runner, do: Rub your hands., makes: {runner.hands: disinfected}, takes: 30 s}
      - {id: wipe, role: runner, do: Wipe the bench., uses: {cloth: bench}, makes: {bench: clean}, takes: 3 min}
      - {id: photo, role: scrub, do: Take a picture., touches: [camera], confirms: [pictured]}
      - {id: aim, role: scrub, do: Aim the lamp., when: {light: lamp}, after: [wipe]}
      - {id: wear, role: scrub, do: Put on the lamp., when: {light: head}}
      - {use: look, as: last, with: {who: scrub}}
"""
OTHER = (
    "kind: protocol\ntitle: Other room\nversion: 1.0.0\nowner: lead\nteam: [scrub]\n"
    "phases: [{phase: room, title: Room, steps: [{id: look, role: scrub, do: Look.}]}]\n"
)
LOOK = "kind: part\ntitle: Look\nfor: {who: role}\nsteps: [{id: look, role: who, do: Look round., why: Once more.}]\n"
BASELINE = {"room.yaml": ROOM, "other.yaml": OTHER, "parts/look.yaml": LOOK}
TAILORING = """\
baseline: {name: Quillhaven Day Surgery, version: 3.2.0}
roles: {runner: {title: Helper}}
items: {cloth: {title: Cloth 30 x 30 cm}}
choose: {room: {light: lamp}}
changes:
  - {protocol: room, step: wipe, set: {takes: 4 min}, expects: {takes: 3 min}, because: The bench is long.}
  - {protocol: room, step: last.look, set: {do: Look round from the door.}}
  - protocol: room
    drop: photo
    because: There is no camera.
    agreed: {by: Hygiene board, date: 2026-05-02}
    until: 2026-11-01
  - {protocol: room, add: {id: hum, role: runner, do: Hum.}, place: {after: wipe}, because: It is quiet here.}
leave_out: [other]
own: [mine]
"""
OWN = OTHER.replace("Other room", "My own room")


def adopted(
    tailoring: str = TAILORING,
    *,
    version: str = "3.2.0",
    name: str = "Harbour Lane",
    more: Mapping[str, str] | None = None,
) -> dict[str, bytes]:
    """Every file of a clinic that adopted the baseline, by its path; ``more`` are files of its own in protocols/."""
    clinic = build_set({"clinic.yaml": CLINIC.encode()}).clinic
    assert clinic is not None
    shared = {path: text.encode() for path, text in BASELINE.items()}
    files = dict(adopted_clinic(Source(clinic, version, shared, "../baseline"), name, TODAY))
    files["protocols/tailoring.yaml"] = tailoring.encode()
    files |= {f"protocols/{path}": text.encode() for path, text in (more or {"mine.yaml": OWN}).items()}
    return files


def set_in(files: Mapping[str, bytes]) -> ProtocolSet:
    """The protocol set among the files of a clinic."""
    return build_set({path: data for path, data in files.items() if path.startswith("protocols/")}, "protocols")
