"""What a set rests on: requirements with the steps that answer them, in words, as JSON and as a table."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator
from typing import Any

from ..checks.tracing import Trace, Traced, kept_by, tables
from ..checks.words import folded, listed, quoted
from ..language.model import Requirement
from .tables import Table
from .terminal import harmless

CAUTION = (
    "A step says itself that it answers a requirement; whether its words do what the source asks, people must judge. "
    "Times, and values that a step keeps, are held against the limits by stepfield check."
)
HEADINGS = (
    "requirement", "text", "applies to", "limit", "source", "section", "year", "aged", "certainty", "link",
    "protocol", "version", "status", "adopted through", "steps", "state",
)  # fmt: skip
MET, UNMET, UNADOPTED, MET_ONLY = "met", "adopted, not met", "not adopted", "met, not adopted"


def evidence_text(trace: Trace) -> str:
    """The trace in words, gaps first."""
    return "".join(f"{harmless(line)}\n" for line in _lines(trace))


def evidence_json(trace: Trace) -> str:
    """The trace as one JSON object in ASCII."""
    found = {
        "requirements": [_entry(row, trace) for row in trace.rows],
        "silent": [
            {
                "protocol": one.protocol,
                "guarding": one.guarding,
                "steps": [trace.protocols[one.protocol].steps[number].id.value for number in one.steps],
            }
            for one in trace.silent
        ],
        "aged_after": trace.aged_after,
        "caution": CAUTION,
    }
    return json.dumps(found, indent=2) + "\n"


def evidence_table(trace: Trace) -> Table:
    """One row for each requirement and each protocol that has to do with it; one for a requirement with none."""
    rows = []
    for row in trace.rows:
        one = row.requirement
        head = (
            one.id.value, _flat(one.text), one.applies_to or "", str(one.limit or ""), _flat(one.source),
            one.section or "", one.year or "", "yes" if row.aged else "", one.certainty or "", one.link or "",
        )  # fmt: skip
        for name in row.protocols:
            protocol = trace.protocols[name]
            steps = ", ".join(_steps(row, name, trace))
            rows.append(
                (*head, name, protocol.version.value, protocol.status.value, row.adopted.get(name, ""), steps,
                 state_of(row, name))
            )  # fmt: skip
        if not row.protocols:
            rows.append((*head, "", "", "", "", "", UNADOPTED))
    return Table("What this rests on", HEADINGS, tuple(rows))


def state_of(row: Traced, protocol: str) -> str:
    """How one protocol stands to one requirement, in a word or two."""
    if protocol not in row.met:
        return UNMET if protocol in row.adopted else UNADOPTED
    return MET if protocol in row.adopted else MET_ONLY


def source_of(one: Requirement) -> str:
    """Source, section and year on one line."""
    return ", ".join(part for part in (_flat(one.source), one.section, str(one.year) if one.year else None) if part)


def _lines(trace: Trace) -> Iterator[str]:
    groups = list(tables(trace.rows))
    if not groups:
        yield "There is no evidence.yaml with requirements: nothing in this set names what it rests on."
        return
    cases = [group for group in groups if group[0].requirement.table is not None]
    more = f", {len(cases)} of them tables with {sum(map(len, cases))} cases" if cases else ""
    yield f"{_counted(len(groups), 'requirement')}{more}; {_counted(len(trace.protocols), 'protocol')}."
    yield ""
    yield from _gaps(trace)
    for group in groups:
        yield ""
        yield from _requirement(group, trace)
    yield ""
    yield CAUTION


def _gaps(trace: Trace) -> Iterator[str]:
    if trace.unmet:
        yield "Adopted, and no step answers it:"
        for row in trace.unmet:
            yield f"  {row.requirement.id} in {listed(row.unmet, most=len(row.unmet))}"
    else:
        yield "Every requirement that a protocol adopts is answered by one of its steps."
    lost = [_name(group) for group in tables(trace.rows) if not any(row.adopted for row in group)]
    if lost:
        yield f"Adopted by no protocol ({len(lost)}):"
        yield from _wrapped(lost)
    aged = list(dict.fromkeys(_name((row,)) for row in trace.aged))
    if aged:
        yield f"The source is more than {trace.aged_after} years old ({len(aged)}):"
        yield from _wrapped(aged)
    for one in trace.silent:
        if one.steps:
            yield (
                f"In {quoted(one.protocol)}, {len(one.steps)} of {one.guarding} steps that guard somebody answer no "
                "requirement."
            )


def _requirement(group: tuple[Traced, ...], trace: Trace) -> Iterator[str]:
    one = group[0].requirement
    limit = f"  {one.limit}" if one.limit is not None and one.table is None else ""
    yield f"{_name(group)}{limit}"
    yield f"  {folded(one.text, 400)}"
    sure = one.certainty or "nothing said of how sure this is"
    yield f"  {source_of(one)}; {sure}{', aged' if group[0].aged else ''}"
    for row in group:
        case = row.requirement
        if case.table is not None:
            yield f"    {case.id.value.removeprefix(f'{case.table}-')}: {case.limit or 'no value'} ({case.applies_to})"
        elif case.applies_to:
            yield f"  For: {folded(case.applies_to, 200)}"
        for name in row.protocols:
            steps = ", ".join(_steps(row, name, trace)) or "no step"
            yield f"    {name}: {steps}  ({state_of(row, name)})"
        if not row.protocols and case.table is None:
            yield "    adopted by no protocol, and no step answers it"


def _entry(row: Traced, trace: Trace) -> dict[str, Any]:
    one = row.requirement
    return {
        "id": one.id.value,
        "table": one.table,
        "text": _flat(one.text),
        "applies_to": one.applies_to,
        "limit": {
            key: str(bound)
            for key, bound in (("at_least", one.limit.at_least), ("at_most", one.limit.at_most))
            if bound is not None
        }
        if one.limit is not None
        else None,
        "source": _flat(one.source),
        "section": one.section,
        "year": one.year,
        "aged": row.aged,
        "certainty": one.certainty,
        "link": one.link,
        "protocols": [
            {
                "protocol": name,
                "adopted_through": row.adopted.get(name),
                "steps": [trace.protocols[name].steps[number].id.value for number in row.met.get(name, ())],
                "kept": _kept(row, name, trace),
                "state": state_of(row, name),
            }
            for name in row.protocols
        ],
    }


def _counted(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def _wrapped(names: list[str]) -> list[str]:
    return textwrap.wrap(
        ", ".join(names),
        100,
        initial_indent="  ",
        subsequent_indent="  ",
        break_on_hyphens=False,
        break_long_words=False,
    )


def _name(group: tuple[Traced, ...]) -> str:
    first = group[0].requirement
    return first.table or first.id.value


def _steps(row: Traced, protocol: str, trace: Trace) -> list[str]:
    steps = [trace.protocols[protocol].steps[number] for number in row.met.get(protocol, ())]
    kept = [kept_by(step, row.requirement.id.value) for step in steps]
    return [
        f"{step.id} ({amount})" if amount is not None else step.id.value
        for step, amount in zip(steps, kept, strict=True)
    ]


def _kept(row: Traced, protocol: str, trace: Trace) -> dict[str, str]:
    """The values that steps keep for a requirement, by step."""
    steps = [trace.protocols[protocol].steps[number] for number in row.met.get(protocol, ())]
    found = {step.id.value: kept_by(step, row.requirement.id.value) for step in steps}
    return {name: str(amount) for name, amount in found.items() if amount is not None}


def _flat(text: str) -> str:
    return " ".join(text.split())
