"""Parts: procedures written once and used by several protocols, unfolded into the protocol's own steps."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from .declared import Scope
from .model import Kind, Step
from .names import Lookup, quoted
from .renaming import Around, Part, Renaming
from .source import Problem, Text
from .steps import Line, Use

MOST_NESTED = 8
MOST_LINES = 2000
_KINDS = {"item": Kind.ITEM, "surface": Kind.SURFACE, "site": Kind.SITE, "pack": Kind.PACK}


@dataclass(slots=True)
class Unfolding:
    """What unfolding one protocol needs and what it finds out.

    ``parts`` maps every part's id to the part, or to None where its file cannot be used. ``uses`` collects the
    places of all uses by their full name, ``used`` the parts they lead to, ``missing`` the uses whose steps could not
    be had, ``lost`` the names a part binds that could not be bound to anything.
    """

    parts: Mapping[str, Part | None]
    places: Mapping[str, Text]
    scope: Scope
    lookup: Lookup
    uses: dict[str, Text] = field(default_factory=dict)
    used: set[str] = field(default_factory=set)
    missing: set[str] = field(default_factory=set)
    lost: set[str] = field(default_factory=set)
    misshapen: list[Problem] = field(default_factory=list)
    lines: int = 0

    def has_room(self, line: Line, around: Around) -> bool:
        """Counts one more line. Past the most a protocol may have that is told, once, and nothing more is unfolded."""
        self.lines += 1
        if self.lines == MOST_LINES + 1:
            message = f"the protocol has more than {MOST_LINES:,} steps once its parts are unfolded"
            span = around.used_at[0] if around.used_at else line.span
            self.misshapen.append(
                Problem("bad-shape", span, message, self.lookup.protocol, subject="steps", hint="split it")
            )
        return self.lines <= MOST_LINES


def unfold(lines: tuple[Line, ...], job: Unfolding) -> tuple[Step, ...]:
    """The steps of a protocol's lines with every use replaced by the part's steps, names bound and prefixed.

    Names of uses in ``after`` are left as they are: only when all phases are unfolded is it known what they stand for.
    """
    return tuple(_unfold(lines, Around(), job))


def _unfold(lines: tuple[Line, ...], around: Around, job: Unfolding) -> list[Step]:
    local = frozenset(line.name.value if isinstance(line, Use) else line.id.value for line in lines)
    renaming = Renaming(around, local)
    steps: list[Step] = []
    for line in lines:
        if not job.has_room(line, around):
            break
        if isinstance(line, Use):
            steps += _used(line, renaming, job)
        else:
            steps.append(renaming.step(line) if around.part else line)
    return steps


def _used(use: Use, renaming: Renaming, job: Unfolding) -> list[Step]:
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
    job.used.add(part.id)
    if len(around.chain) >= MOST_NESTED:
        message = f"parts use parts more than {MOST_NESTED} deep here"
        job.misshapen.append(
            Problem("bad-shape", use.part.span, message, job.lookup.protocol, name, "use", "use fewer levels")
        )
        job.missing.add(name)
        return []
    inner = Around(
        prefix=f"{name}.",
        part=part,
        bound=_bound(use, part, name, renaming, job),
        when=around.when + tuple(map(renaming.condition, use.when)),
        after=around.after + tuple(map(renaming.place, use.after)),
        used_at=(*around.used_at, use.span),
        chain=(*around.chain, part.id),
    )
    return _unfold(part.lines, inner, job)


def _bound(use: Use, part: Part, name: str, renaming: Renaming, job: Unfolding) -> dict[str, Text | None]:
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
