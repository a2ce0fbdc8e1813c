"""Which findings are shown when single files of a protocol set are asked for."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from ..checks import Finding, Report, Severity
from ..language.model import ProtocolSet


def only_protocols(protocol_set: ProtocolSet, paths: Collection[str]) -> ProtocolSet:
    """The set with only those protocols left that stand in the files told or use them as parts."""
    return replace(
        protocol_set,
        protocols=tuple(
            protocol
            for protocol in protocol_set.protocols
            if protocol.path in paths or any(step.span.path in paths for step in protocol.steps)
        ),
        unreadable=tuple(name for name in protocol_set.unreadable if _path_of(name, protocol_set) in paths),
    )


def only_findings(report: Report, whole: ProtocolSet, paths: Collection[str]) -> Report:
    """The findings of the files told: of their protocols, wherever they stand, and errors of the files all share."""
    ids = {protocol.path: protocol.id for protocol in whole.protocols}
    ids |= {_path_of(name, whole): name for name in whole.unreadable}
    wanted = {name for path, name in ids.items() if path in paths}

    def is_shown(finding: Finding) -> bool:
        if finding.protocol in wanted or finding.span.path in paths:
            return True
        shared = finding.protocol not in ids.values() and finding.span.path not in ids
        return shared and finding.severity is Severity.ERROR

    return replace(
        report,
        findings=tuple(finding for finding in report.findings if is_shown(finding)),
        accepted=tuple(pair for pair in report.accepted if is_shown(pair[0])),
    )


def _path_of(unreadable: str, protocol_set: ProtocolSet) -> str:
    """The file of a protocol that could not be read: the one of its name beside clinic.yaml."""
    names = (path for path in protocol_set.sources if path.rpartition("/")[2] == f"{unreadable}.yaml")
    return min(names, key=lambda path: path.count("/"), default="")
