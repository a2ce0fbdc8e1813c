"""An entry of tailoring.yaml meets nothing in the adopted set, or changes nothing in it.

## Why it matters on the floor

Whoever wrote the entry believes that the clinic does something its own way. It does not: the step has another name
by now, or the adopted text has moved on, and the team reads a page that nobody here decided on.

## Example

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
    expects: {takes: 10 min}
    set: {takes: 20 min}
    because: The air of this room changes slowly.
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
    expects: {takes: 15 min}
    set: {takes: 20 min}
    because: The air of this room changes slowly.
```

## Limits

An entry that is lost is not carried out; what the adopted text says holds. Only what stands under `expects` is held
against the adopted text: without it, an entry goes on whatever the baseline says by now. Two entries that set the same
field, and a step that is left out although others depend on its answer, are told here too.
"""

from __future__ import annotations

from ..problems import problem_rule

RULES = (problem_rule("tailoring-lost", __doc__),)
