"""A small invented set for reviews, and ways to change it."""

from __future__ import annotations

import datetime

from stepfield.changes import Review, Reviewed, review_sets
from stepfield.language import build_set

TODAY = datetime.date(2026, 11, 1)
CLINIC = """\
clinic: Quillhaven Day Surgery
roles:
  surgeon: {title: Surgeon}
  scrub: {title: Scrub nurse}
  circulating: {title: Circulating nurse}
surfaces:
  prep-trolley: {title: Prep trolley}
"""
PART = """\
kind: part
title: Hand rub
for: {who: role}
steps:
  - id: rub
    role: who
    do: Rub your hands until they are dry.
    makes: {who.hands: disinfected}
    takes: 25 s
"""
EVIDENCE = """\
requirements:
  wipe-dry: {text: A wiped surface dries for a minute., source: Quillhaven house rules, limit: {at_least: 60 s}}
"""
PROTOCOL = """\
kind: protocol
title: Dressing
purpose: A small one.
version: 1.2.3
status: approved
owner: Infection-control lead
approved: {by: Infection-control board, date: 2026-10-01}
review_by: 2027-10-01
team: [surgeon, scrub, circulating]
choices:
  draping: {title: Draping, options: {one: One sheet, two: Two sheets}}
sites:
  skin: {title: Skin}
items:
  wipe: {title: Wipe, starts: clean}
  bin: {title: Bin, starts: clean}
packs:
  set-pack:
    title: Dressing pack
    holds:
      cover: {title: Cover, barrier: fluid-proof}
      swab: {title: Swab, count: 5}
phases:
  - phase: room
    title: Prepare the room
    steps:
      - id: wipe-trolley
        role: circulating
        do: Wipe the whole trolley from the far side towards you, and let it dry.
        why: Germs live in what is left wet.
        uses: {wipe: prep-trolley}
        makes: {prep-trolley: disinfected}
        takes: 2 min
        meets: [wipe-dry]
        records: [set-pack.lot]
      - id: throw-wipe
        role: circulating
        do: Throw the wipe away.
        discards: [wipe]
      - {use: hand-rub, as: hands, with: {who: scrub}}
      - id: check-list
        role: scrub
        do: Read the list of the day.
        confirms: [list-read]
      - id: tell-name
        role: surgeon
        do: Say your name.
        takes: 1 min
  - phase: work
    title: Do the work
    cautions:
      - {kind: general, text: Walk slowly.}
    steps:
      - {use: hand-rub, as: again, with: {who: circulating}}
      - id: open-pack
        role: circulating
        with: [scrub]
        do: Open the pack beside the trolley, and step back.
        requires: [list-read]
        opens: [set-pack]
        cautions:
          - {kind: general, text: Do not reach over the trolley.}
      - id: lay-cover
        role: scrub
        do: Lay the cover over the trolley.
        after: [open-pack]
        needs: {prep-trolley: disinfected, scrub.hands: disinfected}
        covers: {prep-trolley: cover}
        when: {draping: one}
        within: [{of: open-pack, at_most: 10 min}]
      - id: count-swabs
        role: scrub
        do: Count the swabs aloud.
        counts: [swab]
        waits: [{for: wipe-trolley, at_least: 2 min}]
      - id: look
        role: surgeon
        do: Look at the trolley.
        after: [count-swabs]
        asks: {question: Is all there?, answers: [yes-all, no]}
"""
FILES = {
    "protocols/clinic.yaml": CLINIC,
    "protocols/evidence.yaml": EVIDENCE,
    "protocols/dressing.yaml": PROTOCOL,
    "protocols/parts/hand-rub.yaml": PART,
}


def changed(*edits: tuple[str, str], file: str = "protocols/dressing.yaml") -> dict[str, str]:
    """The set with texts of one file replaced; each must be there once."""
    text = FILES[file]
    for old, new in edits:
        assert text.count(old) == 1, (text.count(old), old)
        text = text.replace(old, new)
    return {**FILES, file: text}


def review(after: dict[str, str], before: dict[str, str] = FILES) -> Review:
    sets = [build_set({path: text.encode() for path, text in files.items()}) for files in (before, after)]
    return review_sets(sets[0], sets[1], ("before", "after"), TODAY)


def dressing(after: dict[str, str], before: dict[str, str] = FILES) -> Reviewed | None:
    return next((one for one in review(after, before).protocols if one.protocol == "dressing"), None)
