"""A file of the adopted set is not what it was when it was taken over.

## Why it matters on the floor

A change made in the adopted file itself is seen by nobody: it has no reason beside it, no grade and no end, and it is
lost or in the way when the next version of the shared text is taken in.

## Example

```yaml
phases:
  - phase: room
    title: Prepare the room
    steps:
      - id: air-room
        role: circulating
        do: Let the air of the room change.
        takes: 20 min
# in upstream.yaml:
name: Quillhaven Day Surgery
version: 3.2.0
digests:
  example.yaml: sha256:cb4ff97f14538966be0116b95284d21c2534eebb848a7e4f478ecac22fb021eb
```

## Instead

```yaml
phases:
  - phase: room
    title: Prepare the room
    steps:
      - id: air-room
        role: circulating
        do: Let the air of the room change.
        takes: 15 min
# in tailoring.yaml:
baseline: {name: Quillhaven Day Surgery, version: 3.2.0}
changes:
  - protocol: example
    step: air-room
    set: {takes: 20 min}
    expects: {takes: 15 min}
    because: The air of this room changes slowly.
# in upstream.yaml:
name: Quillhaven Day Surgery
version: 3.2.0
digests:
  example.yaml: sha256:cb4ff97f14538966be0116b95284d21c2534eebb848a7e4f478ecac22fb021eb
```

## Limits

The digest tells that a file differs, not where; a version history shows that, if there is one. Line ends of another
system make no difference. Only files that upstream.yaml lists are looked at: clinic.yaml and tailoring.yaml are the
clinic's own, and so are protocols under `own`.
"""

from __future__ import annotations

from collections.abc import Iterator

from ...language.files import place_of
from ...language.source import Span
from ...language.tailored import Upstream
from ..facts import Facts
from ..finding import Finding, Note, Severity
from ..rule import Rule
from ..words import quoted


def _check(facts: Facts) -> Iterator[Finding]:
    upstream = facts.protocol_set.upstream
    if upstream is None:
        return
    for path, (key, digest) in upstream.digests.items():
        found = upstream.found.get(path)
        place = place_of(path, "")
        if found is None:
            yield Finding(
                rule="baseline-edited",
                severity=Severity.ERROR,
                span=key.span,
                message=f"The file {quoted(path)} of the adopted set is not there any more.",
                subject=place.id,
                advice=f"Put the file back as it was in {quoted(upstream.name)} {upstream.version}"
                f"{_left_out(place.id) if place.kind == 'protocol' else '.'}",
            )
        elif found != digest:
            yield Finding(
                rule="baseline-edited",
                severity=Severity.ERROR,
                span=Span(_beside(upstream, path), 1, 1, 1, 1),
                message=f"This file is not what it was in {quoted(upstream.name)} {upstream.version}: "
                f"somebody has changed it here.",
                protocol=place.protocol,
                subject=place.id,
                advice=_advice(place.kind, place.id),
                related=(Note(key.span, "the digest it had"),),
            )


def _left_out(protocol: str) -> str:
    return f"; if it is not used here, write `leave_out: [{protocol}]` in tailoring.yaml."


def _advice(kind: str | None, name: str) -> str:
    """How a change of such a file is carried."""
    if kind == "protocol":
        entry = (
            f"under changes, `- {{protocol: {name}, step: …, set: {{…}}, expects: {{…}}, because: …}}`, "
            "or drop: or add: for a whole step"
        )
    elif kind == "part":
        entry = (
            "under changes, an entry for each protocol that uses the part, with the step's full name, such as "
            "`step: scrub-wash.wet-hands`"
        )
    else:
        return (
            f"Put it back as it was: what stands in {name}.yaml cannot be changed here; offer the change to those who "
            "keep the shared text."
        )
    return (
        "Run `stepfield tailor`: it moves what was changed into tailoring.yaml and puts the file back as it was. "
        f"Or do both by hand: {entry}."
    )


def _beside(upstream: Upstream, path: str) -> str:
    folder, slash, _ = upstream.path.rpartition("/")
    return f"{folder}{slash}{path}"


RULES = (Rule("baseline-edited", Severity.ERROR, _check, __doc__),)
