"""What a protocol may name: its team, choices and subjects, gathered from its head and from the clinic."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from .model import PERSON_PARTS, Choice, Clinic, Kind, Level, Role, Subject
from .names import Lookup
from .source import Text
from .values import entries, flag, level, text, text_or, texts, whole
from .yaml_nodes import Entry, Mapping


@dataclass(frozen=True, slots=True)
class Scope:
    """The names a protocol's steps may use."""

    team: tuple[Text, ...]
    choices: tuple[Choice, ...]
    subjects: dict[str, Subject]


def read_scope(root: Mapping, clinic: Clinic | None, lookup: Lookup) -> Scope:
    """Everything the head of a protocol declares. Names declared twice and roles the clinic lacks go to ``lookup``."""
    team = _team(root, clinic, lookup)
    subjects: dict[str, Subject] = {}
    for subject in (*(clinic.surfaces if clinic else ()), *_persons(team, clinic), *_own_subjects(root)):
        first = subjects.setdefault(subject.name.value, subject)
        if first is not subject:
            around = _around(subject, subjects)
            lookup.taken(subject.name, first.name, around=around if first.name.value in around else ())
    return Scope(team, _choices(root), subjects)


def read_surfaces(root: Mapping) -> Iterator[Subject]:
    """The subjects under ``surfaces``."""
    return (_subject(entry, Kind.SURFACE, Level.CONTAMINATED) for entry in entries(root.get("surfaces")))


def new_things(entry: Entry, kind: Kind, held_in: str | None) -> Iterator[Subject]:
    """The subjects that an entry under ``surfaces``, ``items`` or ``packs`` stands for; it may lie in a known pack."""
    if kind is Kind.PACK:
        yield from _pack(entry, Level.CLEAN, None)
    else:
        yield _subject(entry, kind, Level.CONTAMINATED if held_in is None else Level.STERILE, held_in)


def title_from(name: str) -> str:
    """A title made of a name, for what has no title of its own."""
    return name.replace("-", " ").capitalize()


def _team(root: Mapping, clinic: Clinic | None, lookup: Lookup) -> tuple[Text, ...]:
    team: dict[str, Text] = {}
    roles = {role.id.value: role.id for role in clinic.roles} if clinic else {}
    for role in texts(root, "team"):
        known = role if clinic is None else lookup.find(role, roles, "role of the clinic")
        if known is not None and team.setdefault(known.value, known) is not known and known is role:
            lookup.taken(role, team[role.value])
    return tuple(team.values())


def _persons(team: tuple[Text, ...], clinic: Clinic | None) -> Iterator[Subject]:
    roles: dict[str, Role] = {role.id.value: role for role in clinic.roles} if clinic else {}
    for role in team:
        title = roles[role.value].title if role.value in roles else title_from(role.value)
        for part in PERSON_PARTS:
            name = Text(f"{role}.{part}", role.span)
            yield Subject(name, Kind.PERSON, f"{title}: {part}", Level.CONTAMINATED, role=role.value)


def _own_subjects(root: Mapping) -> Iterator[Subject]:
    yield from read_surfaces(root)
    yield from (_subject(entry, Kind.SITE, Level.CONTAMINATED) for entry in entries(root.get("sites")))
    yield from (_subject(entry, Kind.ITEM, Level.CONTAMINATED) for entry in entries(root.get("items")))
    for entry in entries(root.get("packs")):
        yield from _pack(entry, Level.CLEAN, None)


def _pack(entry: Entry, wrapper: Level, held_in: str | None) -> Iterator[Subject]:
    yield _subject(entry, Kind.PACK, wrapper, held_in)
    assert isinstance(entry.value, Mapping)
    for held in entries(entry.value.get("holds")):
        if isinstance(held.value, Mapping) and held.value.entry("holds"):
            yield from _pack(held, Level.STERILE, entry.key.value)
        else:
            yield _subject(held, Kind.ITEM, Level.STERILE, entry.key.value)


def _subject(entry: Entry, kind: Kind, starts: Level, held_in: str | None = None) -> Subject:
    node = entry.value
    assert isinstance(node, Mapping)
    worn_on, hazard = node.get("worn_on"), node.get("hazard")
    return Subject(
        name=entry.key,
        kind=kind,
        title=text_or(node, "title", title_from(entry.key.value)),
        starts=level(node.get("starts"), starts),
        worn_on=None if worn_on is None else text(worn_on).value,
        fluid_proof=text_or(node, "barrier", "absorbent") == "fluid-proof",
        count=whole(node, "count", 1),
        counted=flag(node, "counted"),
        sharp=flag(node, "sharp"),
        sharps=flag(node, "sharps"),
        reusable=flag(node, "reusable"),
        hazard=None if hazard is None else text(hazard).value,
        spare=whole(node, "spare", 0),
        held_in=held_in,
    )


def _around(subject: Subject, subjects: dict[str, Subject]) -> tuple[str, ...]:
    """The names of the packs that a thing lies in, the outermost first."""
    found: list[str] = []
    at = subject.held_in
    while at is not None and at not in found:
        found.append(at)
        at = subjects[at].held_in
    return tuple(reversed(found))


def _choices(root: Mapping) -> tuple[Choice, ...]:
    return tuple(
        Choice(
            entry.key,
            text_or(entry.value, "title", title_from(entry.key.value)),
            tuple((option.key, text(option.value).value) for option in entries(entry.value.get("options"))),
        )
        for entry in entries(root.get("choices"))
        if isinstance(entry.value, Mapping)
    )
