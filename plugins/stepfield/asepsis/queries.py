"""What holds when a step begins, over every order that leads there."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from ..language.model import Level
from .explore import Edge, Exploration
from .graph import StepGraph
from .stepping import Picks
from .touching import Refusal, Touching
from .world import World

PARTS_TOLD = ("hands", "body", "face")
"""The parts of a person whose state is told."""


@dataclass(frozen=True, slots=True)
class Course:
    """One order of steps, each as (id, answer or None), and the choices settled on the way.

    ``breach_after`` tells after how many of the steps something was contaminated on purpose, where something was.
    """

    steps: tuple[tuple[str, str | None], ...]
    choices: Mapping[str, str]
    breach_after: int | None = None


@dataclass(frozen=True, slots=True)
class PartState:
    """A part of a person over every order: ``level`` is guaranteed, some order reaches ``highest``.

    ``coverings`` are the things that can be its outside, None for bare; ``soiled`` is "no", "maybe" or "yes".
    """

    subject: str
    level: Level
    highest: Level
    coverings: tuple[str | None, ...]
    soiled: str


@dataclass(frozen=True, slots=True)
class Person:
    """How one member of the team stands, and which subjects this person's hands may meet in every order.

    ``less_clean`` are those of the ``safe`` ones that may fall by it, but from no more than disinfected.
    """

    role: str
    parts: tuple[PartState, ...]
    safe: tuple[str, ...]
    less_clean: tuple[str, ...]
    not_now: tuple[Refusal, ...]


@dataclass(frozen=True, slots=True)
class Before:
    """Everybody just before a step; ``people`` is empty where no order was seen to reach it.

    ``in_place`` maps the items that cover something in every order to what they cover.
    """

    step: str
    people: tuple[Person, ...]
    in_place: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Can:
    """Whether a state holds just before a step: in "every" order, "some" or "no" order, or the step is "never" reached.

    ``so`` and ``not_so`` are shortest orders up to that moment in which it does and does not hold.
    """

    subject: str
    state: str
    step: str
    holds: str
    so: Course | None
    not_so: Course | None


STATES: Mapping[str, Callable[[World, int], bool]] = {
    "contaminated": lambda world, subject: world.level(subject) is Level.CONTAMINATED,
    "clean": lambda world, subject: world.level(subject) >= Level.CLEAN,
    "disinfected": lambda world, subject: world.level(subject) >= Level.DISINFECTED,
    "sterile": lambda world, subject: world.level(subject) >= Level.STERILE,
    "soiled": lambda world, subject: world.is_soiled(world.outside(subject)),
    "covered": lambda world, subject: world.outside(subject) != subject,
    "bare": lambda world, subject: world.outside(subject) == subject,
    "there": lambda world, subject: not world.is_gone(subject) and not world.in_pack(subject),
    "gone": lambda world, subject: world.is_gone(subject),
}
"""What can be asked of a subject. A level asks for at least that level; contaminated asks for no better."""


class Ways:
    """A shortest way to every node of an exploration."""

    def __init__(self, found: Exploration) -> None:
        self.found = found
        self.depth: dict[int, int] = {}
        self._came: dict[int, tuple[int, Edge | None, Picks]] = {}
        queue: deque[int] = deque()
        for node, picks in found.starts:
            if node not in self._came:
                self._came[node], self.depth[node] = (node, None, picks), 0
                queue.append(node)
        while queue:
            node = queue.popleft()
            for edge in found.edges[node]:
                if edge.to not in self._came:
                    self._came[edge.to], self.depth[edge.to] = (node, edge, edge.picks), self.depth[node] + 1
                    queue.append(edge.to)

    def to(self, node: int) -> tuple[tuple[tuple[int, str | None], ...], Picks]:
        """The steps to a node with their answers, and the choices settled on the way."""
        steps: list[tuple[int, str | None]] = []
        picks: list[tuple[int, str]] = []
        while True:
            before, edge, settled = self._came[node]
            picks += settled
            if edge is None:
                return tuple(reversed(steps)), tuple(picks)
            steps.append((edge.step, edge.answer))
            node = before

    def course(self, node: int) -> Course:
        """The way to a node, told by names."""
        steps, picks = self.to(node)
        return course_of(self.found, steps, picks)


def course_of(
    found: Exploration, steps: Iterable[tuple[int, str | None]], picks: Picks, breach_after: int | None = None
) -> Course:
    """An order of steps and the choices it settles, by their names."""
    names = [step.id.value for step in found.graph.steps]
    given = dict(picks)
    choices = {name: given[position] for position, name in enumerate(found.choices) if position in given}
    return Course(tuple((names[step], answer) for step, answer in steps), choices, breach_after)


def beginnings(found: Exploration, step: int) -> tuple[int, ...]:
    """The nodes at which a step can begin."""
    return tuple(node for node, edges in enumerate(found.edges) if any(edge.step == step for edge in edges))


def before_step(found: Exploration, step: int) -> Before:
    """How everybody stands just before a step, and what each may touch."""
    graph = found.graph
    numbers = sorted({earlier for earlier, _ in found.happened.get(step, ())})
    worlds = [World(graph, found.worlds[number]) for number in numbers]
    roles = [role.value for role in graph.protocol.team] if worlds else []
    touched = Touching(found).told(step, roles)
    return Before(
        step=graph.steps[step].id.value,
        people=tuple(
            Person(role, tuple(_part(graph, worlds, role, part) for part in PARTS_TOLD), *touched[role])
            for role in roles
        ),
        in_place=_in_place(graph, worlds),
    )


def can_be(found: Exploration, subject: int, state: str, step: int) -> Can:
    """Whether a subject is in a state of STATES in every order just before a step."""
    graph, holds, ways = found.graph, STATES[state], Ways(found)
    so: int | None = None
    not_so: int | None = None
    for node in sorted(beginnings(found, step), key=lambda node: (ways.depth[node], node)):
        if holds(World(graph, found.worlds[found.world[node]]), subject):
            so = node if so is None else so
        else:
            not_so = node if not_so is None else not_so
    verdicts = {(False, False): "never", (True, False): "every", (False, True): "no", (True, True): "some"}
    return Can(
        subject=graph.subjects[subject].name.value,
        state=state,
        step=graph.steps[step].id.value,
        holds=verdicts[so is not None, not_so is not None],
        so=None if so is None else ways.course(so),
        not_so=None if not_so is None else ways.course(not_so),
    )


def _part(graph: StepGraph, worlds: list[World], role: str, part: str) -> PartState:
    subject = graph.parts[role, part]
    levels = {world.level(subject) for world in worlds}
    outsides = {world.outside(subject) for world in worlds}
    soiled = {world.is_soiled(world.outside(subject)) for world in worlds}
    return PartState(
        subject=graph.subjects[subject].name.value,
        level=min(levels),
        highest=max(levels),
        coverings=tuple(
            None if outside == subject else graph.subjects[outside].name.value for outside in sorted(outsides)
        ),
        soiled="maybe" if len(soiled) > 1 else "yes" if True in soiled else "no",
    )


def _in_place(graph: StepGraph, worlds: list[World]) -> dict[str, str]:
    places: dict[int, set[int | None]] = {}
    for world in worlds:
        for subject, stack in world.covers.items():
            for cover in stack:
                places.setdefault(cover, set()).add(subject)
    always = {cover: place for cover, (place, *others) in places.items() if not others}
    return {
        graph.subjects[cover].name.value: graph.subjects[place].name.value
        for cover, place in sorted(always.items())
        if place is not None and all(cover in world.covers.get(place, ()) for world in worlds)
    }
