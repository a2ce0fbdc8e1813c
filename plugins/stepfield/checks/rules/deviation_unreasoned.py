"""A change makes the adopted text looser, and does not say why, who agreed, and until when.

## Why it matters on the floor

A need that is lowered, a check or a count that is left out may be right in this room. But it takes away something
that the shared text had for a reason, so somebody has to stand for it, and somebody has to look at it again.

## Example

```yaml
surfaces:
  side-table: {title: Side table}
phases:
  - phase: room
    title: Prepare the room
    steps:
      - id: wipe-table
        role: circulating
        do: Wipe the side table.
        makes: {side-table: disinfected}
      - id: look-round
        role: circulating
        do: Look whether every surface is dry.
        confirms: [room-dry]
# in tailoring.yaml:
baseline: {name: Quillhaven Day Surgery, version: 3.2.0}
changes:
  - protocol: example
    drop: look-round
    because: The room has one surface.
```

## Instead

```yaml
surfaces:
  side-table: {title: Side table}
phases:
  - phase: room
    title: Prepare the room
    steps:
      - id: wipe-table
        role: circulating
        do: Wipe the side table.
        makes: {side-table: disinfected}
      - id: look-round
        role: circulating
        do: Look whether every surface is dry.
        confirms: [room-dry]
# in tailoring.yaml:
baseline: {name: Quillhaven Day Surgery, version: 3.2.0}
changes:
  - protocol: example
    drop: look-round
    because: The room has one surface.
    agreed: {by: Infection-control board, date: 2026-06-02}
    until: 2027-05-01
```

## Limits

What a change does is taken from the fields it changes, not from its words: a sentence that tells of less work is
neutral to the program. A stricter or a neutral change needs no reason, though readers are glad of one. A change that
is stricter in one field and looser in another is looser. Whether a reason is a good one is for people to judge, and so
is settling a choice or leaving a whole protocol out.
"""

from __future__ import annotations

from collections.abc import Iterator

from ...language.names import listed
from ...language.tailored import Deviation
from ..deviations import Effect, grades_of
from ..facts import Facts
from ..finding import Finding, Severity
from ..rule import Rule
from ..words import quoted, sentence


def _check(facts: Facts) -> Iterator[Finding]:
    tailoring = facts.protocol_set.tailoring
    for deviation in tailoring.deviations if tailoring is not None else ():
        reason, grades = deviation.reason, grades_of(deviation)
        given = {"because": reason.because, "agreed": reason.agreed, "until": reason.until}
        missing = [name for name, value in given.items() if value is None]
        if grades[0].effect is not Effect.LOOSER or not missing:
            continue
        what = "taken for something else" if deviation.what == "thing" else _DONE[deviation.what]
        why = "; ".join(dict.fromkeys(one.reason for one in grades if one.effect is Effect.LOOSER))
        yield Finding(
            rule="deviation-unreasoned",
            severity=Severity.ERROR,
            span=deviation.span,
            message=sentence(
                f"{quoted(deviation.name)} is {what}, which is looser than the adopted text ({why}), "
                f"and the entry lacks {listed(missing, 'and')}"
            ),
            protocol=deviation.protocol,
            step=None if deviation.what == "thing" else deviation.name.value,
            subject=_subject(deviation, grades[0].field),
            advice=f"Write {_joined([_MISSING[name] for name in missing])} beside it; or take the entry out.",
        )


_DONE = {"set": "changed", "drop": "left out", "add": "added"}
_MISSING = {
    "because": "`because: …`",
    "agreed": "`agreed: {by: …, date: …}`",
    "until": "`until:` with the day on which it is looked at again",
}


def _joined(texts: list[str]) -> str:
    return " and ".join([", ".join(texts[:-1]), texts[-1]] if len(texts) > 1 else texts)


def _subject(deviation: Deviation, field: str) -> str | None:
    """What tells several entries about one step apart: the field that is looser, or the thing."""
    if deviation.what == "thing":
        return deviation.name.value
    return field if deviation.what == "set" else None


RULES = (Rule("deviation-unreasoned", Severity.ERROR, _check, __doc__),)
