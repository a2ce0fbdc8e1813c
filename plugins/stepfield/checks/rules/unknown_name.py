"""A name stands in the text that is declared nowhere.

## Why it matters on the floor

A misspelled pack or role is nobody's pack and nobody's task. The reader of a page can't tell
whether something else was meant, and no check looks at a thing that does not exist.

## Example

```yaml
items:
  apron: {title: Plastic apron, starts: clean, worn_on: body}
phases:
  - phase: clear
    title: Clear the room
    steps:
      - id: put-on-apron
        role: circulating
        do: Put on a plastic apron.
        dons: [aprom]
      - id: take-off-apron
        role: circulating
        do: Take off the apron and throw it away.
        doffs: [apron]
        discards: [apron]
```

## Instead

```yaml
items:
  apron: {title: Plastic apron, starts: clean, worn_on: body}
phases:
  - phase: clear
    title: Clear the room
    steps:
      - id: put-on-apron
        role: circulating
        do: Put on a plastic apron.
        dons: [apron]
      - id: take-off-apron
        role: circulating
        do: Take off the apron and throw it away.
        doffs: [apron]
        discards: [apron]
```

## Limits

Facts are not declared: a misspelled fact is told by `fact-missing`. Where exactly one name is near,
the check goes on as if that were meant, so that one slip is told once; where none is, the protocol
is not proved until it is mended.
"""

from __future__ import annotations

from ..problems import problem_rule

RULES = (problem_rule("unknown-name", __doc__, "Declare it, or write the name of something that is declared."),)
