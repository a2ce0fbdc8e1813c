"""Parts: procedures written once and used by several protocols, unfolded into the protocol's own steps."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

from .declared import Scope
from .model import Condition, Effect, Kind, Need, Repeat, Step, Wait
from .names import Lookup, quoted
from .source import Problem, Span, Text
from .steps import Line, Use

MOST_NESTED = 8
MOST_LINES = 2000
_KINDS = {"item": Kind.ITEM, "surface": Kind.SURFACE, "site": Kind.SITE, "pack": Kind.PACK}


@dataclass(frozen=True, slots=True)
class Part:
    """A part as written: ``binds`` are the names its user binds, each with the kind of thing it stands for."""

    id: str
    path: str
    title: str
    binds: Mapping[str, str]
    lines: tuple[Line, ...]


@dataclass(slots=True)
class Unfolding:
    """What unfolding one protocol needs and what it finds out.

    ``parts`` maps every part's id to the part, or to None where its file cannot be used. ``uses`` collects the
    places of all uses by their full name, ``missing`` the uses whose steps could not be had, ``lost`` the names a
    part binds that could not be bound to anything.
    """

    parts: Mapping[str, Part | None]
    places: Mapping[str, Text]
    scope: Scope
    lookup: Lookup
    uses: dict[str, Text] = field(default_factory=dict)
    missing: set[str] = field(default_factory=set)
    lost: set[str] = field(default_factory=set)
    misshapen: list[Problem] = field(default_factory=list)
    lines: int = 0

    def has_room(self, line: Line, around: _Around) -> bool:
        """Counts one more line. Past the most a protocol may have that is told, once, and nothing more is unfolded."""
        self.lines += 1
        if self.lines == MOST_LINES + 1:
            message = f"the protocol has more than {MOST_LINES:,} steps once its parts are unfolded"
            span = around.used_at[0] if around.used_at else line.span
            self.misshapen.append(
                Problem("bad-shape", span, message, self.lookup.protocol, subject="steps", hint="split it")
            )
        return self.lines <= MOST_LINES


@dataclass(frozen=True, slots=True)
class _Around:
    """What surrounds the lines being unfolded: their prefix, what bound names stand for, and the uses outside."""

    prefix: str = ""
    part: Part | None = None
    bound: Mapping[str, Text | None] = field(default_factory=dict)
    when: tuple[Condition, ...] = ()
    after: tuple[Text, ...] = ()
    used_at: tuple[Span, ...] = ()
    chain: tuple[str, ...] = ()


def unfold(lines: tuple[Line, ...], job: Unfolding) -> tuple[Step, ...]:
    """The steps of a protocol's lines with every use replaced by the part's steps, names bound and prefixed.

    Names of uses in ``after`` are left as they are: only when all phases are unfolded is it known what they stand for.
    """
    return tuple(_unfold(lines, _Around(), job))


def _unfold(lines: tuple[Line, ...], around: _Around, job: Unfolding) -> list[Step]:
    local = frozenset(line.name.value if isinstance(line, Use) else line.id.value for line in lines)
    renaming = _Renaming(around, local)
    steps: list[Step] = []
    for line in lines:
        if not job.has_room(line, around):
            break
        if isinstance(line, Use):
            steps += _used(line, renaming, job)
        else:
            steps.append(renaming.step(line) if around.part else line)
    return steps


def _used(use: Use, renaming: _Renaming, job: Unfolding) -> list[Step]:
    """The steps of one use; none, with the use noted as missing, if the part cannot be had."""
    around = renaming.around
    name = around.prefix + use.name.value
    first = job.uses.setdefault(name, use.name)
    if first is not use.name:
        job.lookup.sound = False
        if not around.prefix:
            job.lookup.taken(use.name, first, name)
    part_id = job.lookup.find(use.part, job.places, "part", name)
    part = job.parts[part_id.value] if part_id else None
    if part is None or part.id in around.chain:
        job.missing.add(name)
        return []
    if len(around.chain) >= MOST_NESTED:
        message = f"parts use parts more than {MOST_NESTED} deep here"
        job.misshapen.append(
            Problem("bad-shape", use.part.span, message, job.lookup.protocol, name, "use", "use fewer levels")
        )
        job.missing.add(name)
        return []
    inner = _Around(
        prefix=f"{name}.",
        part=part,
        bound=_bound(use, part, name, renaming, job),
        when=around.when + tuple(map(renaming.condition, use.when)),
        after=around.after + tuple(map(renaming.place, use.after)),
        used_at=(*around.used_at, use.span),
        chain=(*around.chain, part.id),
    )
    return _unfold(part.lines, inner, job)


def _bound(use: Use, part: Part, name: str, renaming: _Renaming, job: Unfolding) -> dict[str, Text | None]:
    """What each name the part binds stands for; None where that could not be made out."""
    given: dict[str, Text] = {}
    declared = {bind: Text(bind, use.part.span) for bind in part.binds}
    for key, value in use.bindings:
        known = job.lookup.find(key, declared, f"name to be bound by the part {quoted(part.id)}", name)
        if known is not None:
            given.setdefault(known.value, renaming.any(value))
    bound: dict[str, Text | None] = {}
    for bind, kind in part.binds.items():
        if bind in given:
            bound[bind] = _of_kind(given[bind], kind, name, job)
        else:
            bound[bind] = None
            message = (
                f"the part {quoted(part.id)} wants {quoted(bind)} (kind: {kind}) bound, and this use does not bind it"
            )
            hint = f"add it: with: {{{bind}: …}}"
            job.misshapen.append(Problem("bad-shape", use.part.span, message, job.lookup.protocol, name, bind, hint))
        if bound[bind] is None and kind == "role" and job.scope.team:
            bound[bind] = job.scope.team[0]  # some role, so that one slip is not told again for every step of the part
        elif bound[bind] is None:
            job.lost.add(bind)
    return bound


def _of_kind(value: Text, kind: str, name: str, job: Unfolding) -> Text | None:
    """The bound value, if it is declared and of the kind the part asks for."""
    roles = {role.value: role for role in job.scope.team}
    subjects = {subject.name.value: subject.name for subject in job.scope.subjects.values()}
    if kind == "fact":
        return value
    other = subjects if kind == "role" else roles
    if value.value in other and value.value not in (roles if kind == "role" else subjects):
        what = job.scope.subjects[value.value].kind.value if kind == "role" else "role"
        job.misshapen.append(_wrong_kind(value, what, kind, name, job))
        return None
    if kind == "role":
        return job.lookup.find(value, roles, "role of the team", name)
    wanted = _KINDS.get(kind)
    fitting = {key: at for key, at in subjects.items() if wanted is None or job.scope.subjects[key].kind is wanted}
    if value.value in subjects and value.value not in fitting:
        what = job.scope.subjects[value.value].kind.value
        job.misshapen.append(_wrong_kind(value, what, kind, name, job))
        return None
    return job.lookup.find(value, fitting, kind, name)


def _wrong_kind(value: Text, what: str, kind: str, name: str, job: Unfolding) -> Problem:
    message = f"{quoted(value.value)} is of the kind {what}, and the part wants the kind {kind} here"
    hint = f"name one of the kind {kind}"
    return Problem("bad-shape", value.span, message, job.lookup.protocol, name, value.value, hint)


def twice_named(part: Part) -> Iterator[tuple[Text, Text]]:
    """The names of a part's own steps and uses that are declared a second time, each with the place of the first."""
    seen: dict[str, Text] = {}
    for line in part.lines:
        name = line.name if isinstance(line, Use) else line.id
        first = seen.setdefault(name.value, name)
        if first is not name:
            yield name, first


def loops(parts: Mapping[str, Part | None]) -> Iterator[tuple[Text, ...]]:
    """The loops in which parts use one another, each as the uses that lead round it; every loop once."""
    done: set[str] = set()
    for start in sorted(parts):
        path: list[str] = []
        taken: list[Text] = []
        waiting = [iter(_uses(parts, start))] if start not in done else []
        path.append(start)
        while waiting:
            use = next(waiting[-1], None)
            if use is None:
                waiting.pop()
                done.add(path.pop())
                if taken:
                    taken.pop()
            elif use.value in path:
                yield (*taken[path.index(use.value) :], use)
            elif use.value not in done:
                path.append(use.value)
                taken.append(use)
                waiting.append(iter(_uses(parts, use.value)))


def _uses(parts: Mapping[str, Part | None], part: str) -> list[Text]:
    found = parts.get(part)
    return (
        []
        if found is None
        else [line.part for line in found.lines if isinstance(line, Use) and line.part.value in parts]
    )


class _Renaming:
    """Turns the names of a part's step into the names they have in the protocol."""

    def __init__(self, around: _Around, local: frozenset[str]) -> None:
        self.around = around
        self.local = local

    def any(self, name: Text) -> Text:
        """A name that may be bound as a whole, or in its first piece (``who.hands``)."""
        bound = self.around.bound
        whole = bound.get(name.value)
        if whole is not None:
            return Text(whole.value, name.span)
        head, dot, rest = name.value.partition(".")
        first = bound.get(head) if dot else None
        return name if first is None else Text(f"{first}.{rest}", name.span)

    def fact(self, name: Text) -> Text:
        """A fact: bound as a whole only where the part binds a fact."""
        part = self.around.part
        if part and name.value in part.binds and part.binds[name.value] != "fact":
            return name
        return self.any(name)

    def place(self, name: Text) -> Text:
        """The name of a step or use: one of the part's own gets the prefix."""
        head = name.value.partition(".")[0]
        return Text(self.around.prefix + name.value, name.span) if head in self.local and self.around.prefix else name

    def condition(self, condition: Condition) -> Condition:
        """A condition on a choice of the protocol or on a step."""
        return replace(condition, name=self.place(condition.name))

    def step(self, step: Step) -> Step:
        """The step as it stands in the protocol."""
        around = self.around
        assert around.part is not None
        return replace(
            step,
            id=Text(around.prefix + step.id.value, step.id.span),
            role=step.role and self.any(step.role),
            helpers=tuple(map(self.any, step.helpers)),
            after=around.after + tuple(map(self.place, step.after)),
            when=around.when + tuple(map(self.condition, step.when)),
            needs=tuple(Need(self.any(need.subject), need.level) for need in step.needs),
            requires=tuple(map(self.fact, step.requires)),
            effects=tuple(map(self.effect, step.effects)),
            confirms=tuple(map(self.fact, step.confirms)),
            withdraws=tuple(map(self.fact, step.withdraws)),
            repeat=step.repeat and Repeat(self.place(step.repeat.start), step.repeat.answer),
            waits=tuple(Wait(self.place(wait.step), wait.seconds) for wait in step.waits),
            within=tuple(Wait(self.place(wait.step), wait.seconds) for wait in step.within),
            records=tuple(map(self.any, step.records)),
            used_at=around.used_at,
            part=around.part.id,
        )

    def effect(self, effect: Effect) -> Effect:
        """The effect on the things that bound names stand for."""
        return replace(effect, thing=self.any(effect.thing), target=effect.target and self.any(effect.target))
