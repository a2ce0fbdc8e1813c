"""A file cannot be read as the plain YAML that protocols are written in.

## Why it matters on the floor

A key that stands twice, or a value that means something else than it looks like, is how a text says
one thing to people and another to the program. The language takes the plain part of YAML 1.2 and
refuses the rest.

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
        do: Wipe the side table with detergent.
        do: Wipe the side table with disinfectant.
        makes: {side-table: disinfected}
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
        do: Wipe the side table with detergent, then with disinfectant.
        makes: {side-table: disinfected}
```

## Limits

Refused are keys that stand twice, anchors and aliases, tags, several documents in one file, files
over 1 MiB, nesting deeper than 32, hidden control characters, and what is not UTF-8. A file that is
refused is not checked further; the other files are.
"""

from __future__ import annotations

from ..problems import problem_rule

RULES = (problem_rule("bad-yaml", __doc__),)
