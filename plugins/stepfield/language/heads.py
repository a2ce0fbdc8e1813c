"""The files that hold for the whole set: clinic.yaml and evidence.yaml."""

from __future__ import annotations

from collections.abc import Iterator
from collections.abc import Mapping as Map

from .declared import read_surfaces, title_from
from .model import Clinic, Person, Requirement, Role
from .names import Lookup
from .source import Problem, Text
from .values import entries, items, seconds, text, text_if, text_or, whole
from .yaml_nodes import Document, Entry, Mapping


def read_clinic(document: Document, problems: list[Problem]) -> Clinic:
    """The clinic, from a file that fits its schema; people whose roles cannot be made out are noted."""
    root = document.root
    assert isinstance(root, Mapping)
    notice = text_if(root, "notice")
    return Clinic(
        name=text_or(root, "clinic", ""),
        language=text_or(root, "language", "en"),
        roles=tuple(_role(entry) for entry in entries(root.get("roles"))),
        surfaces=tuple(read_surfaces(root)),
        notice=notice.value if notice else None,
        path=document.path,
        people=tuple(_people(root, problems)),
    )


def _people(root: Mapping, problems: list[Problem]) -> Iterator[Person]:
    """Who has which roles; a role that two people have is noted, and the first one keeps it."""
    lookup = Lookup(None)
    known = {entry.key.value: entry.key for entry in entries(root.get("roles"))}
    taken: dict[str, Text] = {}
    for entry in entries(root.get("people")):
        roles = []
        for named in items(entry.value):
            role = lookup.find(text(named), known, "role of the clinic")
            if role is None:
                continue
            first = taken.setdefault(role.value, role)
            if first is role:
                roles.append(role)
            else:
                lookup.taken(role, first)
        yield Person(entry.key, tuple(roles))
    problems += lookup.problems


def read_requirements(document: Document) -> tuple[Requirement, ...]:
    """The requirements of evidence.yaml, in written order."""
    root = document.root
    assert isinstance(root, Mapping)
    return tuple(_requirement(entry) for entry in entries(root.get("requirements")))


def read_sets(document: Document, known: Map[str, Text], problems: list[Problem]) -> dict[str, Text]:
    """The names of the sets of requirements; members declared nowhere are noted."""
    root = document.root
    assert isinstance(root, Mapping)
    lookup = Lookup(None)
    sets = {}
    for entry in entries(root.get("sets")):
        sets[entry.key.value] = entry.key
        for member in items(entry.value):
            lookup.find(text(member), known, "requirement")
    problems += lookup.problems
    return sets


def read_members(document: Document) -> dict[str, tuple[Text, ...]]:
    """The requirements that each set of requirements holds, by the set's name."""
    root = document.root
    assert isinstance(root, Mapping)
    return {
        entry.key.value: tuple(text(member) for member in items(entry.value)) for entry in entries(root.get("sets"))
    }


def _role(entry: Entry) -> Role:
    assert isinstance(entry.value, Mapping)
    return Role(entry.key, text_or(entry.value, "title", title_from(entry.key.value)))


def _requirement(entry: Entry) -> Requirement:
    node = entry.value
    assert isinstance(node, Mapping)
    section, limit = text_if(node, "section"), node.get("limit")
    bounds = {bound.key.value: seconds(text(bound.value)) for bound in entries(limit)}
    return Requirement(
        id=entry.key,
        text=text_or(node, "text", ""),
        source=text_or(node, "source", ""),
        section=section.value if section else None,
        year=whole(node, "year", 0) or None,
        at_least=bounds.get("at_least"),
        at_most=bounds.get("at_most"),
    )
