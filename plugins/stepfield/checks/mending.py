"""Adding to findings the mends that were tried. Apart from the rules, because trying costs a proof each."""

from __future__ import annotations

from dataclasses import replace

from ..asepsis import DEFAULT_LIMIT, mends_of
from .facts import Examined
from .finding import Finding, Mend
from .run import Report


def with_mends(report: Report, limit: int = DEFAULT_LIMIT) -> Report:
    """The same report, each finding that some orders avoid with the order links that mend it."""
    by_id = report.facts.by_id
    findings = (
        finding
        if finding.always
        else replace(finding, mends=_mends(finding, by_id.get(finding.protocol or ""), report, limit))
        for finding in report.findings
    )
    return replace(report, findings=tuple(findings))


def _mends(finding: Finding, examined: Examined | None, report: Report, limit: int) -> tuple[Mend, ...]:
    proof = examined.proof if examined is not None else None
    if proof is None:
        return ()
    step = -1 if finding.step is None else proof.graph.index[finding.step]
    told = [
        seen
        for seen in proof.occurrences
        if seen.slip.kind == finding.rule and seen.slip.subject == finding.subject and seen.slip.key[1] == step
    ]
    if not told:
        return ()
    names = [text.id.value for text in proof.graph.steps]
    return tuple(
        Mend(f"do '{names[earlier]}' before '{names[later]}'", names[later], (names[earlier],))
        for earlier, later in mends_of(proof, told[0], limit, report.facts.protocol_set.requirements)
    )
