"""Something is declared and never used.

## Why it matters on the floor

It is fetched, opened and thrown away for nothing, or the step that was to use it got lost.

## Example

```yaml
surfaces:
  side-table: {title: Side table}
  hand-table: {title: Hand table}
phases:
  - phase: room
    title: Prepare the room
    steps:
      - id: wipe-table
        role: circulating
        do: Wipe the side table.
        makes: {side-table: clean}
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
        makes: {side-table: clean}
```

## Limits

A note, never an error. Looked at are choices, surfaces, sites, items and packs, parts that no
protocol uses, and the names under `for` that a part never uses. Roles, facts and the members of the
team are not looked at, nor are protocols and parts in which some name is declared nowhere: the lost
use may be the misspelled one. For the same reason parts and the clinic's surfaces are not looked at
while a file cannot be read. In an adopted set, what only those steps and protocols use that are left
out here is passed over.
"""

from __future__ import annotations

from collections.abc import Iterator, Set

from ...language.model import Kind
from ...language.source import Text
from ...language.unused import names_in, names_used
from ..facts import Facts
from ..finding import Finding, Severity
from ..problems import from_problems
from ..rule import Rule
from ..slips import Setting
from ..words import quoted, sentence


def _check(facts: Facts) -> Iterator[Finding]:
    yield from from_problems(facts, "unused-name", Severity.NOTE)
    tailoring = facts.protocol_set.tailoring
    here = set() if tailoring is None else {tailoring.path}
    for examined in facts.examined:
        if examined.protocol.id not in facts.protocol_set.unsound:
            yield from _of_protocol(Setting(examined, facts), _before_tailoring(facts, examined.protocol.id), here)


def _before_tailoring(facts: Facts, protocol: str) -> Set[str]:
    """What steps of the adopted text use that are left out or done otherwise here: that is no slip in that text."""
    tailoring = facts.protocol_set.tailoring
    return names_in(tailoring.away.get(protocol, ())) if tailoring is not None else frozenset()


def _of_protocol(setting: Setting, before: Set[str], here: Set[str]) -> Iterator[Finding]:
    protocol, used = setting.protocol, names_used(setting.protocol) | before
    own = {protocol.path, *here}
    settled = {condition.name.value for step in protocol.steps for condition in step.when}
    for choice in protocol.choices:
        if choice.id.value not in settled:
            yield _finding(
                choice.id, protocol.id, f"the choice {quoted(choice.id)} is declared, but no step depends on it"
            )
    for name, subject in protocol.subjects.items():
        if subject.kind is Kind.PERSON or name in used or subject.name.span.path not in own:
            continue
        named = setting.naming.thing(name)
        kind = "an item" if subject.kind is Kind.ITEM else f"a {subject.kind.value}"
        place = f"in {setting.naming.thing(subject.held_in)}" if subject.held_in is not None else f"as {kind}"
        text = f"{named} {named.be} declared {place}, but no step uses {named.them}"
        yield _finding(subject.name, protocol.id, text)


def _finding(name: Text, protocol: str, text: str) -> Finding:
    return Finding(
        rule="unused-name",
        severity=Severity.NOTE,
        span=name.span,
        message=sentence(text),
        protocol=protocol,
        subject=name.value,
        advice="Leave it out, or add the step that uses it.",
    )


RULES = (Rule("unused-name", Severity.NOTE, _check, __doc__),)
