"""Adding to findings the mends that were tried. Apart from the rules, because trying costs a proof each."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import cached_property
from itertools import groupby
from typing import TYPE_CHECKING

from ..asepsis import DEFAULT_LIMIT, Allowance, Links, Occurrence, Proof, mends_of
from .facts import Examined
from .finding import Addition, Finding, Mend, Wait
from .run import Report
from .slips import occurrence_of
from .words import listed, quoted

if TYPE_CHECKING:
    from ..language.written import Written

MOST_STATES = 20_000
"""How many states one check looks at to try the order of steps, and how many to try lines, over all findings: about a
second each. A large set may take as long as its check, once more."""
TRIALS_EACH = 8
"""For so many trials there is room in the allowance of one finding, as long as anything is left."""
MOST_READINGS = 16
"""How often one check writes a line into a protocol and judges that anew, over all findings."""
MOST_READINGS_EACH = 4
"""How often for one finding."""
ENOUGH_ADDED = 2
"""How many lines to add are offered for one finding."""


def with_mends(
    report: Report, limit: int = DEFAULT_LIMIT, *, states: int = MOST_STATES, readings: int = MOST_READINGS
) -> Report:
    """The same report, each finding that an order or a line more would mend with the mends that were tried.

    ``limit`` bounds the states of one protocol, ``states`` those looked at in all trials together (and as many more as
    the check itself looked at), ``readings`` how often a changed text is judged.
    """
    mending = _Mending(report, limit, states, readings)
    return replace(report, findings=tuple(map(mending.mended, report.findings)))


class _Mending:
    """The trials for one report."""

    def __init__(self, report: Report, limit: int, states: int, readings: int) -> None:
        self.report, self.limit, self.readings = report, limit, readings
        self.protocol_set, self.by_id = report.facts.protocol_set, report.facts.by_id
        proved = sum(one.proof.states for one in report.facts.examined if one.proof is not None)
        proved += sum(one.states for one in self.protocol_set.passed)
        self.allowance, self.for_lines = Allowance(states and states + proved), states
        self.judged: dict[tuple[str, tuple[Wait, ...], Addition | None], Report | None] = {}
        self.left = sum(1 for finding in report.findings if not finding.always)

    @cached_property
    def written(self) -> Written:
        """The clinic's parts, read when a line is first looked for."""
        from ..language.written import Written

        return Written(self.protocol_set)

    def mended(self, finding: Finding) -> Finding:
        """The finding with its mends: order if order helps, or else a line more."""
        examined = self.by_id.get(finding.protocol or "")
        seen = None if examined is None else occurrence_of(finding, examined)
        if examined is None or examined.proof is None or seen is None or not examined.proof.complete:
            return finding
        orders, all_tried = self.orders(examined, seen)
        if orders:
            return replace(finding, mends=orders, all_tried=all_tried)
        added, all_added = self.added(finding, examined, seen)
        return replace(finding, mends=added, all_tried=bool(added) or (all_tried and all_added))

    def orders(self, examined: Examined, seen: Occurrence) -> tuple[tuple[Mend, ...], bool]:
        """The order links that help, and whether all were tried."""
        if seen.always or examined.proof is None:
            return (), True
        share = self.allowance.share(self.left, TRIALS_EACH * examined.proof.states)
        self.left -= 1
        found = mends_of(examined.proof, seen, self.limit, self.protocol_set.requirements, share)
        self.allowance.states += share.states
        return tuple(_order_mend(links, examined) for links in found), not share.short

    def added(self, finding: Finding, examined: Examined, seen: Occurrence) -> tuple[tuple[Mend, ...], bool]:
        """The lines to add that help, and whether all that could help were tried."""
        from .supplies import additions, wants_of

        if examined.proof is None or not any(wants_of(examined.protocol, seen)):
            return (), True
        if self.readings <= 0:
            return (), False
        found: list[Mend] = []
        trials = additions(examined.protocol, examined.proof.graph, seen, self.written)
        for tries, mend in enumerate(trials):
            if len(found) == ENOUGH_ADDED:
                break
            known = (examined.protocol.id, mend.waits, mend.addition) in self.judged
            if not known and (tries >= MOST_READINGS_EACH or not self.can_read(examined.proof)):
                return tuple(found), False
            if not any(_says_more(mend, other) for other in found) and self.helps(finding, examined, mend):
                found.append(mend)
        return tuple(found), True

    def can_read(self, proof: Proof) -> bool:
        """Whether one more changed text may be judged; that takes about as many states as the protocol has."""
        if self.readings <= 0 or proof.states > self.for_lines:
            return False
        self.readings -= 1
        self.for_lines -= proof.states
        return True

    def helps(self, finding: Finding, examined: Examined, mend: Mend) -> bool:
        """Whether the protocol with the mend written into it lacks the finding and has no other."""
        from .fixing import helps

        change = (examined.protocol.id, mend.waits, mend.addition)
        if change not in self.judged:
            self.judged[change] = self.judge(examined, mend)
        after = self.judged[change]
        return after is not None and helps(finding, self.report, after, examined.protocol)

    def judge(self, examined: Examined, mend: Mend) -> Report | None:
        """The report on the protocol with the mend written into it; None if it can't be written."""
        from ..language.editing import CannotEditError
        from .fixing import changed_texts, judged

        try:
            texts = changed_texts(self.protocol_set, examined.protocol, mend)
        except CannotEditError:
            return None
        return judged(self.protocol_set, texts, self.report.facts.today, self.limit, examined.protocol)


def _says_more(mend: Mend, than: Mend) -> bool:
    """Whether it adds the same line, and only lets that wait for more."""
    if mend.addition is None or than.addition is None or than.addition.after:
        return False
    return replace(mend.addition, after=()) == than.addition


def _order_mend(links: Links, examined: Examined) -> Mend:
    names = [step.id.value for step in examined.protocol.steps]
    by_later = groupby(sorted(links, key=lambda link: (link[1], link[0])), key=lambda link: link[1])
    waits = tuple(Wait(names[later], tuple(names[earlier] for earlier, _ in group)) for later, group in by_later)
    return Mend(" together with ".join(map(_said, waits)), waits)


def _said(wait: Wait) -> str:
    told: Iterable[str] = map(quoted, wait.after)
    return f"do {listed(told, most=99)} before {quoted(wait.step)}"
