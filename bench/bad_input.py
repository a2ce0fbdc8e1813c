"""Protocols that are too much: what is measured is that the answer is clear, comes soon and stays small."""

from __future__ import annotations

from collections.abc import Iterator

from .models import ROLES, Size, Written, coupled, protocol_sized


def bad_inputs() -> Iterator[tuple[str, Written]]:
    """(What is wrong, protocol)."""
    yield "more states than the bound (6 lanes of 30 steps, everything shared)", coupled(6, 30)
    yield "contradictory orders (180 steps in loops)", _looped(coupled(6, 30))
    yield "10,000 steps", _long(10_000)
    yield "2,000 steps, the most that is read", _long(2_000)
    yield "64 choices, each looked at by one step", _choosing(64)
    yield "64 choices that one step looks at together", _choosing(64, together=True)
    yield "64 choices, each looked at in two phases", _choosing(64, again=True)


def thousand() -> dict[str, Written]:
    """A thousand protocols of 40 steps, no two alike: one in ten has a slip."""
    return {
        f"protocol-{number:04}": {
            **protocol_sized(Size(40, 2 + number % 2, number % 2, 5, slip=number % 10 == 0)),
            "title": f"Protocol {number}",
        }
        for number in range(1000)
    }


def _looped(protocol: Written) -> Written:
    steps = protocol["phases"][0]["steps"]
    for number, step in enumerate(steps):
        step["after"] = [steps[(number * 7 + 31) % len(steps)]["id"]]
    return protocol


def _long(length: int) -> Written:
    """Two lanes that share a table; where more steps are written than are read, no more than fits a file is said."""
    sharing = {"touches": ["table-0"]} if length <= 2000 else {}
    steps = [{"id": f"step-{at}", "role": ROLES[at % 2], "do": "Go on.", **sharing} for at in range(length)]
    return {**coupled(2, 3), "phases": [{"phase": "all", "title": "All", "steps": steps}]}


def _choosing(count: int, *, together: bool = False, again: bool = False) -> Written:
    names = [f"choice-{number}" for number in range(count)]
    choices = {name: {"title": "A choice", "options": {"one": "One way", "other": "The other"}} for name in names}
    phases = []
    for phase in ("first", "second") if again else ("first",):
        steps = [
            {
                "id": f"{phase}-{at}",
                "role": ROLES[at % 2],
                "do": "Go on.",
                "when": {name: "one"},
                "touches": ["table-0"],
            }
            for at, name in enumerate(names)
        ]
        phases.append({"phase": phase, "title": phase, "steps": steps})
    if together:
        last = {"id": "last", "role": ROLES[0], "do": "Go on.", "when": dict.fromkeys(names, "one")}
        phases.append({"phase": "end", "title": "End", "steps": [last]})
    return {**coupled(2, 3), "choices": choices, "phases": phases}
