"""What could supply what every order lacks: steps of the protocol done once more, and parts of the clinic used."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from ..asepsis import Occurrence, StepGraph
from ..language.model import Kind, Level, Protocol, Step
from ..language.written import Written, WrittenPart
from .finding import Addition, Mend, Wait
from .words import part_of, quoted

AGAIN = frozenset({"makes", "counts", "uncovers", "doffs"})
"""What a step of the protocol may do once more."""
LONGEST_NAME = 40
MOST_BINDINGS = 3
"""How many ways to bind a part's names are tried for one part."""
_KINDS = {"item": Kind.ITEM, "surface": Kind.SURFACE, "site": Kind.SITE, "pack": Kind.PACK}


@dataclass(frozen=True, slots=True)
class Want:
    """Something a step would have to do: an effect of ``field`` on ``thing``, or confirm it (``confirms``).

    ``level`` is the least it has to make; ``role`` whose step it has to be. With no ``thing``, ``role`` has to put
    something on where ``worn_on`` says.
    """

    field: str
    thing: str | None
    level: Level = Level.CONTAMINATED
    role: str | None = None
    worn_on: str | None = None


def additions(protocol: Protocol, graph: StepGraph, occurrence: Occurrence, known: Written) -> Iterator[Mend]:
    """Mends worth trying for a slip that no order avoids, the shortest first.

    A step or part is put right before the failing step (behind the last line for a slip of the end), in whoever's lane
    it is; where that is another lane than the failing step's, the failing step waits for it.
    """
    wants = tuple(wants_of(protocol, occurrence))
    place = _Place.of(protocol, graph, occurrence)
    for step in protocol.steps:
        if not step.used_at and step.id.value != place.failing and any(_supplies(step, want) for want in wants):
            name = _free(f"{step.id}-again", protocol)
            addition = Addition(name, place.beside, place.behind, again=step.id.value)
            yield from place.mends(addition, str(step.role), f"do {quoted(step.id)} once more")
    for part in sorted(known.parts, key=lambda part: len(part.steps)):
        for bound, owner in _bindings(part, wants, protocol, known):
            told = _told(part, bound)
            addition = Addition(
                _free(part.id, protocol), place.beside, place.behind, part=part.id, bound=tuple(bound.items())
            )
            yield from place.mends(addition, owner, f"use the part {quoted(part.id)}{told}")


def wants_of(protocol: Protocol, occurrence: Occurrence) -> Iterator[Want]:
    """What would keep a slip from happening, if some step did it in time.

    Nothing is wanted for a cover that is missing when it is to come off: it would be put on only to be taken off.
    """
    slip = occurrence.slip
    thing, role = slip.subject, protocol.subjects[slip.subject].role if slip.subject in protocol.subjects else None
    if slip.kind == "needs-not-met":
        yield Want("makes", thing, slip.asked or Level.CLEAN)
        yield Want("covers", thing)
        if role is not None:
            yield Want("dons", None, role=role, worn_on=part_of(thing))
    elif slip.kind == "skin-exposed" and role is not None:
        yield Want("covers", thing)
        yield Want("dons", None, role=role, worn_on=part_of(thing))
    elif slip.kind == "not-available" and slip.by in protocol.subjects:
        yield Want("opens", slip.by)
    elif slip.kind == "fact-missing":
        yield Want("confirms", thing)
    elif slip.kind == "count-missing":
        yield Want("counts", thing)
    elif slip.kind == "left-on":
        wearer = protocol.subjects.get(slip.by or "")
        yield Want("uncovers", thing)
        yield Want("doffs", thing, role=None if wearer is None else wearer.role)
    elif slip.kind in ("left-soiled", "sharp-loose") and slip.step is None:
        if slip.kind == "left-soiled":
            yield Want("makes", thing)
        yield Want("discards", thing)
        yield Want("hands_over", thing)


@dataclass(frozen=True, slots=True)
class _Place:
    """Where a line is put: before the ``failing`` step, or else behind the line of step ``beside``.

    ``people`` are the lanes the failing step stands in; ``cause`` what a line at the end has to come after.
    """

    beside: str
    failing: str | None = None
    people: frozenset[str] = frozenset()
    cause: str | None = None
    at_end: bool = False

    @classmethod
    def of(cls, protocol: Protocol, graph: StepGraph, occurrence: Occurrence) -> _Place:
        slip, steps, phase_of = occurrence.slip, protocol.steps, graph.order.phase_of
        if slip.step is None:
            cause = occurrence.cause
            in_time = cause is not None and phase_of[cause] == phase_of[-1]
            return cls(
                steps[-1].id.value, cause=steps[cause].id.value if cause is not None and in_time else None, at_end=True
            )
        step = steps[slip.step]
        if slip.kind == "count-missing" and slip.by == "after":
            return cls(step.id.value)
        people = frozenset(person.value for person in (step.role, *step.helpers) if person is not None)
        return cls(step.id.value, step.id.value, people)

    @property
    def behind(self) -> bool:
        """Whether the line comes behind the one it is put beside."""
        return self.failing is None

    def mends(self, addition: Addition, owner: str | None, do: str) -> Iterator[Mend]:
        """The line put here, with a wait where the lanes alone do not put it in order."""
        if self.failing is not None:
            waits = () if owner in self.people else (Wait(self.failing, (addition.name,)),)
            yield Mend(f"{do} right before {quoted(self.failing)}", waits, addition)
            return
        where = "at the end" if self.at_end else f"right after {quoted(self.beside)}"
        yield Mend(f"{do} {where}", (), addition)
        if self.cause is not None:
            yield Mend(f"{do} {where}, after {quoted(self.cause)}", (), replace(addition, after=(self.cause,)))


def _supplies(step: Step, want: Want) -> bool:
    """Whether a step written in the protocol itself does what is wanted, always, and can do it once more.

    A pack is opened once and a thing thrown away once; what is worn or covered is not put on twice.
    """
    if step.used_at or step.when:
        return False
    if want.field == "confirms":
        return any(name.value == want.thing for name in step.confirms)
    return want.field in AGAIN and any(
        effect.field == want.field and effect.thing.value == want.thing and (effect.level or want.level) >= want.level
        for effect in step.effects
    )


def _bindings(
    part: WrittenPart, wants: tuple[Want, ...], protocol: Protocol, known: Written
) -> Iterator[tuple[dict[str, str], str | None]]:
    """Ways to bind a part's names so that a step of its own does what is wanted, and whose step that is."""
    told: list[dict[str, str]] = []
    for want in wants:
        for step in part.steps:
            for matched in _matches(part, step, want):
                for bound in _filled(part, matched, protocol, known):
                    if bound not in told and len(told) < MOST_BINDINGS:
                        told.append(bound)
                        yield bound, None if step.role is None else bound.get(step.role.value, step.role.value)


def _matches(part: WrittenPart, step: Step, want: Want) -> Iterator[dict[str, str]]:
    """What must be bound for a step of a part to do what is wanted."""
    if want.field == "confirms":
        things = [name.value for name in step.confirms]
    else:
        things = [
            effect.thing.value
            for effect in step.effects
            if effect.field == want.field and (effect.level or Level.STERILE) >= want.level
        ]
    for thing in things:
        matched = {} if want.thing is None else _matched(thing, want.thing, part)
        owner = {} if want.role is None else _matched(str(step.role), want.role, part)
        if matched is not None and owner is not None:
            yield {**matched, **owner}


def _matched(written: str, wanted: str, part: WrittenPart) -> dict[str, str] | None:
    """What must be bound for a written name to stand for another; None if it can't."""
    if written in part.binds:
        return {written: wanted}
    head, dot, rest = written.partition(".")
    role, _, same = wanted.partition(".")
    if dot and part.binds.get(head) == "role" and rest == same:
        return {head: role}
    return {} if written == wanted else None


def _filled(
    part: WrittenPart, matched: Mapping[str, str], protocol: Protocol, known: Written
) -> Iterator[dict[str, str]]:
    """What the part's names are bound to: all of them as matched, or as a use of the part binds them that agrees.

    A part is not used with other things than it is used with anywhere: a count of swabs is no count of sheets.
    """
    if matched.keys() == part.binds.keys():
        ways = [matched]
    else:
        ways = [
            use.bound
            for use in known.uses_for(protocol.path)
            if use.part == part.id and matched.items() <= use.bound.items()
        ]
    for bound in ways:
        if bound.keys() == part.binds.keys() and _fits(part, bound, protocol):
            yield {name: bound[name] for name in part.binds}


def _fits(part: WrittenPart, bound: Mapping[str, str], protocol: Protocol) -> bool:
    """Whether everything bound is known to the protocol and of the kind the part asks for."""
    team = {role.value for role in protocol.team}
    for name, value in bound.items():
        kind, subject = part.binds.get(name), protocol.subjects.get(value)
        if kind == "role" and value not in team:
            return False
        if kind in ("subject", *_KINDS) and (subject is None or subject.kind is not _KINDS.get(kind, subject.kind)):
            return False
    return True


def _told(part: WrittenPart, bound: Mapping[str, str]) -> str:
    """What a use binds, as far as a sentence can hold it: who does it, and all if that is little."""
    most = 2
    named = bound if len(bound) <= most else {name: bound[name] for name in bound if part.binds[name] == "role"}
    told = [f"{name}: {value}" for name, value in named.items()] + ["…"] * (len(named) < len(bound))
    return f" ({', '.join(told)})" if told else ""


def _free(name: str, protocol: Protocol) -> str:
    """A name nothing in the protocol has yet."""
    taken = {piece for step in protocol.steps for piece in (step.id.value, step.id.value.partition(".")[0])}
    taken |= {*protocol.subjects, *(choice.id.value for choice in protocol.choices)}
    number, found = 1, name[:LONGEST_NAME].rstrip("-")
    while found in taken:
        number += 1
        end = f"-{number}"
        found = name[: LONGEST_NAME - len(end)].rstrip("-") + end
    return found
