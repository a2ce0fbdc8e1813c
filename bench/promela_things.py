"""The things of a protocol as tables for ``world.h``, and which steps share things with other lanes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from stepfield.language.model import Effect, Kind, Protocol, Step

KINDS = {Kind.PERSON: 0, Kind.SURFACE: 1, Kind.SITE: 2, Kind.ITEM: 3, Kind.PACK: 4}
HELD = {"opens", "touches", "passes", "uses", "lays", "covers", "dons", "uncovers"}


class Things:
    """Only what some step names is carried, each with the places it needs and no more: small states, many of them."""

    def __init__(self, protocol: Protocol) -> None:
        self.protocol = protocol
        self.roles = [str(role) for role in protocol.team]
        wanted = {str(need.subject) for step in protocol.steps for need in step.needs}
        self.tops: list[str] = []
        self.worn: list[str] = []
        self.resting: list[str] = []
        for step in protocol.steps:
            wanted.add(f"{step.role}.hands")
            for effect in step.effects:
                wanted |= named(protocol, step, effect)
                self._note(step, effect)
        # A pack counts as opened or not, and so do the packs around it.
        self.names = [name for name in protocol.subjects if name in _with_packs(protocol, wanted)]
        self.place = {name: number for number, name in enumerate(self.names)}
        self.counted = [name for name in self.names if protocol.subjects[name].counted]

    def _note(self, step: Step, effect: Effect) -> None:
        thing, target = str(effect.thing), str(effect.target)
        if effect.field == "covers":
            _add(self.tops, thing)
            _add(self.worn, target)
        if effect.field == "dons":
            _add(self.tops, f"{step.role}.{self.protocol.subjects[thing].worn_on or 'hands'}")
            _add(self.worn, thing)
        if effect.field in ("lays", "presents"):
            _add(self.resting, thing)

    def number(self, name: str) -> int:
        """The number of a thing."""
        return self.place[name]

    def role(self, role: str) -> int:
        """The number of a role, plus one."""
        return self.roles.index(role) + 1

    def tables(self) -> Iterator[str]:
        """The sizes and tables that ``world.h`` expects, as C."""
        sizes = {
            "THINGS": self.names,
            "TOPS": self.tops,
            "WORNS": self.worn,
            "RESTS": self.resting,
            "COUNTED": self.counted,
        }
        yield from (f"#define N_{name} {max(1, len(those))}" for name, those in sizes.items())
        yield f"#define N_RESTING {len(self.resting)}"
        subjects = [self.protocol.subjects[name] for name in self.names]
        yield _table("KIND", (KINDS[one.kind] for one in subjects))
        yield _table("ROLE", (self.role(one.role) if one.role else 0 for one in subjects))
        yield _table("HELD_IN", (self.place[one.held_in] + 1 if one.held_in else 0 for one in subjects))
        yield _table("SKIN", (int(name.endswith((".hands", ".face"))) for name in self.names))
        yield _table("PROOF", (int(one.fluid_proof) for one in subjects))
        yield _table("SHARP", (int(one.sharp) for one in subjects))
        yield _table("SHARPS", (int(one.sharps) for one in subjects))
        yield _table("FIRE", (int(one.hazard == "fire") for one in subjects))
        places = {"COUNTED": self.counted, "TOP_AT": self.tops, "WORN_AT": self.worn, "REST_AT": self.resting}
        for table, those in places.items():
            yield _table(table, (those.index(name) + 1 if name in those else 0 for name in self.names))
        yield _table("RESTING", [self.place[name] for name in self.resting] or [0])


def sharing(protocol: Protocol, phase: list[int]) -> list[bool]:
    """For each step whether it may meet something that a step of another lane changes in the same phase."""
    near = _near(protocol)
    prints = [_print(protocol, step, near) for step in protocol.steps]
    owners = [str(step.role) for step in protocol.steps]
    shares = []
    for mine, (reads, changes) in enumerate(prints):
        others = [
            prints[other]
            for other in range(len(prints))
            if phase[other] == phase[mine] and owners[other] != owners[mine]
        ]
        shares.append(any(changes & (theirs[0] | theirs[1]) or reads & theirs[1] for theirs in others))
    return shares


def named(protocol: Protocol, step: Step, effect: Effect) -> set[str]:
    """The things an effect may meet by name."""
    names = {str(effect.thing)}
    if effect.target is not None:
        names.add(f"{effect.target}.hands" if effect.field == "passes" else str(effect.target))
    if effect.field in HELD:
        names.add(f"{step.role}.hands")
    if effect.field == "dons":
        names.add(f"{step.role}.{protocol.subjects[str(effect.thing)].worn_on or 'hands'}")
    role = protocol.subjects[str(effect.thing)].role
    if effect.field == "covers" and role is not None:
        names.add(f"{role}.hands")
    return names


def _print(protocol: Protocol, step: Step, near: Mapping[str, set[str]]) -> tuple[set[str], set[str]]:
    """What a step reads and what it may change."""
    reads, changes = {"the field"}, set()
    for need in step.needs:
        reads |= _reach(near, str(need.subject))
    for effect in step.effects:
        names = named(protocol, step, effect)
        for name in names:
            changes |= _reach(near, name)
        reads |= {f"opened {pack}" for name in names for pack in _packs_around(protocol, name)}
        if effect.field == "opens":
            changes.add(f"opened {effect.thing}")
        if any(protocol.subjects[name].hazard == "fire" for name in names):
            changes.add("fire")
    reads |= {f"fact {name}" for name in step.requires}
    changes |= {f"fact {name}" for name in (*step.confirms, *step.withdraws)}
    changes |= {f"answer {step.id}"} if step.asks else set()
    reads |= {f"answer {part.name}" for part in step.when}
    if step.ignition or step.waits:
        changes.add("fire")
    if step.ends_field:
        changes.add("the field")
    return reads, changes


def _near(protocol: Protocol) -> dict[str, set[str]]:
    near: dict[str, set[str]] = {name: set() for name in protocol.subjects}
    for step in protocol.steps:
        for effect in step.effects:
            thing, target = str(effect.thing), str(effect.target)
            if effect.field in ("covers", "dons"):
                if effect.field == "dons":
                    target = f"{step.role}.{protocol.subjects[thing].worn_on or 'hands'}"
                near[thing].add(target)
                near[target].add(thing)
            if effect.field in ("lays", "presents"):
                near[target].add(thing)
    return near


def _reach(near: Mapping[str, set[str]], start: str) -> set[str]:
    found, left = {start}, [start]
    while left:
        new = near[left.pop()] - found
        found |= new
        left += new
    return found


def _packs_around(protocol: Protocol, name: str) -> Iterator[str]:
    pack = protocol.subjects[name].held_in
    while pack is not None:
        yield pack
        pack = protocol.subjects[pack].held_in


def _with_packs(protocol: Protocol, names: set[str]) -> set[str]:
    return names | {pack for name in names for pack in _packs_around(protocol, name)}


def _add(names: list[str], name: str) -> None:
    if name not in names:
        names.append(name)


def _table(name: str, values: Iterable[int]) -> str:
    return f"static const short {name}[] = {{ {', '.join(map(str, values))} }};"
