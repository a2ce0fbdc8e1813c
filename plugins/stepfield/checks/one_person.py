"""One person with several roles: telling where what fails comes of that, and between which steps."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from ..language.model import Clinic, Person, Protocol, Step
from .finding import Finding, Note
from .words import Naming, listed, quoted

_RULES = frozenset({"needs-not-met", "field-broken", "skin-exposed", "left-soiled"})


def told_of_people(findings: Iterable[Finding], protocols: Iterable[Protocol], clinic: Clinic | None) -> list[Finding]:
    """The findings; where hands fail that have several roles, with the steps between which they would be both."""
    known = {protocol.id: protocol for protocol in protocols if protocol.people}
    return [
        _told(finding, known[finding.protocol], clinic) if finding.protocol in known else finding
        for finding in findings
    ]


def person_of(protocol: Protocol, role: str) -> Person | None:
    """The person who has a role beside others; None if the role has somebody of its own."""
    return next((person for person in protocol.people if role in {one.value for one in person.roles}), None)


def _told(finding: Finding, protocol: Protocol, clinic: Clinic | None) -> Finding:
    subject = protocol.subjects.get(finding.subject or "")
    steps = {step.id.value: step for step in protocol.steps}
    here = steps.get(finding.step or "")
    if finding.rule not in _RULES or subject is None or here is None or here.role is None:
        return finding
    person = person_of(protocol, subject.role or here.role.value)
    if person is None:
        return finding
    other = _other(finding, here, person, steps)
    if other is None or other.role is None:
        return finding
    naming = Naming(protocol, clinic)
    roles = listed([naming.role(role.value) for role in person.roles], "and")
    between = (
        f"{quoted(other.id)} (as {naming.role(other.role.value)}) and {quoted(here.id)} "
        f"(as {naming.role(here.role.value)})"
    )
    said = f" Here one person is {roles}: between {between} that person would have to be both, sterile and not."
    if finding.rule not in ("needs-not-met", "field-broken"):
        said = f" Here one person is {roles}, and does {between}."
    note = Note(person.id.span, "one person has these roles")
    return replace(finding, message=finding.message + said, related=(*finding.related, note))


def _other(finding: Finding, here: Step, person: Person, steps: dict[str, Step]) -> Step | None:
    """The step of the same person in another role that comes in between: the cause, or the last one before."""
    mine = {role.value for role in person.roles}

    def is_other(step: Step | None) -> bool:
        role = None if step is None or step.role is None else step.role.value
        return role in mine and here.role is not None and role != here.role.value

    cause = steps.get(finding.cause.step) if finding.cause is not None else None
    if is_other(cause):
        return cause
    earlier = [steps.get(name) for name in reversed(finding.witness[:-1])]
    return next((step for step in earlier if is_other(step)), None)
