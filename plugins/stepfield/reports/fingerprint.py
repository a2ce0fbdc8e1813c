"""What recognises a finding from one version of the text to the next, though lines have moved."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator

from ..checks import Finding


def fingerprint(finding: Finding) -> str:
    """A digest of what identifies the finding (rule, protocol, step, subject) and of its file; not of its line."""
    known = json.dumps([*finding.key, finding.span.path])
    return hashlib.sha256(known.encode("utf-8", "surrogatepass")).hexdigest()


def fingerprints(findings: Iterable[Finding]) -> Iterator[str]:
    """The fingerprint of each; findings that would share one are told apart by their turn."""
    seen: dict[str, int] = {}
    for finding in findings:
        one = fingerprint(finding)
        turn = seen[one] = seen.get(one, 0) + 1
        yield one if turn == 1 else hashlib.sha256(f"{one} {turn}".encode()).hexdigest()
