"""A small set about things, whose lists and remarks are worked out by hand in the tests."""

from __future__ import annotations

from stepfield.language import ProtocolSet, build_set
from stepfield.planning.uses import Uses

CLINIC = """\
clinic: Quillhaven Day Surgery
roles: {surgeon: {title: Surgeon}, scrub: {title: Scrub nurse}}
"""
BLISTER = """\
kind: protocol
title: Opening a blister
purpose: A small case about things.
version: 0.1.0
status: draft
owner: Lead
team: [surgeon, scrub]
choices:
  cover: {title: Cover, options: {plaster: Plaster, bandage: Bandage}}
  side: {title: Side, options: {left: Left, right: Right}}
sites: {skin: {title: Skin}}
items:
  mask: {title: Mask, starts: clean, worn_on: face}
  wipe: {title: Sterile wipe, starts: sterile, spare: 2}
packs:
  base:
    title: Base pack
    holds:
      needle: {title: Needle, sharp: true, spare: 1}
      swabs: {title: Swabs, count: 5, counted: true}
      plaster: {title: Plaster}
      bandage: {title: Bandage, count: 2}
      tray: {title: Tray}
  extra:
    title: Extra pack
    holds:
      gauze: {title: Gauze}
      swabs-more: {title: swabs}
  shut:
    title: Shut pack
    holds: {ointment: {title: Ointment}}
phases:
  - phase: prepare
    title: Prepare
    steps:
      - {id: mask, role: surgeon, do: Put on the mask., dons: [mask], takes: 1 min}
      - {id: open-base, role: scrub, do: Open., opens: [base], takes: 2 min}
      - {id: open-extra, role: scrub, do: Open., opens: [extra]}
      - {id: count, role: scrub, do: Count., counts: [swabs], takes: 4 min}
  - phase: work
    title: Work
    steps:
      - {id: wipe, role: surgeon, do: Wipe., uses: {wipe: skin}, takes: 40 min}
      - {id: prick, role: surgeon, do: Prick., uses: {needle: skin}, takes: 1 min}
      - {id: stick, role: surgeon, do: Stick it on., when: {cover: plaster}, uses: {plaster: skin}}
      - {id: wrap, role: surgeon, do: Wrap., when: {cover: bandage}, uses: {bandage: skin, gauze: skin}}
      - {id: soothe, role: surgeon, do: Soothe., when: {side: left}, uses: {ointment: skin}}
      - {id: clear, role: scrub, do: Clear., after: [wrap], discards: [swabs, plaster, bandage, gauze]}
"""


def blister(text: str = BLISTER, **more: str) -> ProtocolSet:
    """The set with its one protocol, and further files by their stems."""
    files = {"clinic": CLINIC, "blister": text, **more}
    found = build_set({f"p/{name}.yaml": content.encode() for name, content in files.items()})
    assert [one for one in found.problems if one.rule != "unused-name"] == []
    return found


def uses_of(found: ProtocolSet, name: str = "blister") -> Uses:
    """The uses of one protocol of a set."""
    return Uses(next(one for one in found.protocols if one.id == name))
