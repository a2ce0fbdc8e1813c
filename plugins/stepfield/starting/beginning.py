"""The first text of a protocol, a part or a whole clinic. Pure: files come out as texts by their paths."""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Mapping, Sequence
from pathlib import Path

from .. import __version__
from ..language.schemas import KINDS, SHARED, schema_folder

ID = re.compile(r"[a-z][a-z0-9-]{0,39}")
"""What a protocol, a part, a role or a step may be called."""
_CLINIC_FILES = Path(__file__).parent / "clinic_files"


class Refused(Exception):  # noqa: N818 - it is no fault of the program
    """What was asked for can't be begun; the message says why, and what to write instead."""


def as_id(text: str, most: int = 40) -> str:
    """The nearest id to a text: small letters, digits and hyphens; empty if nothing of it can be kept."""
    plain = unicodedata.normalize("NFKD", text.replace("ß", "ss")).encode("ascii", "ignore").decode().lower()
    words = re.sub(r"[^a-z0-9]+", "-", plain).strip("-0123456789" if plain[:1].isdigit() else "-")
    words = words.lstrip("-0123456789")
    if words in ("true", "false", "null"):  # in YAML these are no text
        words += "-one"
    if len(words) <= most:
        return words
    return words[:most].rpartition("-")[0].strip("-") or words[:most]


def checked_id(name: str, what: str) -> str:
    """The name itself if it is an id. Raises Refused with the nearest id otherwise."""
    if ID.fullmatch(name):
        return name
    near = as_id(name)
    hint = f"; for instance {near}" if near else ""
    raise Refused(f"{name!r} can't be the name of a {what}: small letters, digits and hyphens, at most 40{hint}")


def titled(name: str) -> str:
    """An id as a title."""
    words = name.replace("-", " ")
    return words[:1].upper() + words[1:]


def modeline(kind: str, depth: int) -> str:
    """The line by which editors find the schema, from a file ``depth`` folders below the clinic's own."""
    return f"# yaml-language-server: $schema={'../' * depth}schema/{kind}.schema.json\n"


def new_protocol(name: str, roles: Sequence[str]) -> str:
    """A protocol of three steps that checks clean. ``roles`` are those of the clinic; the first two are used.

    Raises Refused if the name is no id or the clinic has no role.
    """
    if not roles:
        raise Refused("the clinic has no role yet; add one under roles: in clinic.yaml")
    first, second = roles[0], roles[min(1, len(roles) - 1)]
    team = dict.fromkeys((first, second))
    return modeline("protocol", 1) + _PROTOCOL.format(
        title=titled(checked_id(name, "protocol")), first=first, second=second, team=", ".join(team)
    )


def new_part(name: str) -> str:
    """A part of two steps. Raises Refused if the name is no id."""
    return modeline("part", 2) + _PART.format(title=titled(checked_id(name, "part")), name=name)


def new_clinic(name: str, language: str = "en") -> Mapping[str, str]:
    """Every file of a new clinic, by its path in the clinic's folder; it checks clean and builds a site at once.

    Raises Refused if the name is empty or more than a line.
    """
    if not name.strip() or len(name) > 200 or not name.isprintable():
        raise Refused("give the clinic a name on one line, such as 'Harbour Lane Day Surgery'")
    roles = ("surgeon", "scrub", "circulating")
    files = {
        path.relative_to(_CLINIC_FILES).as_posix().removesuffix(".txt").replace("dot-", "."): path.read_text("utf-8")
        for path in sorted(_CLINIC_FILES.rglob("*.txt"))
    }
    for kind in (*KINDS, SHARED):
        text = (schema_folder() / f"{kind}.schema.json").read_text("utf-8")
        files[f"schema/{kind}.schema.json"] = text
    said = json.dumps(name.strip(), ensure_ascii=False)
    marks = {"@CLINIC@": said, "@LANGUAGE@": language, "@VERSION@": __version__}
    files = {path: re.sub("|".join(marks), lambda found: marks[found[0]], text) for path, text in files.items()}
    files["protocols/first-protocol.yaml"] = new_protocol("first-protocol", roles[1:])
    return dict(sorted(files.items()))


_PROTOCOL = """\
# A beginning: change every line to what your team does, and run `stepfield check` after each change.
kind: protocol
title: {title}
purpose: Say in a sentence or two what this protocol is for.
version: 0.1.0
status: draft  # then in-review; then approved, with approved: and review_by:
owner: infection-control lead
team: [{team}]  # roles of clinic.yaml

surfaces:
  work-table: {{title: Work table}}  # contaminated until something makes it better

phases:  # everybody finishes a phase before anybody begins the next
  - phase: prepare
    title: Prepare the table
    steps:  # each role does its own steps in this order
      - id: rub-hands
        role: {first}
        do: Rub your hands with alcohol hand rub until they are dry.
        makes: {{{first}.hands: clean}}

      - id: wipe-table
        role: {first}
        do: Wipe the work table with the disinfectant and let it dry.
        needs: {{{first}.hands: clean}}
        makes: {{work-table: disinfected}}

      - id: look-at-table
        role: {second}
        do: See that the work table is dry and that nothing lies on it.
        after: [wipe-table]  # order between roles is only what is said: without this line the check fails
        needs: {{work-table: disinfected}}
"""
_PART = """\
# A part is written once and used by several protocols, in their list of steps:
#   - {{use: {name}, as: {name}-first, with: {{who: scrub}}}}
kind: part
title: {title}
for: {{who: role}}  # what each use has to name

steps:
  - id: look-at-hands
    role: who
    do: Take off rings and watch, and look at your hands for cuts and dirt.

  - id: rub-hands
    role: who
    do: Rub your hands with alcohol hand rub until they are dry.
    makes: {{who.hands: clean}}
"""
