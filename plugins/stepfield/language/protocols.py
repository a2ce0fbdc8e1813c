"""One protocol: its head, its phases with parts unfolded, and every name looked up."""

from __future__ import annotations

import datetime
from collections.abc import Mapping as Map
from dataclasses import dataclass, replace

from .declared import read_scope, title_from
from .model import Approval, Clinic, Person, Phase, Protocol
from .names import Lookup
from .parts import Unfolding, unfold
from .renaming import Part
from .resolve import Requirements, Resolver
from .source import Problem, Span, Text
from .steps import read_cautions, read_lines
from .tailor import Tailor
from .values import day, mappings, text, text_if, text_or, texts
from .yaml_nodes import Document, Mapping


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What a protocol is read against: the clinic, the parts by id with their places, and the requirements' names.

    ``tailor`` applies what this clinic changes in an adopted set.
    """

    clinic: Clinic | None
    parts: Map[str, Part | None]
    places: Map[str, Text]
    requirements: Requirements | None
    tailor: Tailor | None = None


def read_protocol(
    name: str, document: Document, around: Surroundings, problems: list[Problem]
) -> tuple[Protocol | None, bool]:
    """The protocol from a document that fits its schema, and whether all its names could be made out.

    What is wrong is added to ``problems``. There is no protocol if its shape is wrong in a way no schema can say,
    or if the steps of a part it uses cannot be had.
    """
    root = document.root
    assert isinstance(root, Mapping)
    lookup = Lookup(name)
    shape: list[Problem] = []
    scope = read_scope(root, around.clinic, lookup)
    if around.tailor is not None:
        scope = around.tailor.scope(name, scope)
    job = Unfolding(around.parts, around.places, scope, lookup)
    phases = tuple(_phase(phase, job, shape) for phase in mappings(root.get("phases")))
    if around.tailor is not None:
        job.scope, phases = around.tailor.phases(name, scope, phases)
    resolver = Resolver(job, around.requirements, around.clinic is not None)
    phases = resolver.phases(phases)
    protocol = _head(name, document.path, root, job, phases, resolver, shape)
    protocol = replace(protocol, people=_people(around.clinic, protocol))
    shape += [*job.misshapen, *resolver.misshapen]
    problems += [replace(problem, protocol=name) for problem in shape]
    problems += lookup.problems
    return (None if shape or job.missing else protocol), lookup.sound


def _people(clinic: Clinic | None, protocol: Protocol) -> tuple[Person, ...]:
    """The clinic's people who have several roles of the protocol's team."""
    found = []
    for person in clinic.people if clinic is not None else ():
        mine = {role.value for role in person.roles}
        roles = tuple(role for role in protocol.team if role.value in mine)
        if len(roles) > 1:
            found.append(replace(person, roles=roles))
    return tuple(found)


def _phase(node: Mapping, job: Unfolding, shape: list[Problem]) -> Phase:
    name = text_if(node, "phase")
    assert name is not None
    lines = read_lines(node.get("steps"), shape)
    title = text_or(node, "title", title_from(name.value))
    return Phase(name, title, read_cautions(node.get("cautions")), unfold(lines, job))


def _head(
    name: str,
    path: str,
    root: Mapping,
    job: Unfolding,
    phases: tuple[Phase, ...],
    resolver: Resolver,
    shape: list[Problem],
) -> Protocol:
    title = text_if(root, "title")
    assert title is not None
    return Protocol(
        id=name,
        path=path,
        span=root.entries[0].key.span,
        title=title,
        purpose=text_or(root, "purpose", ""),
        version=text_if(root, "version") or Text("0.0.0", title.span),
        status=text_if(root, "status") or Text("draft", title.span),
        owner=text_or(root, "owner", ""),
        approved=_approval(root, shape),
        review_by=_review_by(root, shape),
        team=job.scope.team,
        choices=job.scope.choices,
        subjects=job.scope.subjects,
        phases=phases,
        evidence=resolver.sets(texts(root, "adopts")),
        parts=frozenset(job.used),
    )


def _approval(root: Mapping, shape: list[Problem]) -> Approval | None:
    node = root.get("approved")
    if not isinstance(node, Mapping):
        return None
    date = text_if(node, "date")
    assert date is not None
    return Approval(text_or(node, "by", ""), day(date, shape, "date"), node.span)


def _review_by(root: Mapping, shape: list[Problem]) -> tuple[datetime.date, Span] | None:
    node = root.get("review_by")
    return None if node is None else (day(text(node), shape, "review_by"), node.span)
