"""Every file of a clinic that adopts a protocol set. Pure: files come out as bytes by their paths."""

from __future__ import annotations

import datetime
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from ..language.model import Clinic
from ..language.source import Text
from ..language.tailoring import digest_of
from ..starting import new_clinic

_OWN = ("protocols/clinic.yaml", "protocols/first-protocol.yaml")
_HEAD = "# yaml-language-server: $schema=../schema/{}.schema.json\n"


@dataclass(frozen=True, slots=True)
class Source:
    """A set to be adopted: its clinic, and the shared files by their path in its folder."""

    clinic: Clinic
    version: str
    files: Mapping[str, bytes]
    place: str
    """Where it was taken from, as it was told."""
    commit: str | None = None


def adopted_clinic(source: Source, name: str, today: datetime.date) -> Mapping[str, bytes]:
    """Every file of the new clinic, by its path in the clinic's folder.

    The shared files are there byte by byte. Raises Refused if the name is empty or more than a line.
    """
    started = new_clinic(name, source.clinic.language)
    files = {path: text.encode() for path, text in started.items() if path not in _OWN}
    files |= {f"protocols/{path}": data for path, data in source.files.items()}
    files["protocols/clinic.yaml"] = _clinic(source, name.strip()).encode()
    files["protocols/upstream.yaml"] = upstream_text(source, today).encode()
    files["protocols/tailoring.yaml"] = _tailoring(source).encode()
    # The digests are those of the bytes: git must not write other line ends into these files.
    files[".gitattributes"] = b"/protocols/** -text\n"
    return dict(sorted(files.items()))


def _clinic(source: Source, name: str) -> str:
    clinic = source.clinic
    lines = [
        _HEAD.format("clinic"),
        "# Your own file: fill in what your roles are called and which surfaces your rooms have.\n",
        f"# The names before the colons are those of the protocols of {_line(clinic.name)}; leave them as they are.\n",
        f"clinic: {said(name)}\nlanguage: {said(clinic.language)}\nroles:\n",
        *(f"  {_key(role.id)}: {{title: {said(role.title)}}}\n" for role in clinic.roles),
    ]
    if clinic.surfaces:
        lines.append("surfaces:\n")
        lines += (
            f"  {_key(one.name)}: {{title: {said(one.title)}, starts: {one.starts.word}}}\n" for one in clinic.surfaces
        )
    lines.append(f"notice: {said(' '.join((clinic.notice or _NOTICE).split()))}\n")
    return "".join(lines)


def upstream_text(source: Source, today: datetime.date) -> str:
    """The text of upstream.yaml for a set taken in on a day."""
    return "".join(_upstream(source, today))


def _upstream(source: Source, today: datetime.date) -> Iterator[str]:
    yield _HEAD.format("upstream")
    yield "# Written by the program: where the shared files came from, and what they were. Leave it as it is.\n"
    yield f"name: {said(source.clinic.name)}\nversion: {source.version}\nsource: {said(source.place)}\n"
    if source.commit is not None:
        yield f'commit: "{source.commit}"\n'
    yield f"taken: {today.isoformat()}\ndigests:\n"
    for path, data in sorted(source.files.items()):
        yield f"  {path}: {digest_of(data)}\n"


def _tailoring(source: Source) -> str:
    return _HEAD.format("tailoring") + _TAILORING.format(name=said(source.clinic.name), version=source.version)


def said(text: str) -> str:
    """A text in quotes, as YAML and JSON both write it."""
    return json.dumps(text, ensure_ascii=False)


def _key(name: Text) -> str:
    """A name as a key; three words would be no text without quotes."""
    return said(name.value) if name.value in ("true", "false", "null") else name.value


def _line(text: str) -> str:
    return " ".join(text.split())


_NOTICE = "The unit's own policy and a licensed clinician's judgement come first."
_TAILORING = """\
# What your clinic does otherwise. The adopted files stay as they are; differences are written here, with their reasons.
# Take the # away from the lines that you need, and run `stepfield check` after each change.
baseline: {{name: {name}, version: {version}}}

# roles: {{scrub: {{title: Theatre assistant}}}}          # what a role is called here
# items: {{table-cover: {{title: Cover 150 x 190 cm}}}}    # what this clinic buys
# surfaces: {{wall-shelf: {{title: Wall shelf, in: [wrist-release]}}}}   # what is there only here, in these protocols
# choose: {{wrist-release: {{draping: one-sheet}}}}        # settle a choice for good
# leave_out: [toenail]                                 # protocols that are not used here
# own: [mole-check]                                    # protocols that only this clinic has
# changes:
#   - protocol: wrist-release
#     step: paint-skin                                 # set fields of a step
#     set: {{takes: 4 min}}
#     expects: {{takes: 3 min}}                          # what the adopted text says now
#     because: The local antiseptic needs a longer contact time.
#   - protocol: wrist-release
#     drop: photo                                      # leave a step out
#     because: There is no camera in the room.
#     agreed: {{by: Infection-control board, date: 2026-11-02}}
#     until: 2027-05-01
#   - protocol: wrist-release
#     add: {{id: warm-blanket, role: circulating, do: Lay a warm blanket over the legs.}}
#     place: {{after: paint-skin}}                       # or before
#     because: The room is cold.
"""
