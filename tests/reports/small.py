"""A protocol set for the reports, as small as a finding with a story allows."""

from __future__ import annotations

import datetime

from stepfield.checks import Report, check_set, with_mends
from stepfield.language import build_set

TODAY = datetime.date(2026, 7, 1)
CLINIC = (
    "clinic: Quillhaven Day Surgery\nroles:\n  scrub: {title: Scrub nurse}\n  circulating: {title: Circulating nurse}\n"
)
HEAD = "kind: protocol\ntitle: Small room\nteam: [scrub, circulating]\n"


def report(body: str, *, clinic: str = CLINIC, head: str = HEAD, limit: int = 200_000, path: str = "set") -> Report:
    """The report on one protocol named ``room``."""
    files = {f"{path}/clinic.yaml": clinic.encode(), f"{path}/room.yaml": (head + body).encode()}
    return with_mends(check_set(build_set(files), TODAY, limit=limit), limit)


WIPED = """surfaces:
  side-table: {title: Side table}
phases:
  - phase: room
    steps:
      - id: wipe-table
        role: circulating
        do: Wipe the side table.
        makes: {side-table: disinfected}
      - id: set-out
        role: scrub
        do: Set out the dressings.
        needs: {side-table: disinfected}
"""
CLEAN = WIPED.replace("        needs: {", "        after: [wipe-table]\n        needs: {")


def long(steps: int) -> str:
    """A protocol of one person that fails at the last of so many steps."""
    lines = "".join(f"      - {{id: s{n}, role: scrub, do: Step number {n}.}}\n" for n in range(1, steps))
    last = "      - {id: last, role: scrub, do: Set out., needs: {side-table: disinfected}}\n"
    return f"surfaces: {{side-table: {{title: Side table}}}}\nphases:\n  - phase: room\n    steps:\n{lines}{last}"
