"""Findings as JUnit XML, which nearly every build server shows: a suite a protocol, a case a rule."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from xml.etree import ElementTree as Tree

from ..checks import Finding, Report, Severity, all_rules
from .scope import SAFE, checked_of, covered
from .terminal import harmless
from .text import finding_text

WHOLE = "the whole set"


def junit_report(reports: Sequence[Report]) -> str:
    """Errors are failures; warnings and notes stand in a case's output. What was not proved is an error of its own."""
    checked = checked_of(reports)
    root = Tree.Element("testsuites", name="stepfield")
    for report in reports:
        unproved = {one.protocol: one.why for one in checked.unproved}
        names = [one.protocol.id for one in report.facts.examined] + list(report.facts.protocol_set.unreadable)
        others = sorted({finding.protocol or WHOLE for finding in report.findings} - set(names))
        for name in [*names, *others]:
            found = [finding for finding in report.findings if (finding.protocol or WHOLE) == name]
            root.append(_suite(name, found, report, unproved.get(name)))
    Tree.SubElement(
        root[-1] if len(root) else root, "system-out"
    ).text = (
        f"Checked as of {checked.today}: {covered(checked)}. Not looked at: {'; '.join(checked.not_checked)}. {SAFE}"
    )
    Tree.indent(root)
    return Tree.tostring(root, encoding="unicode", xml_declaration=True) + "\n"


def _suite(name: str, found: list[Finding], report: Report, unproved: str | None) -> Tree.Element:
    cases = list(_cases(name, found, report))
    if unproved is not None:
        case = Tree.Element("testcase", classname=name, name="every order")
        Tree.SubElement(case, "error", type="not-proved", message=harmless(unproved))
        cases.append(case)
    suite = Tree.Element(
        "testsuite",
        name=harmless(name),
        tests=str(len(cases)),
        failures=str(sum(case.find("failure") is not None for case in cases)),
        errors=str(sum(case.find("error") is not None for case in cases)),
        skipped="0",
    )
    suite.extend(cases)
    return suite


def _cases(name: str, found: list[Finding], report: Report) -> Iterator[Tree.Element]:
    for rule in all_rules():
        case = Tree.Element("testcase", classname=harmless(name), name=rule.name)
        those = [finding for finding in found if finding.rule == rule.name]
        told = {finding.key: _told(finding, report) for finding in those}
        errors = [finding for finding in those if finding.severity is Severity.ERROR]
        for finding in errors[:1]:
            text = "\n".join(told[error.key] for error in errors)
            Tree.SubElement(case, "failure", type=rule.name, message=harmless(finding.message)).text = text
        rest = [told[finding.key] for finding in those if finding not in errors]
        if rest:
            Tree.SubElement(case, "system-out").text = "\n".join(rest)
        yield case


def _told(finding: Finding, report: Report) -> str:
    """The finding as text, without the two characters that XML 1.0 knows no way to write (production 2, Char)."""
    return finding_text(finding, report.facts).translate({0xFFFE: "?", 0xFFFF: "?"})
