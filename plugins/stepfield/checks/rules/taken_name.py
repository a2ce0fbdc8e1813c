"""One name is declared twice in a protocol.

## Why it matters on the floor

Two things with one name are one thing to the reader of a card: the wrong tray is opened, the wrong
step is waited for.

## Example

```yaml
surfaces:
  side-table: {title: Side table}
items:
  side-table: {title: Cover of the side table}
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
items:
  table-cover: {title: Cover of the side table}
phases:
  - phase: room
    title: Prepare the room
    steps:
      - id: wipe-table
        role: circulating
        do: Wipe the side table.
        makes: {side-table: clean}
      - id: lay-cover
        role: circulating
        do: Lay the folded cover on the side table.
        lays: {table-cover: side-table}
```

## Limits

Surfaces, sites, items, packs and what they hold share their names with the clinic's surfaces;
steps, phases and uses of parts have theirs. A pack that lies in itself is told with the way round.
Titles may be alike.
"""

from __future__ import annotations

from ..problems import problem_rule

RULES = (problem_rule("taken-name", __doc__),)
