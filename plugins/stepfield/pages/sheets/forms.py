"""The form for an inspection: what a protocol rests on, line by line, with room for what was seen."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from ...checks.tracing import Trace, Traced, kept_by
from ..limits import STATES, amount, limit_words, source_line, state_of
from ..reading import Reading
from ..words import opening


@dataclass(frozen=True, slots=True)
class Line:
    """One requirement; ``steps`` are the steps that answer it: how their text opens, and the numbers of those it is."""

    name: str
    text: str
    limit: str
    applies: str
    source: str
    certainty: str
    address: str
    aged: bool
    state: str
    said: str
    steps: tuple[tuple[str, str], ...]


def form_values(reading: Reading, trace: Trace) -> dict[str, object]:
    """What the template of the form asks for: the gaps first, then the rest in the order of the evidence."""
    name = reading.protocol.id
    lines = [_line(reading, row) for row in trace.rows if name in row.protocols]
    silent = next(one for one in trace.silent if one.protocol == name)
    return {
        "lines": tuple(sorted(lines, key=lambda line: line.state != "unmet")),
        "lacking": sum(line.state == "unmet" for line in lines),
        "aged_after": trace.aged_after,
        "silent": _by_text(reading, silent.steps),
        "silent_count": len(silent.steps),
        "guarding": silent.guarding,
    }


def _line(reading: Reading, row: Traced) -> Line:
    one, name = row.requirement, reading.protocol.id
    state = state_of(row, name)
    return Line(
        name=one.id.value,
        text=one.text,
        limit=limit_words(one.limit, reading.speech),
        applies=one.applies_to or "",
        source=source_line(one),
        certainty=one.certainty or "",
        address=one.link or "",
        aged=row.aged,
        state=state,
        said=reading.speech.say(STATES[state]),
        steps=_by_text(reading, row.met.get(name, ()), one.id.value),
    )


def _by_text(reading: Reading, numbers: Iterable[int], answered: str = "") -> tuple[tuple[str, str], ...]:
    """Steps as numbers and text; steps of one text, as a part that is used twice has them, stand together.

    Beside the text stands the value that the step keeps for the requirement that is ``answered``.
    """
    found: dict[str, list[str]] = {}
    for number in numbers:
        step = reading.steps[number]
        kept = kept_by(step, answered)
        value = f" ({amount(kept, reading.speech)})" if kept is not None else ""
        found.setdefault(f"{opening(step.do.value, 60)}{value}", []).append(str(number + 1))
    return tuple((", ".join(each), text) for text, each in found.items())
