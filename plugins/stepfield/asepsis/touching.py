"""Which things a person's hands may meet at one moment, whatever order led there.

A touch is safe if it takes sterility from nothing (a site at disinfected counts as sterile), leaves the hands at their
level, and soils no bare skin. Whatever is sterile is kept so, not only the field: what lies ready is for the patient.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from ..language.model import Kind, Level
from ..language.source import Span
from .doing import Doing
from .effects import ACTS
from .graph import BoundEffect, Deed, StepGraph
from .world import World

PARTS_TOUCHED = ("hands", "body", "face")
"""The parts of people that are told among the things to touch."""
REASONS = ("would-contaminate", "contaminated-by", "soils-skin", "worn", "gone", "not-there-yet")
"""Why something must not be touched, gravest first. The last three say that it is not there for this person."""


@dataclass(frozen=True, slots=True)
class Refusal:
    """A thing not to be touched now: the gravest reason, of REASONS, that some order gives.

    ``by`` is what falls, lowers the hands, wears it or holds it; ``always`` tells that every order speaks against it.
    """

    thing: str
    reason: str
    by: str
    always: bool


Told = tuple[tuple[str, ...], tuple[str, ...], tuple[Refusal, ...]]
"""What is safe to touch, what of that would be less clean afterwards, and what is not safe."""
_Verdict = tuple[str, str] | None
"""A reason and what falls or is in the way; None if the touch is safe."""
_Meeting = tuple[object, ...]


def touches_of(graph: StepGraph, step: int, worlds: Sequence[World], roles: Iterable[str]) -> dict[str, Told]:
    """For every role what its hands may meet in all of these worlds, and what they may not."""
    things = [number for number, subject in enumerate(graph.subjects) if _is_told(subject.name.value, subject.kind)]
    seen = _meetings(worlds, {role: graph.parts[role, "hands"] for role in roles}, things)
    judge = _Judge(graph, step)
    return {role: judge.told(role, meetings) for role, meetings in seen.items()}


def _is_told(name: str, kind: Kind) -> bool:
    return kind is not Kind.PERSON or name.rpartition(".")[2] in PARTS_TOUCHED


def _meetings(
    worlds: Sequence[World], hands: Mapping[str, int], things: Sequence[int]
) -> dict[str, dict[int, dict[_Meeting, World]]]:
    """For each role and thing the ways in which these hands can find it, each with one world that shows it.

    What a touch does depends on no more than this: what the two outsides are, how they stand, and whether the thing is
    there. So each such case is judged once, in however many worlds it occurs.
    """
    found: dict[str, dict[int, dict[_Meeting, World]]] = {
        role: {thing: {} for thing in things if thing != own} for role, own in hands.items()
    }
    for world in worlds:
        places = {cover: subject for subject, stack in world.covers.items() for cover in stack}
        states = {
            thing: (_standing(world, thing), world.is_gone(thing), world.in_pack(thing), places.get(thing))
            for thing in things
        }
        for role, own in hands.items():
            standing = _standing(world, own)
            for thing, ways in found[role].items():
                ways.setdefault((standing, states[thing]), world)
    return found


def _standing(world: World, subject: int) -> tuple[int, int, bool]:
    outside = world.outside(subject)
    return outside, world.levels[outside], world.is_soiled(outside)


class _Judge:
    """Tries touches in copies of worlds, by the engine's own meaning of a touch."""

    def __init__(self, graph: StepGraph, step: int) -> None:
        self.graph, self.step = graph, step

    def told(self, role: str, meetings: dict[int, dict[_Meeting, World]]) -> Told:
        """What is safe and what is not, in the order of declaration."""
        safe, less_clean, not_now = [], [], []
        deed = self._deed(role)
        for thing, ways in meetings.items():
            name = self.graph.subjects[thing].name.value
            tried = [self._try(deed, thing, world) for world in ways.values()]
            against = [verdict for verdict, _ in tried if verdict is not None]
            if not against:
                safe.append(name)
                less_clean += [name] if any(falls for _, falls in tried) else []
                continue
            reason, by = min(against, key=lambda verdict: (REASONS.index(verdict[0]), verdict[1]))
            not_now.append(Refusal(name, reason, by, len(against) == len(tried)))
        return tuple(safe), tuple(less_clean), tuple(not_now)

    def _deed(self, role: str) -> Deed:
        hands = self.graph.parts[role, "hands"]
        return Deed(self.step, role, hands, (), (), (), 0, 0, frozenset(), False, False)

    def _try(self, deed: Deed, thing: int, before: World) -> tuple[_Verdict, bool]:
        """The verdict on these hands touching the thing in this world, and whether the thing falls."""
        world = World(self.graph, before.pack())
        # Guarded things keep their level when a slip is told; here what would fall has to be seen falling.
        world.field_ended = 1
        doing = Doing(self.graph, deed, world)
        span: Span = self.graph.steps[self.step].span
        ACTS["touches"](doing, BoundEffect("touches", thing, -1, None, span))
        falls = world.level(thing) < before.level(thing)
        return self._missing(doing, thing, before) or self._harm(doing, thing, before, falls), falls

    def _missing(self, doing: Doing, thing: int, before: World) -> _Verdict:
        for slip in doing.slips:
            if slip.kind == "not-available":
                if before.is_gone(thing):
                    return "gone", doing.name(thing)
                return ("not-there-yet" if before.in_pack(thing) else "worn"), slip.by or doing.name(thing)
        return None

    def _harm(self, doing: Doing, thing: int, before: World, falls: bool) -> _Verdict:
        outside = before.outside(thing)
        if falls and before.touch_level(outside) is Level.STERILE:
            return "would-contaminate", doing.name(outside)
        if doing.world.level(doing.deed.hands) < before.level(doing.deed.hands):
            return "contaminated-by", doing.name(outside)
        exposed = next((slip.subject for slip in doing.slips if slip.kind == "skin-exposed"), None)
        return None if exposed is None else ("soils-skin", exposed)
