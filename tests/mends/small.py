"""Protocol sets as small as a mend allows."""

from __future__ import annotations

from stepfield.checks import Finding
from tests.mends.texts import Texts, report_of

CLINIC = """clinic: Quillhaven Day Surgery
roles:
  surgeon: {title: Surgeon}
  scrub: {title: Scrub nurse}
  circulating: {title: Circulating nurse}
surfaces: {table: {title: Side table}}
"""
RUB = """kind: part
title: Hand rub
for: {who: role}
steps:
  - {id: rub, role: who, do: Rub your hands., makes: {who.hands: disinfected}}
"""


def protocol(steps: str, more: str = "") -> str:
    """A protocol of one phase, its steps written without indentation."""
    lines = "".join(f"      {line}\n" if line else "\n" for line in steps.strip("\n").split("\n"))
    head = "kind: protocol\ntitle: Small room\nteam: [surgeon, scrub, circulating]\n"
    return f"{head}{more}phases:\n  - phase: room\n    steps:\n{lines}"


def small(steps: str, more: str = "", **parts: str) -> Texts:
    """A set with the protocol ``room`` and some parts; an underscore in a part's name stands for a hyphen."""
    named = {f"protocols/parts/{name.replace('_', '-')}.yaml": text for name, text in parts.items()}
    return {"protocols/clinic.yaml": CLINIC, "protocols/room.yaml": protocol(steps, more), **named}


def finding(texts: Texts, rule: str, **bounds: int) -> Finding:
    """The only finding of a rule."""
    (found,) = (one for one in report_of(texts, **bounds).findings if one.rule == rule)
    return found


def said(texts: Texts, rule: str) -> list[str]:
    """What the mends of the only finding of a rule say."""
    return [mend.say for mend in finding(texts, rule).mends]
