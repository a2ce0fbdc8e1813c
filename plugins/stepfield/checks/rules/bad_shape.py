"""A file does not have the shape its kind of file must have.

## Why it matters on the floor

What the program cannot read as it was meant, it can neither check nor show. A key with a slip in it
would silently take a need or a caution out of every page; so it is refused.

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
        make: {side-table: clean}
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

A file with a bad shape is not checked further; the other files are.
"""

from __future__ import annotations

from ..problems import problem_rule

RULES = (problem_rule("bad-shape", __doc__),)
