"""How a clash of waits, durations and time limits is told."""

from __future__ import annotations

from collections.abc import Iterator

from ..language.source import Text
from ..planning import Clash, clashes
from ..planning.clashes import Link
from .facts import Examined, Facts
from .finding import Finding, Note, Severity
from .words import Naming, listed, quoted

_UNITS = ((86_400, "d"), (3_600, "h"), (60, "min"), (1, "s"))


def time_of(seconds: float) -> str:
    """A length of time as a protocol writes it, in as many units as it takes: 1 h 5 min."""
    rest, told = round(seconds, 2), []
    for size, unit in _UNITS[:-1]:
        whole, rest = divmod(rest, size)
        told += [f"{whole:.0f} {unit}"] if whole else []
    rest = round(rest, 2)
    return " ".join([*told, f"{rest:g} s"] if rest or not told else told)


def clash_findings(facts: Facts, rule: str, *, slow: bool) -> Iterator[Finding]:
    """Every clash of the set: the impossible ones, or those of a slow day."""
    for examined in facts.examined:
        if examined.order.loops or examined.protocol.id in facts.protocol_set.unsound:
            continue
        for clash in clashes(examined.protocol, examined.order):
            if clash.slow is slow:
                yield _finding(clash, examined, facts, rule)


def _finding(clash: Clash, examined: Examined, facts: Facts, rule: str) -> Finding:
    steps = examined.protocol.steps
    naming = Naming(examined.protocol, facts.protocol_set.clinic)
    blamed = clash.limit or clash.wait
    assert blamed is not None  # a clash has one of the two
    step, other = steps[blamed.step], steps[blamed.of]
    named = _written(examined, blamed)
    parts = [_part(link, examined) for link in clash.chain]
    way = listed(parts, "and", most=len(parts)) or "the order of the steps"
    if step is other:
        message = f"Step {naming.step(step)} waits {time_of(blamed.seconds)} for itself, which can't be."
        advice = "Name the step that is waited for, or take the wait out."
    elif clash.limit is None:
        in_a_circle = any(link.kind == "wait" for link in clash.chain)
        reason = f"the waits go round in a circle, as {way}" if in_a_circle else f"{quoted(other.id)} comes no earlier"
        waits = f"waits {time_of(blamed.seconds)} for {quoted(other.id)}"
        message = f"Step {naming.step(step)} {waits}, which can't be: {reason}."
        mend = f"let {quoted(step.id)} come after {quoted(other.id)}"
        advice = "Take one of these waits out." if in_a_circle else f"Take the wait out, or {mend}."
    else:
        when = "if all goes slowly" if clash.slow else "even if all goes quickly"
        message = (
            f"Step {naming.step(step)} must end within {time_of(blamed.seconds)} of {quoted(other.id)}, but {when} "
            f"{time_of(clash.needed)} pass between them: {way}."
        )
        advice = (
            f"Shorten one of these, move what need not lie between them, or allow at least {time_of(clash.needed)} "
            "if guidance and the product allow it."
        )
    scenarios = (clash.scenario,) if clash.scenario else ()
    related = tuple(
        Note(steps[link.step].id.span, _part(link, examined)) for link in clash.chain if link.step != blamed.step
    )
    return Finding(
        rule=rule,
        severity=Severity.ERROR,
        span=named.span,
        message=message,
        protocol=examined.protocol.id,
        step=step.id.value,
        subject=other.id.value,
        advice=advice,
        related=related,
        scenarios=scenarios,
        always=not clash.slow,
    )


def _written(examined: Examined, link: Link) -> Text:
    """The name in the wait or limit itself."""
    step, other = examined.protocol.steps[link.step], examined.protocol.steps[link.of].id.value
    written = step.within if link.kind == "limit" else step.waits
    return next(one.step for one in written if one.step.value == other)


def _part(link: Link, examined: Examined) -> str:
    step = examined.protocol.steps[link.step].id
    if link.kind == "wait":
        of = examined.protocol.steps[link.of].id
        return f"{quoted(step)} waits {time_of(link.seconds)} for {quoted(of)}"
    if link.kind == "limit":
        return f"{quoted(step)} is allowed {time_of(link.seconds)}"
    return f"{quoted(step)} takes {time_of(link.seconds)}"
