"""Small random protocols, as the plain mappings a file holds: every effect and every kind of order, sensible or not."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from tests.oracle.naive import LEVELS, PARTS
from tests.oracle.naive_runs import direct_order, lanes_of

Draw = Any
Case = dict[str, Any]

ROLES = ("scrub", "surgeon", "runner")
THINGS = ("gloves", "gown", "mask", "cloth", "sheet", "paint", "gauze", "blade", "bin")
"""Items that may cover anything, one another and themselves included."""
WEARABLE = {"gloves": "hands", "gown": "body", "mask": "face", "cloth": "hands", "sheet": "body"}
FACTS = ("ready", "checked")
REQUIREMENTS = {
    "dry-long": {"text": "Let it dry.", "source": "invented", "limit": {"at_least": "3 min"}},
    "dry-short": {"text": "Let it dry a little.", "source": "invented", "limit": {"at_least": "30 s"}},
    "no-limit": {"text": "Do it well.", "source": "invented"},
}


def rarely(draw: Draw, one_in: int = 5) -> bool:
    """True in about one case of so many."""
    return bool(draw(st.integers(0, one_in - 1)) == one_in - 1)


def some(draw: Draw, names: list[str] | tuple[str, ...], least: int, most: int) -> list[str]:
    """A few of the names, none twice."""
    return list(
        draw(st.lists(st.sampled_from(sorted(names)), min_size=least, max_size=min(most, len(names)), unique=True))
    )


def attributes(draw: Draw, name: str) -> dict[str, Any]:
    """What is said of one item."""
    said: dict[str, Any] = {"worn_on": WEARABLE[name]} if name in WEARABLE else {}
    if draw(st.booleans()):
        said["starts"] = draw(st.sampled_from(LEVELS))
    if draw(st.booleans()):
        said["barrier"] = draw(st.sampled_from(("fluid-proof", "absorbent")))
    likely = {"gauze": "counted", "blade": "sharp", "bin": "sharps"}
    for mark in ("counted", "sharp", "sharps", "reusable"):
        if likely.get(name) == mark or rarely(draw, 12):
            said[mark] = True
    if name == "paint":
        said["hazard"] = "fire"
    return said


def scene(draw: Draw, fields: list[str]) -> Case:
    """Clinic, people, places and the things such fields play with; no steps yet."""
    surfaces = {"table": {"starts": draw(st.sampled_from(LEVELS))} if draw(st.booleans()) else {}}
    sites = {
        name: {"starts": draw(st.sampled_from(LEVELS[:3]))} if draw(st.booleans()) else {}
        for name in some(draw, ["skin", "thigh"], 1, 2)
    }
    items: dict[str, Any] = {"tray": attributes(draw, "tray")} if rarely(draw, 3) else {}
    holds: dict[str, Any] = {}
    inner: dict[str, Any] = {}
    used = some(draw, ["paint", "gauze"], 1, 2) if "uses" in fields else []
    for name in dict.fromkeys((*used, *some(draw, THINGS, 1, 5))):
        place = "loose" if name in used else draw(st.sampled_from(("loose", "loose", "held", "held", "inner")))
        {"loose": items, "held": holds, "inner": inner}[place][name] = attributes(draw, name)
    if inner:
        holds["inner-pack"] = {"holds": inner}
    protocol: dict[str, Any] = {
        "kind": "protocol",
        "title": "A small case",
        "team": list(ROLES[: draw(st.sampled_from((1, 2, 3, 3)))]),
        "surfaces": surfaces,
        "sites": sites,
        "items": items,
        "phases": [],
    }
    if holds:
        protocol["packs"] = {"kit": {"holds": holds}}
    if rarely(draw, 3):
        protocol["choices"] = {"way": {"options": {"left": "Left", "right": "Right"}}}
        if rarely(draw, 3):
            protocol["choices"]["size"] = {"options": {"small": "Small", "large": "Large", "huge": "Huge"}}
    clinic = {"clinic": "Quillhaven Day Surgery", "roles": {role: {} for role in ROLES}, "surfaces": {"trolley": {}}}
    return {"clinic": clinic, "protocol": protocol, "evidence": {"requirements": REQUIREMENTS}}


class Names:
    """The names a step may use, by what they can stand for."""

    def __init__(self, protocol: dict[str, Any]) -> None:
        kit = protocol.get("packs", {}).get("kit", {}).get("holds", {})
        inner = kit.get("inner-pack", {}).get("holds", {})
        self.team: list[str] = protocol["team"]
        self.hands = [f"{role}.hands" for role in self.team]
        self.people = [f"{role}.{part}" for role in self.team for part in PARTS[:3]]
        self.surfaces = ["table", "trolley"]
        self.sites = list(protocol["sites"])
        self.items = [name for name in (*protocol["items"], *kit, *inner) if name != "inner-pack"]
        self.tray = [name for name in self.items if name == "tray"]
        self.loose = [name for name in self.items if name != "tray"]
        self.wearable = [name for name in self.items if name in WEARABLE]
        self.packs = (["kit"] if kit else []) + (["inner-pack"] if inner else [])
        self.places = [*self.surfaces, *self.sites, *self.tray]
        self.targets = [*self.hands, *self.people, *self.places]
        self.anything = [*self.targets, *self.items, *self.packs]
        self.coverable = [*self.targets * 2, *self.loose]
        self.aims = [*self.sites * 3, *self.targets]
        self.waste = [*self.items, *self.packs]
        self.levels = ["clean", "disinfected", "sterile", "contaminated"]


LISTS: dict[str, str] = {
    "opens": "packs",
    "touches": "anything",
    "dons": "wearable",
    "uncovers": "targets",
    "doffs": "wearable",
    "wets": "targets",
    "contaminates": "anything",
    "soils": "anything",
    "counts": "items",
    "discards": "waste",
    "hands_over": "waste",
}
MAPS: dict[str, tuple[str, str]] = {
    "passes": ("items", "team"),
    "uses": ("items", "aims"),
    "lays": ("items", "places"),
    "presents": ("items", "places"),
    "covers": ("coverable", "loose"),
    "makes": ("anything", "levels"),
    "discards into": ("items", "items"),
}
"""Effect fields, with what may stand in their lists, or as keys and values of their mappings (attributes of Names)."""


def effect(draw: Draw, names: Names, step: dict[str, Any], fields: list[str]) -> None:
    """Writes one effect into the step, of the fields this case plays with."""
    field = draw(st.sampled_from(fields))
    sides = [getattr(names, side) for side in ((LISTS[field],) if field in LISTS else MAPS[field])]
    if not all(sides):
        return
    thing, *targets = (draw(st.sampled_from(side)) for side in sides)
    written = step.setdefault(field.split(" ")[0], {} if targets else [])
    if targets and isinstance(written, dict) and (thing != targets[0] or field == "covers"):
        written[thing] = targets[0]
    elif not targets and isinstance(written, list):
        written.append(thing)


PLAYS = (
    ("opens", "covers", "dons", "touches", "passes"),
    ("covers", "uncovers", "wets", "touches", "makes", "soils"),
    ("dons", "doffs", "soils", "touches", "makes", "discards"),
    ("lays", "presents", "touches", "contaminates", "soils", "uncovers", "covers"),
    ("uses", "counts", "discards into", "hands_over", "discards"),
    ("uses", "makes", "wets", "soils"),
    ("uses",),
    ("lays", "presents", "touches", "soils"),
    ("lays", "presents", "uses", "touches"),
    ("covers", "dons", "uncovers", "doffs"),
    tuple(sorted({*LISTS, *MAPS})),
)
"""Cases that play with a few fields go deeper than cases that play with all."""


def judged(draw: Draw, names: Names, step: dict[str, Any]) -> None:
    """Writes what the step needs, requires and confirms, and its marks."""
    if rarely(draw):
        step["sterile"] = True
    wanted = names.places if "sterile" in step else names.anything
    if rarely(draw, 3):
        step["needs"] = {name: draw(st.sampled_from(LEVELS)) for name in some(draw, wanted, 1, 2)}
    for field, one_in in (("requires", 4), ("confirms", 3), ("withdraws", 8)):
        if rarely(draw, one_in):
            step[field] = some(draw, FACTS, 1, 2)
    for mark in ("ignition", "ends_field"):
        if rarely(draw, 6):
            step[mark] = True
    if rarely(draw, 3):
        step["meets"] = some(draw, list(REQUIREMENTS), 1, 2)


def ordered(draw: Draw, protocol: dict[str, Any]) -> None:
    """Adds order across lanes, waits and conditions, and repeats, none of which close a loop or look ahead."""
    for phase in protocol["phases"]:
        ids = [step["id"] for step in phase["steps"]]
        for step in phase["steps"]:
            wanted = (
                some(draw, [other for other in ids if other != step["id"]], 1, 2)
                if len(ids) > 1 and rarely(draw, 3)
                else []
            )
            for other in wanted:
                if step["id"] not in ancestors(protocol, other):
                    step.setdefault("after", []).append(other)
    asked: dict[str, list[str]] = {}
    for phase in protocol["phases"]:
        for step in phase["steps"]:
            earlier = sorted(ancestors(protocol, step["id"]))
            conditions = {name: list(choice["options"]) for name, choice in protocol.get("choices", {}).items()}
            conditions |= {name: asked[name] for name in earlier if name in asked}
            if conditions and rarely(draw, 2):
                step["when"] = {name: some(draw, conditions[name], 1, 2) for name in some(draw, list(conditions), 1, 2)}
            if earlier and rarely(draw, 3):
                step["waits"] = [
                    {
                        "for": draw(st.sampled_from(earlier)),
                        "at_least": draw(st.sampled_from(("30 s", "1 min", "3 min"))),
                    }
                ]
            if rarely(draw, 4):
                asks(draw, phase, step)
                asked[step["id"]] = step["asks"]["answers"]


def asks(draw: Draw, phase: dict[str, Any], step: dict[str, Any]) -> None:
    """Lets the step ask, and perhaps send its lane back."""
    step["asks"] = {"question": "Whole?", "answers": ["damaged", "whole", "doubtful"][: draw(st.integers(2, 3))]}
    if draw(st.booleans()):
        lane = [other["id"] for other in phase["steps"] if step["role"] in lanes_of(other)]
        earlier = lane[: lane.index(step["id"]) + 1]
        step["repeat"] = {"from": draw(st.sampled_from(earlier)), "answer": "damaged"}


def ancestors(protocol: dict[str, Any], name: str) -> set[str]:
    """Every step that must come before the named one."""
    before = direct_order(protocol)
    found: set[str] = set()
    waiting = [name]
    while waiting:
        new = before[waiting.pop()] - found
        found |= new
        waiting.extend(new)
    return found


def prepared(draw: Draw, names: Names) -> dict[str, Any]:
    """A first step after which hands, places and packs are fit for use, so that later slips stand out."""
    step: dict[str, Any] = {"id": "s0", "role": names.team[0], "do": "Prepare.", "opens": list(names.packs)}
    step["makes"] = dict.fromkeys((*names.hands, *names.sites), "disinfected")
    step["makes"]["table"] = draw(st.sampled_from(LEVELS))
    return step


def probe(draw: Draw, team: list[str], names: list[str]) -> dict[str, Any]:
    """A last look at everything: whatever level a thing has by then, some case asks for one more."""
    needs = {name: draw(st.sampled_from(LEVELS[1:])) for name in names}
    return {"id": "probe", "role": draw(st.sampled_from(team)), "do": "Look.", "needs": needs}


@st.composite
def small_protocols(draw: Draw, most_steps: int = 7) -> Case:
    """A clinic with one protocol of up to so many steps, in one to three phases."""
    fields = list(draw(st.sampled_from(PLAYS)))
    case = scene(draw, fields)
    protocol = case["protocol"]
    names = Names(protocol)
    count = draw(st.integers(2, most_steps))
    steps = [prepared(draw, names)] if draw(st.booleans()) else []
    for number in range(len(steps), count):
        role, *others = draw(st.permutations(names.team))
        step: dict[str, Any] = {"id": f"s{number}", "role": role, "do": "Do it."}
        if others and rarely(draw, 6):
            step["with"] = [others[0]]
        judged(draw, names, step)
        for _ in range(draw(st.integers(1, 4))):
            effect(draw, names, step, fields)
        steps.append(step)
    if draw(st.booleans()):
        steps.append(probe(draw, names.team, names.anything))
    first, second = sorted(draw(st.integers(1, len(steps))) for _ in range(2))
    parts = [part for part in (steps[:first], steps[first:second], steps[second:]) if part]
    protocol["phases"] = [{"phase": f"p{number}", "steps": part} for number, part in enumerate(parts)]
    ordered(draw, protocol)
    return case
