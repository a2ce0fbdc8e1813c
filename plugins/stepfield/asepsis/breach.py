"""What becomes of a case if one thing is contaminated just before a step: what is lost with it, and which steps fail.

"Just before" means: when the step's turn has come and before it begins, so that steps of others may still lie between.
Two questions are asked of what follows. Which checks would tell of it: the engine's own steps answer that, which carry
on after each slip as if the check had held. And what is lost if nobody notices: that is seen by letting every order run
twice, with the breach and without, with no check in the way to stop what falls.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ..language.model import Level
from ..language.source import Span
from .doing import Doing
from .effects import ACTS
from .explore import Exploration
from .graph import BoundEffect, StepGraph
from .happen import do_step, end_slips
from .onward import Onward, Seen
from .queries import Course, Ways, beginnings, course_of
from .stepping import Settled, Stepping
from .world import Packed, Slip, SlipKey, World

Twin = tuple[Packed, Packed]
"""The same moment of one order without and with the breach."""


@dataclass(frozen=True, slots=True)
class Lost:
    """A subject that some order brings to a lower level than it would have had; ``course`` is a shortest such order.

    ``step`` is the step that lowers it, None where the breach itself does; ``outside`` the cover that falls, or itself.
    """

    subject: str
    outside: str
    level: Level
    would_be: Level
    step: str | None
    course: Course


@dataclass(frozen=True, slots=True)
class Failure:
    """A slip that the protocol does not have without the breach; ``course`` is a shortest order that shows it.

    ``step`` is the failing step's id, None at the end.
    """

    slip: Slip
    step: str | None
    course: Course


@dataclass(frozen=True, slots=True)
class Restorer:
    """A step that gives the subject a level of its own again, by its field ``by`` (makes, covers or dons).

    ``enough`` tells whether the level is the one it had; ``comes`` whether some order does the step after the breach.
    """

    step: str
    by: str
    level: Level
    enough: bool
    comes: bool


@dataclass(frozen=True, slots=True)
class Breach:
    """What becomes of a breach. ``had`` are the levels the subject can have before it, empty where none was seen.

    ``present`` is "every", "some" or "no": whether the subject is there to be contaminated in the orders that reach the
    step; "never" if none does. ``complete`` is false where a search was given up.
    """

    subject: str
    step: str
    present: str
    had: tuple[Level, ...]
    lost: tuple[Lost, ...]
    failures: tuple[Failure, ...]
    restorers: tuple[Restorer, ...]
    complete: bool


def breach_of(found: Exploration, subject: int, step: int, limit: int) -> Breach:
    """Contaminates a subject just before a step and follows every order from there, each search up to ``limit``."""
    starts = _Starts(found, subject, step)
    lost, all_lost = _lost(starts, limit)
    failures, all_failures = _failures(starts, limit)
    had = tuple(sorted({World(found.graph, before).level(subject) for before, _ in starts.worlds.values()}))
    return Breach(
        subject=found.graph.subjects[subject].name.value,
        step=found.graph.steps[step].id.value,
        present=starts.present,
        had=had,
        lost=lost,
        failures=failures,
        restorers=tuple(_restorers(found.graph, subject, step, max(had))) if had else (),
        complete=found.complete and all_lost and all_failures,
    )


class _Starts:
    """Every moment at which the breach can happen: the node, and the world there before and after it."""

    def __init__(self, found: Exploration, subject: int, step: int) -> None:
        self.found, self.graph, self.ways = found, found.graph, Ways(found)
        self.subject, self.step = subject, step
        nodes = beginnings(found, step)
        self.worlds: dict[int, Twin] = {}
        for node in nodes:
            world = World(self.graph, found.worlds[found.world[node]])
            if not world.is_gone(subject) and not world.in_pack(subject):
                self.worlds[node] = (world.pack(), _breached(self.graph, world, subject, step))
        self.present = "never" if not nodes else "no" if not self.worlds else "some"
        if nodes and len(nodes) == len(self.worlds):
            self.present = "every"

    def is_breached(self, node: int, subject: int) -> bool:
        """Whether a subject is what was contaminated at a node: the one asked for, or the cover that is its outside."""
        return subject in (self.subject, World(self.graph, self.worlds[node][0]).outside(self.subject))

    def course(self, onward: Onward[Packed] | Onward[Twin], seen: Seen[Packed] | Seen[Twin]) -> Course:
        """The whole order that leads to what was seen."""
        origin, later, later_picks = onward.way(seen.node)
        earlier, picks = self.ways.to(origin)
        last = () if seen.step is None else ((seen.step, seen.answer),)
        return course_of(self.found, (*earlier, *later, *last), (*picks, *later_picks), len(earlier))


def _breached(graph: StepGraph, world: World, subject: int, step: int) -> Packed:
    deed, span = graph.deeds[step], graph.steps[step].id.span
    ACTS["contaminates"](Doing(graph, deed, world), _contaminated(subject, span))
    return world.pack()


def _contaminated(subject: int, span: Span) -> BoundEffect:
    return BoundEffect("contaminates", subject, -1, None, span)


def _failures(starts: _Starts, limit: int) -> tuple[tuple[Failure, ...], bool]:
    """The slips that some order shows with the breach and none without."""
    found, graph = starts.found, starts.graph
    known = set(zip(found.done, (found.worlds[number] for number in found.world), found.settled, strict=True))
    stepping = Stepping(graph, reduced=False)

    def act(step: int, state: Packed) -> tuple[Packed, tuple[SlipKey, ...]]:
        world = World(graph, state)
        slips = do_step(graph, graph.deeds[step], world)
        return world.pack(), stepping.note(slips)

    def over(done: int, state: Packed, settled: Settled) -> bool:
        return (done, state, settled) in known

    onward = Onward(stepping, act, over, limit)
    for node, (_, breached) in starts.worlds.items():
        onward.begin(found.done[node], breached, found.settled[node], starts.ways.depth[node], node)
    failures: dict[SlipKey, Failure] = {}
    for seen in onward.run():
        slips = seen.slips
        if seen.step is None and onward.is_end(seen.node):
            slips = stepping.note(end_slips(graph, World(graph, seen.state)))
        for key in slips:
            if key not in found.slips and key not in failures:
                slip = stepping.slips[key]
                name = None if slip.step is None else graph.steps[slip.step].id.value
                failures[key] = Failure(slip, name, starts.course(onward, seen))
    return tuple(failures.values()), onward.complete


class _Unchecked(Doing):
    """A step that nothing stops: what is below the level asked for stays there."""

    __slots__ = ()

    def need(self, subject: int, asked: Level, span: Span) -> None:
        """Asks for nothing."""


def _lost(starts: _Starts, limit: int) -> tuple[tuple[Lost, ...], bool]:
    """What is lower with the breach than without, at some moment of some order."""
    found, graph = starts.found, starts.graph

    def act(step: int, state: Twin) -> tuple[Twin, tuple[SlipKey, ...]]:
        return (_unchecked(graph, step, state[0]), _unchecked(graph, step, state[1])), ()

    def over(_: int, state: Twin, __: Settled) -> bool:
        return state[0] == state[1]

    onward = Onward(Stepping(graph, reduced=False), act, over, limit)
    for node, (before, breached) in starts.worlds.items():
        twin = (_unguarded(graph, before), _unguarded(graph, breached))
        onward.begin(found.done[node], twin, found.settled[node], starts.ways.depth[node], node)
    lost: dict[int, Lost] = {}
    for seen in onward.run():
        for subject, outside in _lower(graph, *seen.state):
            if subject in lost or starts.is_breached(onward.way(seen.node)[0], subject):
                continue
            would_be, level = (World(graph, packed).level(subject) for packed in seen.state)
            names = (graph.subjects[subject].name.value, graph.subjects[outside].name.value)
            course = starts.course(onward, seen)
            by = course.steps[-1][0] if len(course.steps) != course.breach_after else None
            lost[subject] = Lost(*names, level, would_be, by, course)
    return tuple(lost.values()), onward.complete


def _unguarded(graph: StepGraph, packed: Packed) -> Packed:
    """The same world with the field given up: what is guarded keeps its level when a contact is told as a slip."""
    world = World(graph, packed)
    world.field_ended = 1
    return world.pack()


def _unchecked(graph: StepGraph, step: int, packed: Packed) -> Packed:
    world = World(graph, packed)
    doing = _Unchecked(graph, graph.deeds[step], world)
    for effect in graph.deeds[step].effects:
        ACTS[effect.field](doing, effect)
    return world.pack()


def _lower(graph: StepGraph, without: Packed, breached: Packed) -> Iterator[tuple[int, int]]:
    """The subjects still there that are lower with the breach, each with its outside."""
    if without == breached:
        return
    one, other = World(graph, without), World(graph, breached)
    for subject in range(len(graph.subjects)):
        outside = one.outside(subject)
        if not one.is_gone(outside) and other.levels[outside] < one.levels[outside]:
            yield subject, outside


def _restorers(graph: StepGraph, subject: int, step: int, had: Level) -> Iterator[Restorer]:
    """Every step that gives the subject's outside a level of its own, in written order."""
    ancestors = graph.order.ancestors()
    redone = [undone for _, undone in graph.repeats.values() if undone >> step & 1]
    for number, deed in enumerate(graph.deeds):
        comes = not ancestors[step] >> number & 1 or any(undone >> number & 1 for undone in redone)
        brought = [(_brought(graph, deed.owner, effect, subject), effect.field) for effect in deed.effects]
        # The last one counts: where a gloved hand is washed and gloved once more, the glove is the outside.
        level, by = next((one for one in reversed(brought) if one[0] is not None), (None, ""))
        if level is not None and level > Level.CONTAMINATED:
            yield Restorer(graph.steps[number].id.value, by, level, level >= had, comes)


def _brought(graph: StepGraph, owner: str, effect: BoundEffect, subject: int) -> Level | None:
    """The level an effect gives the subject's outside; a cover brings the one it starts with."""
    if effect.field == "makes" and effect.thing == subject:
        return effect.level
    if effect.field == "covers" and effect.thing == subject:
        return graph.subjects[effect.target].starts
    if effect.field == "dons":
        item = graph.subjects[effect.thing]
        if graph.parts[owner, item.worn_on or "hands"] == subject:
            return item.starts
    return None
