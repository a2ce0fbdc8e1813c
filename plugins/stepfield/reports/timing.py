"""How long a protocol takes, in words: the total and its spread, what decides it, who is busy, what stands open."""

from __future__ import annotations

from collections.abc import Iterator

from ..checks.clocks import time_of
from ..checks.words import Naming, folded, listed, quoted
from ..language.model import Clinic, Protocol
from ..planning.plan import Between
from ..planning.schedule import waiting_for
from ..planning.simulation import Drawn
from ..planning.standing import Standing
from ..planning.timing import Timing
from .terminal import harmless


def timing_text(protocol: Protocol, clinic: Clinic | None, timing: Timing, written: Timing | None = None) -> str:
    """The times of one scenario; ``written`` are those without what was asked to be otherwise."""
    told = _Telling(protocol, clinic, timing, written)
    return "\n".join(harmless(line) for line in told.lines()) + "\n"


class _Telling:
    def __init__(self, protocol: Protocol, clinic: Clinic | None, timing: Timing, written: Timing | None) -> None:
        self.protocol, self.timing, self.written = protocol, timing, written
        self.usual, self.naming = timing.usual, Naming(protocol, clinic)

    def lines(self) -> Iterator[str]:
        """Everything that is told."""
        settled = ", ".join(f"{name}: {option}" for name, option in self.timing.scenario.items())
        yield f"{self.protocol.id}  {folded(self.protocol.title.value)}"
        yield f"With {settled}." if settled else "Nothing is settled before: there is one way."
        yield ""
        if len(self.usual.unknown) == len(self.usual.rows):
            yield "How long it takes is not known: no step says a duration (`takes`)."
            return
        yield from self._total()
        blocks = (
            ("What decides the total, step by step:", self._path()),
            ("Busy, and waiting between the first and the last own step:", self._people()),
            ("How long packs and fields stand open before they are used:", self._standing()),
            ("Waits and time limits:", self._between()),
            ("To bear in mind:", self._limits()),
        )
        for title, found in blocks:
            told = list(found)
            if told:
                yield ""
                yield title
                yield from (f"  {line}" for line in told)

    def _total(self) -> Iterator[str]:
        timing, usual = self.timing, self.usual
        slow = whole(timing.slow.total)
        yield f"Usually {whole(usual.total)}, if everybody starts as soon as possible; if all goes slowly {slow}."
        if self.written is not None:
            more = usual.total - self.written.usual.total
            change = (
                "as long as now" if abs(more) < 0.5 else f"{whole(abs(more))} {'longer' if more > 0 else 'shorter'}"
            )
            yield f"As written it is {whole(self.written.usual.total)}; so it is {change}."
        yield (
            f"Three-point formulas on the critical path: mean {whole(timing.mean)}, "
            f"standard deviation {whole(timing.deviation)}."
        )
        if timing.drawn is None:
            yield "Durations are drawn only with the extra `planner`: pip install 'stepfield[planner]'."
        else:
            total = timing.drawn.total
            low, half, high = (whole(total.below[share]) for share in (10, 50, 90))
            yield (
                f"Drawn {timing.drawn.runs:,} times: mean {whole(total.mean)}, one in ten stays below {low}, "
                f"half below {half}, nine in ten below {high}."
            )

    def _path(self) -> Iterator[str]:
        at = {one.step: one for one in self.usual.rows}
        for number in self.usual.critical:
            step, one = self.protocol.steps[number], at[number]
            if one.ends > one.starts:
                who = " + ".join(self.naming.role(role) for role in (step.role, *step.helpers))
                yield f"{to_second(one.starts)} to {to_second(one.ends)}  {who}: {step.id}"

    def _people(self) -> Iterator[str]:
        people = {person.id.value: person for person in self.timing.people}
        for who, busy in self.usual.busy.items():
            if who in people:
                roles = listed((self.naming.role(role.value) for role in people[who].roles), most=9)
                name = f"{folded(who)} ({roles})"
            else:
                name = self.naming.role(who)
            yield f"{name}: busy {whole(busy)}, waiting {whole(self.usual.idle[who])}"

    def _standing(self) -> Iterator[str]:
        starts = {one.step: one.starts for one in self.usual.rows}
        ends = {one.step: one.ends for one in self.usual.rows}
        for one in self.timing.standing:
            use = min(one.uses, key=lambda number: (starts[number], number))
            steps = f"from {quoted(self._name(one.since))} to {quoted(self._name(use))}"
            line = f"{self._what(one)}: {whole(one.before_use(starts, ends))} ({steps})"
            if self.timing.drawn is not None:
                line += f", nine in ten below {whole(self.timing.drawn.standing[one].below[90])}"
            in_all = one.in_all(starts, ends)
            yield line if in_all is None else f"{line}; given up after {whole(in_all)}"

    def _what(self, one: Standing) -> str:
        kind = "Field on " if one.kind == "field" else ""
        return f"{kind}{self.naming.thing(one.subject)}"

    def _between(self) -> Iterator[str]:
        for one, seconds in waiting_for(self.timing.plan, self.usual):
            step, of = quoted(self._name(one.step)), quoted(self._name(one.of))
            if one in self.timing.plan.waits:
                yield f"{step} starts {whole(seconds)} after {of}; it waits at least {time_of(one.seconds)}"
            else:
                yield f"{step} ends {whole(seconds)} after {of}; allowed are {time_of(one.seconds)}{self._kept(one)}"

    def _kept(self, limit: Between) -> str:
        found: Drawn | None = self.timing.drawn
        missed = " and can't be kept" if limit in self.usual.missed else ""
        if found is None:
            return missed
        return f"{missed}, kept in {found.kept[limit]:,} of {found.runs:,} draws if nobody holds back on purpose"

    def _limits(self) -> Iterator[str]:
        timing, count, steps = self.timing, len(self.usual.unknown), len(self.usual.rows)
        if count:
            yield f"{count} of {steps} steps {'says' if count == 1 else 'say'} no duration and count as taking no time."
        if any(step.repeat is not None for step in self.protocol.steps):
            yield "A step that may be repeated counts as done once."
        for wait in timing.plan.left_out:
            yield (
                f"{quoted(self._name(wait.step))} waits for {quoted(self._name(wait.of))}, which comes no earlier: "
                "that wait is left out."
            )
        for person in timing.people:
            roles = listed((self.naming.role(role.value) for role in person.roles), most=9)
            yield (
                f"One person is {roles} and does what can start first, then what is listed first; another order may be "
                "quicker. Whether asepsis can be kept so is not asked here: `stepfield team` judges that."
            )
            torn = [quoted(self._name(number)) for number, other in timing.torn if other is person]
            if torn:
                yield f"At the same moment {roles} are both needed in {listed(torn)}, and are one person here."

    def _name(self, number: int) -> str:
        return self.protocol.steps[number].id.value


def whole(seconds: float) -> str:
    """A time to the minute, or to the second below ten minutes."""
    return time_of(round(seconds / 60) * 60 if seconds >= 600 else round(seconds))


def to_second(seconds: float) -> str:
    """A time on the clock, to the second, so that a short step is seen to take time."""
    return time_of(round(seconds))
