"""A large clinic's protocol set, made up: so many protocols, four roles each, every text its own.

python -m tests.large.making FOLDER [PROTOCOLS]
"""

from __future__ import annotations

import itertools
import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from bench.models import Size, protocol_sized

SIZE = Size(44, 4, 2, 5)
ROLES = {
    "circulating": "Circulating nurse",
    "scrub": "Scrub nurse",
    "surgeon": "Surgeon",
    "assistant": "First assistant",
}
_VERBS = ("Prepare", "Check", "Hold", "Turn", "Settle", "Arrange", "Look over", "Bring forward", "Set right", "Keep to")
_THINGS = ("the lamp", "the stool", "the small bowl", "the tray", "the cable", "the sheet", "the footrest", "the tongs")
_WAYS = ("slowly and in good light", "from the far side", "with both hands", "as agreed before the case", "once more")
_WHYS = (
    "What is done in a hurry is done twice, and the second time nobody looks.",
    "The air over a table carries what falls from sleeves and hair.",
    "A colleague who comes in late has to see at once how far things are.",
)


def large_set(count: int = 100) -> dict[str, bytes]:
    """The files of a set of ``count`` protocols, by path below the set's folder. The same count gives the same text."""
    clinic = {"clinic": "Quillhaven Day Surgery", "roles": {role: {"title": title} for role, title in ROLES.items()}}
    written = {"clinic": clinic} | {f"case-{number:03}": _protocol(number) for number in range(1, count + 1)}
    return {f"{name}.yaml": json.dumps(said, indent=1).encode() for name, said in written.items()}


def write_large(folder: Path, count: int = 100) -> Path:
    """Writes the set into a folder, and gives the folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in large_set(count).items():
        (folder / name).write_bytes(content)
    return folder


def _protocol(number: int) -> dict[str, Any]:
    protocol = protocol_sized(SIZE)
    protocol["title"] = f"Made-up operation {number}"
    protocol["purpose"] = f"Shows what a page of operation {number} looks like."
    del protocol["items"]
    for pack in protocol["packs"].values():  # the tools that no step uses
        pack["holds"] = {name: held for name, held in pack["holds"].items() if name[-6:] not in ("tool-0", "tool-4")}
    told = _sentences(number)
    for phase in protocol["phases"]:
        phase["title"] = f"{phase['phase'].replace('-', ' ').capitalize()} for operation {number}"
        for place, step in enumerate(phase["steps"]):
            step["do"] = next(told)
            step["takes"] = {"least": "1 min", "likely": "2 min", "most": "4 min"}
            if place % 2:
                step["why"] = f"{_WHYS[(number + place) % len(_WHYS)]} So it is in operation {number}."
            if place % 5 == 0:
                step["cautions"] = [{"kind": "splash", "text": f"Mind the drip at operation {number}."}]
    return protocol


def _sentences(number: int) -> Iterator[str]:
    every = itertools.product(_WAYS, _THINGS, _VERBS)
    for place, (way, thing, verb) in enumerate(every):
        yield f"{verb} {thing} {way}. Do it for operation {number}, at mark {place}, and say so aloud."


if __name__ == "__main__":
    write_large(Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 100)
