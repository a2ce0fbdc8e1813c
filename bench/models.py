"""Protocols to measure with, made from four numbers: the same numbers always give the same text.

``protocol_sized`` is what a clinic would write: every role has things of its own, some furniture is shared, and the
busiest phase has many steps in every lane. ``coupled`` is the worst case: every step of every lane handles what the
others handle too.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

ROLES = ("circulating", "scrub", "surgeon", "assistant", "anaesthetic", "recovery")
Written = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Size:
    """How big a protocol is: ``width`` counts the steps of one lane in the widest phase; choices are two-way."""

    steps: int
    roles: int
    choices: int = 0
    width: int = 5
    slip: bool = False

    @property
    def name(self) -> str:
        """What tables call it."""
        return f"{self.steps} steps, {self.roles} roles, {self.choices} choices, {self.width} wide" + (
            ", one slip" if self.slip else ""
        )


def as_files(protocols: Mapping[str, Written]) -> dict[str, bytes]:
    """A protocol set as files; JSON is YAML too."""
    roles: Written = {role: {} for protocol in protocols.values() for role in protocol["team"]}
    clinic = {"clinic": "Quillhaven Day Surgery", "roles": roles}
    files = {"protocols/clinic.yaml": clinic} | {
        f"protocols/{name}.yaml": protocol for name, protocol in protocols.items()
    }
    return {path: json.dumps(said, indent=1).encode() for path, said in files.items()}


def protocol_sized(size: Size) -> Written:
    """A protocol as a clinic would write it, of exactly this size; clean, or with one slip in some of its orders.

    Raises ValueError if the steps are too few for the roles and the width.
    """
    team, gowned = ROLES[: size.roles], ROLES[1 : size.roles]
    fixed = size.roles + 3 * len(gowned) + size.roles * size.width + 1 + size.roles
    if size.steps < fixed or size.width < 4 or len(gowned) < 1:
        raise ValueError(f"{size.roles} roles and a width of {size.width} take at least {fixed} steps")
    if size.choices > size.roles * ((size.width - 3) // 2):
        raise ValueError(f"{size.choices} choices are too many for {size.roles} lanes of {size.width} steps")
    phases = {
        "room": [_prepare(role) for role in team],
        "dress": [step for role in gowned for step in _dress(role)],
        "lay-up": [step for role in team for step in _lay_up(role, size)],
        **_work(size.steps - fixed, gowned),
        "close": [_end(gowned), *(_leave(role) for role in team)],
    }
    return {
        **_head(team, size.choices),
        "surfaces": {"shared-trolley": {}} | {f"{role}-table": {} for role in team},
        "sites": {"skin": {"starts": "disinfected"}},
        "items": {"waste-bag": {"starts": "clean"}},
        "packs": {f"{role}-pack": {"title": "Pack", "holds": _held(role, size.width)} for role in gowned},
        "phases": [{"phase": name, "title": name, "steps": steps} for name, steps in phases.items() if steps],
    }


def coupled(lanes: int, length: int, *, slip: bool = False) -> Written:
    """Every lane handles the same few tables, with hands that the handling changes: hardly any two steps commute."""
    team = ROLES[:lanes]
    tables = [f"table-{number}" for number in range(lanes)]
    steps = [_handle(role, lane, number, tables) for lane, role in enumerate(team) for number in range(length)]
    asked = {"needs": {tables[0]: "clean"}} if slip else {}
    last: Written = {"id": "look-back", "role": team[0], "do": "Look back.", **asked}
    return {
        **_head(team, 0),
        "surfaces": {table: {"starts": "clean"} for table in tables},
        "phases": [{"phase": "all", "title": "All", "steps": steps}, {"phase": "end", "title": "End", "steps": [last]}],
    }


def _handle(role: str, lane: int, number: int, tables: list[str]) -> Written:
    table = tables[(lane + number) % len(tables)]
    step: Written = {"id": f"{role}-{number}", "role": role, "do": "Handle a table.", "touches": [table]}
    if number % 3 == 1:
        step["makes"] = {f"{role}.hands": "disinfected"}
    if number % 3 == 2:
        step["makes"] = {table: "disinfected" if lane % 2 else "clean"}
    return step


def _head(team: tuple[str, ...], choices: int) -> Written:
    head: Written = {
        "kind": "protocol",
        "title": "A made-up protocol",
        "purpose": "To measure with.",
        "version": "1.0.0",
        "status": "draft",
        "owner": "infection-control lead",
        "team": list(team),
    }
    if choices:
        head["choices"] = {
            f"choice-{number}": {"title": "A choice", "options": {"one": "One way", "other": "The other"}}
            for number in range(choices)
        }
    return head


def _held(role: str, width: int) -> Written:
    held: Written = {f"{role}-gown": {"worn_on": "body"}, f"{role}-gloves": {"worn_on": "hands"}, f"{role}-cover": {}}
    return held | {f"{role}-tool-{number}": {} for number in range(width)} | {f"{role}-shared": {}}


def _step(name: str, role: str, **fields: Any) -> Written:
    return {"id": name, "role": role, "do": f"Do {name}.", **fields}


def _prepare(role: str) -> Written:
    tables = {f"{role}-table": "disinfected"} | ({"shared-trolley": "disinfected"} if role == ROLES[1] else {})
    return _step(f"prepare-{role}", role, makes={f"{role}.hands": "clean", **tables})


def _dress(role: str) -> Iterator[Written]:
    yield _step(f"open-{role}", ROLES[0], opens=[f"{role}-pack"])
    yield _step(f"rub-{role}", role, makes={f"{role}.hands": "disinfected"})
    yield _step(
        f"gown-{role}",
        role,
        after=[f"open-{role}"],
        needs={f"{role}.hands": "disinfected"},
        dons=[f"{role}-gown", f"{role}-gloves"],
    )


def _lay_up(role: str, size: Size) -> Iterator[Written]:
    """The widest phase: an unscrubbed runner tidies, everybody else lays up a table and, now and then, a shared one."""
    lane = ROLES.index(role)
    for number in range(size.width):
        step = _tidy(number, size) if lane == 0 else _lay(role, number, size)
        # Two steps in a row stand for two ways to do one thing; the first and the last of a lane are always done.
        choice = lane + size.roles * (number // 2 - 1)
        if 2 <= number < size.width - 2 + size.width % 2 and choice < size.choices:
            step["when"] = {f"choice-{choice}": "other" if number % 2 else "one"}
        yield step


def _tidy(number: int, size: Size) -> Written:
    name, table = f"tidy-{number}", f"{ROLES[0]}-table"
    if size.slip and number == size.width - 1:
        return _step(name, ROLES[0], touches=["shared-trolley"])
    if number % 2:
        return _step(name, ROLES[0], touches=[table])
    return _step(name, ROLES[0], makes={table: "clean", f"{ROLES[0]}.hands": "clean"})


def _lay(role: str, number: int, size: Size) -> Written:
    name, own = f"lay-{role}-{number}", f"{role}-table"
    tool, hands = f"{role}-tool-{number}", f"{role}.hands"
    if number == 0 and role == ROLES[1]:
        return _step(
            name,
            role,
            sterile=True,
            covers={"shared-trolley": f"{role}-cover"},
            confirms=["trolley-covered"],
        )
    if number == 0:
        return _step(name, role, sterile=True, covers={own: f"{role}-cover"})
    if number == size.width - 1:
        return _step(
            name,
            role,
            after=[f"lay-{ROLES[1]}-0"],
            requires=["trolley-covered"],
            needs={"shared-trolley": "sterile", hands: "sterile"},
            lays={f"{role}-shared": "shared-trolley"},
        )
    if role == ROLES[1]:
        return _step(name, role, needs={hands: "sterile"}, touches=[tool])
    return _step(name, role, needs={hands: "sterile", own: "sterile"}, lays={tool: own})


def _work(count: int, gowned: tuple[str, ...]) -> dict[str, list[Written]]:
    """The rest of the steps, in phases of a few steps a lane: everybody works on the same skin."""
    steps = []
    for number in range(count):
        role = gowned[number % len(gowned)]
        tool = f"{role}-tool-{1 + number % 2}"
        steps.append(_step(f"work-{number}", role, sterile=True, uses={tool: "skin"}))
    most = 4 * len(gowned)
    return {f"case-{at}": steps[at * most : (at + 1) * most] for at in range(-(-count // most))}


def _end(gowned: tuple[str, ...]) -> Written:
    return _step("end-field", gowned[0], ends_field=True)


def _leave(role: str) -> Written:
    name = f"leave-{role}"
    if role == ROLES[0]:
        return _step(name, role, makes={f"{role}.hands": "clean"})
    table = "shared-trolley" if role == ROLES[1] else f"{role}-table"
    return _step(
        name,
        role,
        after=["end-field"],
        uncovers=[table],
        doffs=[f"{role}-gloves", f"{role}-gown"],
        makes={f"{role}.hands": "clean"},
    )
