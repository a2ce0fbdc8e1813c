"""The examples of the manual pages made runnable: each is a protocol without its header, wrapped into a small set."""

from __future__ import annotations

import datetime
import re

from ..asepsis import DEFAULT_LIMIT
from ..language import build_set
from .accepting import with_acceptances
from .manual import Example
from .run import Report, check_set

DAY = datetime.date(2026, 7, 1)
"""The day the examples are judged on."""
CLINIC = """\
clinic: Quillhaven Day Surgery
roles:
  surgeon: {title: Surgeon}
  scrub: {title: Scrub nurse}
  circulating: {title: Circulating nurse}
"""
EVIDENCE = """\
requirements:
  hand-rub-time:
    text: A hand rub takes at least 20 seconds until the hands are dry.
    source: WHO Guidelines on Hand Hygiene in Health Care
    year: 2009
    limit: {at_least: 20 s}
sets:
  hand-care: [hand-rub-time]
"""
"""What examples may meet and adopt."""
HEADER = {
    "kind": "protocol",
    "title": "Example",
    "version": "1.0.0",
    "status": "draft",
    "owner": "infection-control lead",
    "team": "[surgeon, scrub, circulating]",
}
PATH = "protocols/example.yaml"
_OTHER_FILE = re.compile(r"^# in ([a-z-]+\.yaml):\n", re.MULTILINE)
"""The line of an example from which on it is another file of the set."""


def files_of(example: Example) -> dict[str, bytes]:
    """The example as the files of a protocol set; a header line that it has itself is not added."""
    body, *others = _OTHER_FILE.split(example.body)
    own = set(re.findall(r"^([a-z_]+):", body, re.MULTILINE))
    header = "".join(f"{key}: {value}\n" for key, value in HEADER.items() if key not in own)
    files = {"protocols/clinic.yaml": CLINIC, PATH: header + body}
    if re.search(r"^ *(meets|adopts):", body, re.MULTILINE):
        files["protocols/evidence.yaml"] = EVIDENCE
    files |= {f"protocols/{name}": text for name, text in zip(others[::2], others[1::2], strict=True)}
    return {path: text.encode() for path, text in files.items()}


def judge(example: Example) -> Report:
    """The report on an example."""
    return with_acceptances(check_set(build_set(files_of(example)), DAY, limit=example.limit or DEFAULT_LIMIT))
