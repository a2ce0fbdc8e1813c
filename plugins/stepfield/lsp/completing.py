"""Which words fit where somebody is writing, read from the lines above: the text need not be whole."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from ..language.model import Kind, Level, Protocol, ProtocolSet
from ..language.quantities import TIME
from ..language.schemas import effect_forms, schema

_KEY = re.compile(r"^(?P<indent> *)(?P<dash>- +)?(?P<key>[a-z_]+):(?P<rest>.*)$")
_ITEM = re.compile(r"^(?P<indent> *)- *(?P<rest>.*)$")


@dataclass(frozen=True, slots=True)
class Fitting:
    """One word that fits: what it is called, what kind of thing it is, and what is said of it."""

    word: str
    kind: str
    about: str


@dataclass(frozen=True, slots=True)
class Spot:
    """Where the cursor is: the field being written (None where its name is to come), and on which side of a colon.

    ``around`` is the field that the field belongs to, such as ``steps``.
    """

    field: str | None
    value: bool
    around: str | None
    key: str | None = None


def fitting(protocol_set: ProtocolSet, protocol: Protocol | None, before: list[str]) -> tuple[Fitting, ...]:
    """What fits at the end of the last of these lines (the text up to the cursor)."""
    spot = spot_of(before)
    words = _fields(spot) if spot.field is None else _words(protocol_set, protocol, spot)
    return tuple({one.word: one for one in words}.values())


def spot_of(before: list[str]) -> Spot:
    """Reads from the text up to the cursor what is being written."""
    line = before[-1] if before else ""
    found = _KEY.match(line)
    if found is not None:
        value, key = _inside(found["rest"])
        return Spot(found["key"], value, _around(before[:-1], len(found["indent"])), key)
    item = _ITEM.match(line)
    indent = len(line) - len(line.lstrip(" "))
    owner = _owner(before[:-1], indent, is_item=item is not None)
    if item is not None and owner is not None and owner not in ("steps", "phases", "waits", "within", "cautions"):
        value, key = _inside(item["rest"])
        return Spot(owner, value, None, key)
    return Spot(None, False, owner)


def _inside(rest: str) -> tuple[bool, str | None]:
    """Whether a flow mapping's value is being written, and for which key."""
    opened = rest.rpartition("{")[2] if "{" in rest else None
    if opened is None or "}" in opened:
        return False, None
    entry = opened.rpartition(",")[2]
    key, colon, _ = entry.partition(":")
    return bool(colon), key.strip() if colon else None


def _owner(above: list[str], indent: int, *, is_item: bool) -> str | None:
    """The field whose lines these are: the nearest one above that is less indented (or as much, above a list)."""
    for line in reversed(above):
        found = _KEY.match(line)
        if found is None or not line.strip():
            continue
        depth = len(found["indent"]) + len(found["dash"] or "")
        if depth < indent or (is_item and depth == indent and not found["rest"].strip()):
            return found["key"]
    return None


def _around(above: list[str], indent: int) -> str | None:
    return _owner(above, indent, is_item=False)


def _fields(spot: Spot) -> Iterator[Fitting]:
    """The fields of the shape that is being written."""
    shapes: Mapping[str, Any] = schema("protocol")["$defs"]
    inner = {
        "waits": "wait",
        "within": "limit",
        "cautions": "caution",
        "phases": "phase",
        "asks": "asks",
        "repeat": "repeat",
        "choices": "choice",
    }
    if spot.around is None:
        yield from _described(schema("protocol")["properties"])
        return
    if spot.around in ("steps", "phase", "title"):
        yield from _described(shapes["step"]["properties"])
        yield from _described({"use": shapes["use"]["properties"]["use"]})
    elif spot.around in inner:
        yield from _described(shapes[inner[spot.around]]["properties"])
    else:
        yield from _described(shapes["step"]["properties"])


def _described(properties: Mapping[str, Any]) -> Iterator[Fitting]:
    for name, spec in properties.items():
        yield Fitting(name, "field", str(spec.get("description", "")))


def _words(protocol_set: ProtocolSet, protocol: Protocol | None, spot: Spot) -> Iterator[Fitting]:
    field = spot.field or ""
    if field == "use":
        ids = {path.rpartition("/")[2].removesuffix(".yaml") for path in protocol_set.sources if "/parts/" in path}
        yield from (Fitting(one, "part", "a part of this set") for one in sorted(ids))
        return
    if field in ("meets", "adopts", "keeps"):
        yield from _evidence(protocol_set, spot, field)
        return
    if protocol is None:
        yield from _roles(protocol_set, None)
        return
    yield from _of_protocol(protocol_set, protocol, spot, field)


def _evidence(protocol_set: ProtocolSet, spot: Spot, field: str) -> Iterator[Fitting]:
    """Requirements that a step may meet; those with a value to keep; sets of them that a protocol may adopt."""
    if field == "adopts":
        for name, held in protocol_set.sets.items():
            yield Fitting(name, "set of requirements", ", ".join(map(str, held)))
        return
    for one in protocol_set.requirements:
        if field == "meets" or (not spot.value and one.limit is not None and one.limit.dimension != TIME):
            yield Fitting(one.id.value, "requirement", f"{one.text} {one.limit or ''}".strip())


def _of_protocol(protocol_set: ProtocolSet, protocol: Protocol, spot: Spot, field: str) -> Iterable[Fitting]:
    if field in ("role", "with", "team") or (field == "passes" and spot.value):
        return _roles(protocol_set, protocol)
    if field in ("after", "from", "for", "of", "repeat"):
        return _steps(protocol)
    if field in ("waits", "within"):
        return () if spot.value and spot.key not in ("for", "of") else _steps(protocol)
    if field == "when":
        return _options(protocol, spot.key) if spot.value else _choices(protocol)
    if field in ("requires", "confirms", "withdraws"):
        return _facts(protocol)
    if field == "records":
        packs = tuple(_subjects(protocol, {Kind.PACK}))
        return (Fitting(f"{one.word}.{line}", "record", one.about) for one in packs for line in ("lot", "expiry"))
    if field in ("needs", "makes") and spot.value:
        return _levels()
    return _things(protocol, spot, field)


def _things(protocol: Protocol, spot: Spot, field: str) -> Iterable[Fitting]:
    """The subjects that a field of needs or effects may name."""
    if field == "opens":
        return _subjects(protocol, {Kind.PACK})
    if field in ("lays", "presents") and spot.value:
        return _subjects(protocol, {Kind.SURFACE})
    if field in ("covers", "discards") and spot.value:
        return _subjects(protocol, {Kind.ITEM})
    known = {"needs", *(form.field for form in effect_forms())}
    return _subjects(protocol, None) if field in known else ()


def _roles(protocol_set: ProtocolSet, protocol: Protocol | None) -> Iterator[Fitting]:
    team = {role.value for role in protocol.team} if protocol is not None else set()
    clinic = protocol_set.clinic
    for role in clinic.roles if clinic is not None else ():
        if not team or role.id.value in team:
            yield Fitting(role.id.value, "role", role.title)


def _steps(protocol: Protocol) -> Iterator[Fitting]:
    for step in protocol.steps:
        yield Fitting(step.id.value, "step", " ".join(step.do.value.split()))


def _choices(protocol: Protocol) -> Iterator[Fitting]:
    for choice in protocol.choices:
        yield Fitting(choice.id.value, "choice", choice.title)
    for step in protocol.steps:
        if step.asks is not None:
            yield Fitting(step.id.value, "question", step.asks.question.value)


def _options(protocol: Protocol, name: str | None) -> Iterator[Fitting]:
    for choice in protocol.choices:
        if choice.id.value == name:
            yield from (Fitting(option.value, "option", title) for option, title in choice.options)
    for step in protocol.steps:
        if step.id.value == name and step.asks is not None:
            yield from (Fitting(answer.value, "answer", step.asks.question.value) for answer in step.asks.answers)


def _facts(protocol: Protocol) -> Iterator[Fitting]:
    for step in protocol.steps:
        yield from (Fitting(fact.value, "fact", f"confirmed by {step.id}") for fact in step.confirms)


def _levels() -> Iterator[Fitting]:
    for level in Level:
        yield Fitting(level.word, "level", f"level {level.value} of {max(Level).value}, the more the cleaner")


def _subjects(protocol: Protocol, kinds: set[Kind] | None) -> Iterator[Fitting]:
    for name, subject in protocol.subjects.items():
        if kinds is None or subject.kind in kinds:
            yield Fitting(name, subject.kind.value, subject.title)
