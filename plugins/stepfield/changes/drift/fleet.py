"""Many clinics that adopted sets side by side: who deviates where, and what so many do that the baseline should too."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from .model import Difference, Drift

LEAST = 2
"""What one clinic alone does is not common."""
HALF = 50
"""How many in a hundred of the clinics make a deviation common, if nothing else is told."""


@dataclass(frozen=True, slots=True)
class Member:
    """One folder of the fleet; ``drift`` is None where nothing can be compared, and ``why`` says why."""

    folder: str
    drift: Drift | None
    why: str = ""


@dataclass(frozen=True, slots=True)
class Cell:
    """What one clinic does at one place: its grade (settled or left out where nothing is graded) and what it says."""

    grade: str
    value: str
    same: str
    expired: bool = False
    because: str = ""


Place = tuple[str, str, str, str]
"""Protocol, kind, name of the step, thing or choice, and field; empty where it has none."""


@dataclass(frozen=True, slots=True)
class Row:
    """One place at which some clinic deviates; ``cells`` are by folder, ``away`` those without the protocol."""

    place: Place
    before: str
    cells: Mapping[str, Cell]
    away: frozenset[str]

    @property
    def named(self) -> str:
        """The place in one word: wrist-release.paint-skin.takes."""
        protocol, kind, name, field = self.place
        parts = [protocol or "*", name if kind != "settled" else f"choice {name}", field]
        return ".".join(part for part in parts if part)


@dataclass(frozen=True, slots=True)
class Common:
    """What several clinics do alike at one step: its fields with what they say, ``of`` how many that could."""

    protocol: str
    kind: str
    name: str
    fields: tuple[tuple[str, str, str], ...]
    """Name, shared text and text here of each field; of a whole step one without a name."""
    grade: str
    folders: tuple[str, ...]
    of: int
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Family:
    """The clinics that adopted the set of one baseline, in whatever version."""

    baseline: str
    members: tuple[Member, ...]
    rows: tuple[Row, ...]
    common: tuple[Common, ...]


@dataclass(frozen=True, slots=True)
class Fleet:
    """All clinics of a folder; ``others`` are the folders in which nothing can be compared."""

    families: tuple[Family, ...]
    others: tuple[Member, ...]
    percent: int


def fleet_of(members: Iterable[Member], percent: int = HALF) -> Fleet:
    """The clinics side by side, by baseline.

    What ``percent`` in a hundred of the clinics that have a protocol do alike in it is common.
    """
    found: dict[str, list[Member]] = {}
    others = []
    for member in sorted(members, key=lambda one: one.folder):
        if member.drift is None:
            others.append(member)
        elif member.drift.unread is not None:
            one = member.drift.unread
            why = f"its local changes cannot be read, {one.path} line {one.line}: {one.message}"
            others.append(Member(member.folder, None, why))
        else:
            found.setdefault(member.drift.baseline, []).append(member)
    return Fleet(tuple(_family(name, found[name], percent) for name in sorted(found)), tuple(others), percent)


def _family(baseline: str, members: Sequence[Member], percent: int) -> Family:
    cells: dict[Place, dict[str, Cell]] = {}
    shared: dict[Place, str] = {}
    for member in members:
        assert member.drift is not None
        for place, before, cell in _cells(member.drift):
            cells.setdefault(place, {})[member.folder] = cell
            shared.setdefault(place, before)
    rows = tuple(
        Row(place, shared[place], found, frozenset(one.folder for one in members if not _could(one, place)))
        for place, found in sorted(cells.items())
    )
    return Family(baseline, tuple(members), rows, tuple(_common(rows, len(members), percent)))


def _could(member: Member, place: Place) -> bool:
    """Whether a clinic has what the place is about, so that it could deviate there."""
    protocol, kind, *_ = place
    states = ("shared", "left-out") if kind == "left-out" else ("shared",)
    known = () if member.drift is None else member.drift.protocols
    return not protocol or any(one.id == protocol and one.state in states for one in known)


def _cells(drift: Drift) -> Iterator[tuple[Place, str, Cell]]:
    """Everything a clinic does otherwise, with its place and what the shared text says there."""
    for one in drift.differences:
        yield from _of_difference(one)
    for protocol in drift.protocols:
        for choice in protocol.settled:
            cell = Cell("settled", choice.option, choice.option)
            yield (protocol.id, "settled", choice.choice, ""), "", cell
        if protocol.state == "left-out":
            yield (protocol.id, "left-out", "", ""), protocol.title, Cell("left out", "", "")


def _of_difference(one: Difference) -> Iterator[tuple[Place, str, Cell]]:
    expired, because = one.agreement.expired, one.agreement.because
    protocol = one.protocol or ""
    if one.is_whole:
        value = "left out" if one.kind == "drop" else f"added: {one.title}"
        before = one.title if one.kind == "drop" else ""
        yield (protocol, one.kind, one.name, ""), before, Cell(one.effect.word, value, one.value, expired, because)
    for field in one.fields:
        place = (protocol, one.kind, one.name, field.name)
        yield place, field.before, Cell(one.effect_of(field.name).word, field.after, field.value, expired, because)


_Alike = Mapping[str, tuple[Row, Cell]]
"""By folder, those who say the same in one field."""


def _common(rows: Sequence[Row], members: int, percent: int) -> Iterator[Common]:
    """What is common, the fields of one step together where the same clinics set them."""
    found: dict[tuple[str, str, str, tuple[str, ...]], list[_Alike]] = {}
    for (protocol, kind, name), alike in _alike(rows):
        folders = tuple(sorted(alike))
        of = members - len(alike[folders[0]][0].away)
        if is_common(len(folders), of, percent):
            found.setdefault((protocol, kind, name, folders), []).append(alike)
    for (protocol, kind, _, folders), fields in found.items():
        first = [alike[folders[0]] for alike in fields]
        cells = [alike[folder][1] for alike in fields for folder in folders]
        grades = {cell.grade for cell in cells}
        yield Common(
            protocol=protocol,
            kind=kind,
            name=first[0][0].place[2],
            fields=tuple((row.place[3], row.before, cell.value) for row, cell in first),
            grade=next((one for one in ("looser", "stricter", "neutral") if one in grades), cells[0].grade),
            folders=folders,
            of=members - len(first[0][0].away),
            reasons=tuple(dict.fromkeys(cell.because for cell in cells if cell.because)),
        )


def _alike(rows: Sequence[Row]) -> Iterator[tuple[tuple[str, str, str], _Alike]]:
    """Who says the same, place by place; steps that are added go by what they do: each clinic names its own."""
    found: dict[tuple[Place, str], dict[str, tuple[Row, Cell]]] = {}
    for row in rows:
        protocol, kind, name, field = row.place
        for folder, cell in row.cells.items():
            place = (protocol, kind, "" if kind == "add" else name, field)
            found.setdefault((place, cell.same), {})[folder] = (row, cell)
    for ((protocol, kind, name, _), same), alike in found.items():
        yield (protocol, kind, same if kind == "add" else name), alike


def is_common(number: int, of: int, percent: int) -> bool:
    """Whether so many clinics out of those that could are enough."""
    return number >= LEAST and 100 * number >= percent * of
