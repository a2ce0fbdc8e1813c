"""The file that holds for the whole set: clinic.yaml."""

from __future__ import annotations

from collections.abc import Iterator

from .declared import read_surfaces, title_from
from .model import Clinic, Person, Role
from .names import Lookup
from .source import Problem, Text
from .values import entries, items, text, text_if, text_or
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


def _role(entry: Entry) -> Role:
    assert isinstance(entry.value, Mapping)
    return Role(entry.key, text_or(entry.value, "title", title_from(entry.key.value)))
