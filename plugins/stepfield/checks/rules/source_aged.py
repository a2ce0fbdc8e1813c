"""A source that requirements rest on is older than the age the set names.

## Why it matters on the floor

Guidance is revised. What was right when it was printed may still be right; somebody has to look whether there is a
newer edition, and what it says otherwise.

## Example

```yaml
phases:
  - phase: prepare
    title: Prepare
    steps:
      - id: rub-hands
        role: scrub
        do: Rub your hands with alcohol hand rub until they are dry.
        takes: 30 s
        meets: [hand-rub-time]
# in evidence.yaml:
aged_after: 10
requirements:
  hand-rub-time:
    text: A hand rub takes at least 20 seconds until the hands are dry.
    source: WHO Guidelines on Hand Hygiene in Health Care
    year: 2009
    limit: {at_least: 20 s}
```

## Instead

```yaml
phases:
  - phase: prepare
    title: Prepare
    steps:
      - id: rub-hands
        role: scrub
        do: Rub your hands with alcohol hand rub until they are dry.
        takes: 30 s
        meets: [hand-rub-time]
# in evidence.yaml:
aged_after: 20
requirements:
  hand-rub-time:
    text: A hand rub takes at least 20 seconds until the hands are dry.
    source: WHO Guidelines on Hand Hygiene in Health Care
    year: 2009
    limit: {at_least: 20 s}
```

## Limits

Told only where evidence.yaml says `aged_after`, in years. A source without a year is not looked at, and whether there
is a newer edition is not known here.
"""

from __future__ import annotations

from collections.abc import Iterator

from ...language.model import Requirement
from ..facts import Facts
from ..finding import Finding, Severity
from ..rule import Rule
from ..tracing import is_aged
from ..words import folded, listed, quoted


def _check(facts: Facts) -> Iterator[Finding]:
    years = facts.protocol_set.aged_after
    if years is None:
        return
    resting: dict[tuple[str, int | None], list[Requirement]] = {}
    for one in facts.protocol_set.requirements:
        if is_aged(one, facts.today, years):
            resting.setdefault((" ".join(one.source.split()), one.year), []).append(one)
    for (source, year), found in resting.items():
        first = found[0]
        names = [quoted(name) for name in dict.fromkeys(one.table or one.id.value for one in found)]
        assert year is not None  # what has no year is not aged
        yield Finding(
            rule="source-aged",
            severity=Severity.NOTE,
            span=first.year_span or first.id.span,
            message=f"The source “{folded(source)}” is of {year}, {facts.today.year - year} years ago; on it "
            f"{'rests' if len(names) == 1 else 'rest'} {listed(names)}.",
            subject=first.table or first.id.value,
            advice="Look whether there is a newer edition and what it says otherwise; then write its year, "
            "or raise `aged_after`.",
        )


RULES = (Rule("source-aged", Severity.NOTE, _check, __doc__),)
