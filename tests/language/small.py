"""A small protocol set that is right, to be changed in one place at a time."""

from __future__ import annotations

from stepfield.language import Problem, ProtocolSet, build_set

CLINIC = "protocols/clinic.yaml"
PROTOCOL = "protocols/release.yaml"
PART = "protocols/parts/hand-scrub.yaml"
EVIDENCE = "protocols/evidence.yaml"

FILES = {
    CLINIC: """\
clinic: Quillhaven Day Surgery
roles:
  surgeon: {title: Surgeon}
  scrub: {title: Scrub nurse}
  circulating: {title: Circulating nurse}
surfaces:
  prep-trolley: {title: Prep trolley}
""",
    PROTOCOL: """\
kind: protocol
title: Open release
purpose: Frees the nerve in the wrist.
version: 2.1.0
status: approved
owner: Infection-control lead
approved: {by: Infection-control board, date: 2026-10-01}
review_by: 2027-10-01
team: [surgeon, scrub, circulating]
choices:
  draping:
    title: Draping
    options: {one-sheet: One sheet, two-sheet: Two sheets}
surfaces: {hand-table: {title: Hand table, starts: clean}}
sites: {palm-skin: {title: Skin of the palm}}
items: {exam-gloves: {starts: clean, worn_on: hands, hazard: allergy, spare: 2}, scrub-towel: {starts: sterile}}
packs:
  room-pack:
    title: Hand-surgery pack
    holds:
      table-cover: {title: Table cover, barrier: fluid-proof}
      scalpel: {sharp: true}
      gauze: {count: 10, counted: true}
      inner-pack: {holds: {needle-holder: {reusable: true}}}
phases:
  - phase: room
    title: Prepare the room
    cautions: [{kind: splash, text: Eye protection on.}]
    steps:
      - {use: hand-scrub, as: scrub-wash, with: {who: scrub, towel: scrub-towel}}
      - id: open-pack
        role: circulating
        do: Open the pack.
        opens: [room-pack]
        asks: {question: "Whole, dry and in date?", answers: [whole, damaged]}
        repeat: {from: open-pack, answer: damaged}
        confirms: [pack-checked]
      - id: cover-trolley
        role: scrub
        with: [circulating]
        do: Spread the cover.
        why: It keeps the trolley sterile.
        after: [open-pack, scrub-wash]
        when: {draping: one-sheet, open-pack: [whole]}
        sterile: true
        needs: {prep-trolley: disinfected, scrub.hands: clean}
        requires: [pack-checked]
        discards: {scalpel: hand-table}
        makes: {palm-skin: disinfected}
        covers: {prep-trolley: table-cover}
        passes: {gauze: surgeon}
        opens: [inner-pack]
        withdraws: [pack-checked]
        takes: {least: 1 min, likely: 90 s, most: 0.1 h}
        waits: [{for: scrub-wash, at_least: 3 min}]
        within: [{of: open-pack, at_most: 1 d}]
        cautions: [{kind: sharps, text: Blade exposed.}]
        records: [room-pack.lot]
        meets: [scrub-time]
        ignition: true
        ends_field: true
""",
    PART: """\
kind: part
title: Surgical hand scrub
for: {who: role, towel: item}
steps:
  - {id: wet-hands, role: who, do: Wet your hands., makes: {who.hands: clean}}
  - id: dry-hands
    role: who
    do: Dry them.
    after: [wet-hands]
    touches: [towel]
    makes: {who.hands: disinfected}
    takes: 2 min
""",
    EVIDENCE: """\
requirements:
  scrub-time:
    text: Hands are scrubbed for at least two minutes.
    source: Example handbook
    year: 2024
    limit: {at_least: 2 min}
sets: {hands: [scrub-time]}
""",
}


def build(files: dict[str, str] | None = None, **more: str) -> ProtocolSet:
    """The set built from texts; ``more`` adds files by their stem."""
    texts = {**(FILES if files is None else files), **{f"protocols/{name}.yaml": text for name, text in more.items()}}
    return build_set({path: text.encode() for path, text in texts.items()})


def changed(old: str, new: str, path: str = PROTOCOL) -> dict[str, str]:
    """The files with one piece of text replaced; it must stand there exactly once."""
    assert FILES[path].count(old) == 1, old
    return {**FILES, path: FILES[path].replace(old, new)}


def told(old: str, new: str, path: str = PROTOCOL) -> list[Problem]:
    """The problems after one change."""
    return list(build(changed(old, new, path)).problems)


def the_text(problem: Problem, files: dict[str, str]) -> str:
    """What stands at a problem's place (of one line)."""
    span = problem.span
    assert span.line == span.end_line
    return files[span.path].split("\n")[span.line - 1][span.column - 1 : span.end_column - 1]
