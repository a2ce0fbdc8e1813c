"""What differs between two texts of one protocol: its steps, its things, its choices, its phases and its head."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import replace

from ..checks.words import Naming, quoted
from ..language.model import Clinic, Kind, Phase, Protocol, Requirement, Step, Subject
from ..language.unused import names_used
from .grades import THINGS, WHOLE, Grade
from .matching import Matching
from .model import Change, Detail
from .orders import order_details, people_of, phase_details
from .steps import details_of, whole_step

_WORDS = frozenset({"id", "do", "why", "question"})
_PLACES = frozenset({"order", "phase"})


def step_changes(matching: Matching, clinics: tuple[Clinic | None, Clinic | None]) -> Iterator[Change]:
    """Every step that is gone, new or different, in the order of the new text; those that are gone come last."""
    old, new = matching.old, matching.new
    naming = (Naming(old, clinics[0]), Naming(new, clinics[1]))
    orders = order_details(matching)
    for number, moved in phase_details(matching, phase_names(matching)):
        orders.setdefault(number, []).append(moved)
    near = _near(new)
    for number, step in enumerate(new.steps):
        if number not in matching.back:
            details = (whole_step(step, new, naming[1], gone=False),)
            yield _change("added", step, details, people_of(step), near[number])
            continue
        was = old.steps[matching.back[number]]
        details = (*details_of(matching, was, step, naming), *orders.get(number, ()))
        if details:
            own = tuple(dict.fromkeys((*people_of(step), *people_of(was))))
            change = _change(_kind(details), step, details, own, near[number])
            yield replace(change, was=was.id.value if was.id.value != step.id.value else None)
    near = _near(old)
    for number, step in enumerate(old.steps):
        if number not in matching.forth:
            details = (whole_step(step, old, naming[0], gone=True),)
            yield _change("removed", step, details, people_of(step), near[number])


def thing_changes(matching: Matching, clinics: tuple[Clinic | None, Clinic | None]) -> Iterator[Change]:
    """Every thing that is gone, new or different; surfaces of the clinic only where the protocol uses them."""
    old, new = matching.old, matching.new
    used = names_used(old) | names_used(new)
    shared = {one.name.value for clinic in clinics if clinic is not None for one in clinic.surfaces} - used
    handled_old, handled_new = _handlers(old), _handlers(new)
    for name, thing in old.subjects.items():
        now = new.subjects.get(matching.thing(name))
        if thing.kind is Kind.PERSON or name in shared:
            continue
        own = tuple(dict.fromkeys((*handled_old.get(name, ()), *handled_new.get(matching.thing(name), ()))))
        if now is None:
            yield _thing("removed", thing, (_whole("thing", f"{quoted(name)} ({thing.title})", gone=True),), own)
        elif details := tuple(_attributes(thing, now, matching)):
            kind = "reworded" if {detail.field for detail in details} <= {"name", "title"} else "changed"
            yield replace(_thing(kind, now, details, own), was=name if name != now.name.value else None)
    known = {matching.thing(name) for name in old.subjects}
    for name, thing in new.subjects.items():
        if thing.kind is not Kind.PERSON and name not in known | shared:
            detail = _whole("thing", f"{quoted(name)} ({thing.title})", gone=False)
            yield _thing("added", thing, (detail,), handled_new.get(name, ()))


def whole_changes(matching: Matching) -> Iterator[Change]:
    """What differs in the head of a protocol, its choices and its phases."""
    old, new = matching.old, matching.new
    yield from _choices(matching)
    yield from _team(old, new)
    yield from _phases(matching)
    for field, was, now in (
        ("title", old.title.value, new.title.value),
        ("purpose", " ".join(old.purpose.split()), " ".join(new.purpose.split())),
        ("owner", old.owner, new.owner),
    ):
        if was != now:
            yield _said("protocol", field, new.id, [was] if was else [], [now] if now else [])
    retired = [one.status.value == "retired" for one in (old, new)]
    if retired[0] != retired[1]:
        was, now = (one.status.value for one in (old, new))
        yield replace(_said("protocol", "retired", new.id, [was], [now]), own=_roles(new))
    adopted = [{name.value for name in one.evidence} for one in (old, new)]
    if adopted[0] != adopted[1]:
        lost = [f"adopts {quoted(name)}" for name in sorted(adopted[0] - adopted[1])]
        gained = [f"adopts {quoted(name)}" for name in sorted(adopted[1] - adopted[0])]
        yield _said("protocol", "adopts", new.id, lost, gained)


def requirement_changes(old: Iterable[Requirement], new: Iterable[Requirement], protocol: Protocol) -> Iterator[Change]:
    """The requirements that steps of a protocol meet, where they ask for something else."""
    meeting: dict[str, list[str]] = {}
    for step in protocol.steps:
        for met in step.meets:
            meeting.setdefault(met.value, []).extend(people_of(step))
    before = {one.id.value: one for one in old}
    for one in new:
        name = one.id.value
        was = before.get(name)
        if was is None or name not in meeting:
            continue
        own = tuple(dict.fromkeys(meeting[name]))
        limits = [[str(each.limit)] if each.limit is not None else [] for each in (was, one)]
        if limits[0] != limits[1]:
            yield replace(_said("requirement", "limit", name, *limits), own=own)
        words = [
            " ".join(
                f"{each.text} {each.source} {each.section or ''} {each.year or ''} {each.applies_to or ''}".split()
            )
            for each in (was, one)
        ]
        if words[0] != words[1]:
            yield replace(_said("requirement", "requirement", name, [words[0]], [words[1]]), own=own)


def phase_names(matching: Matching) -> dict[str, str]:
    """From the old name of a phase to its new one: the same name, or the phase that most of its steps stand in now."""
    new = {phase.id.value for phase in matching.new.phases}
    home = [phase.id.value for phase in matching.new.phases for _ in phase.steps]
    old_names = {phase.id.value for phase in matching.old.phases}
    found: dict[str, str] = {}
    first = 0
    for phase in matching.old.phases:
        numbers = range(first, first + len(phase.steps))
        first += len(phase.steps)
        votes = Counter(home[matching.forth[number]] for number in numbers if number in matching.forth)
        most = max(votes, key=lambda name: votes[name]) if votes else None
        name = phase.id.value
        if name not in new and most is not None and most not in old_names and most not in found.values():
            found[name] = most
        else:
            found[name] = name
    return found


def _near(protocol: Protocol) -> list[tuple[str, ...]]:
    """For each step who waits for it or is handed something in it, its own people left out."""
    index = {step.id.value: number for number, step in enumerate(protocol.steps)}
    near: list[dict[str, None]] = [{} for _ in protocol.steps]
    roles = {role.value for role in protocol.team}
    for number, step in enumerate(protocol.steps):
        for name in (*step.after, *(wait.step for wait in (*step.waits, *step.within))):
            if name.value in index:
                near[index[name.value]].update(dict.fromkeys(people_of(step)))
        for condition in step.when:
            if condition.name.value in index:
                near[index[condition.name.value]].update(dict.fromkeys(people_of(step)))
        for effect in step.effects:
            for thing in (effect.thing, effect.target):
                role = str(thing).partition(".")[0]
                if role in roles:
                    near[number][role] = None
        for fact in (*step.confirms, *step.withdraws):
            for other in protocol.steps:
                if any(one.value == fact.value for one in other.requires):
                    near[number].update(dict.fromkeys(people_of(other)))
    return [
        tuple(role for role in found if role not in people_of(step))
        for found, step in zip(near, protocol.steps, strict=True)
    ]


def _kind(details: tuple[Detail, ...]) -> str:
    fields = {detail.field for detail in details}
    return "reworded" if fields <= _WORDS else "moved" if fields <= _PLACES else "changed"


def _change(kind: str, step: Step, details: tuple[Detail, ...], own: tuple[str, ...], near: tuple[str, ...]) -> Change:
    title = " ".join(step.do.value.split())
    return Change(
        "step", kind, step.id.value, details, None, title, own, near, step.part, step.id.span.line, step.id.span.path
    )


def _thing(kind: str, thing: Subject, details: tuple[Detail, ...], own: tuple[str, ...]) -> Change:
    span = thing.name.span
    return Change("thing", kind, thing.name.value, details, None, thing.title, own, (), None, span.line, span.path)


def _attributes(old: Subject, new: Subject, matching: Matching) -> Iterator[Detail]:
    for field, grading in THINGS.items():
        was, now = (_plain(getattr(one, field)) for one in (old, new))
        if field == "held_in":
            was = matching.thing(was) if was else was
        if was != now:
            lost, gained = ((f"{field.replace('_', ' ')}: {value}",) if value else () for value in (was, now))
            yield Detail(field, grading.grade, grading.reason, lost, gained)


def _plain(value: object) -> str:
    if isinstance(value, Kind):
        return value.value
    word = getattr(value, "word", None)
    if isinstance(word, str):
        return word
    if isinstance(value, bool):
        return "yes" if value else ""
    return "" if value is None else str(value)


def _handlers(protocol: Protocol) -> dict[str, tuple[str, ...]]:
    """Who needs, records or handles each thing."""
    found: dict[str, dict[str, None]] = {}
    for step in protocol.steps:
        names = [need.subject.value for need in step.needs]
        names += [name.value.partition(".")[0] for name in step.records]
        names += [str(name) for effect in step.effects for name in (effect.thing, effect.target) if name is not None]
        for name in names:
            found.setdefault(name, {}).update(dict.fromkeys(people_of(step)))
    return {name: tuple(people) for name, people in found.items()}


def _whole(what: str, told: str, *, gone: bool) -> Detail:
    grading = WHOLE[what]
    return Detail(what, grading.grade, grading.reason, (told,) if gone else (), () if gone else (told,))


def _said(what: str, field: str, name: str, lost: Iterable[str], gained: Iterable[str]) -> Change:
    grading = WHOLE[field]
    kind = "reworded" if grading.grade is Grade.WORDING else "changed"
    return Change(what, kind, name, (Detail(field, grading.grade, grading.reason, tuple(lost), tuple(gained)),))


def _choices(matching: Matching) -> Iterator[Change]:
    old, new = ({one.id.value: one for one in protocol.choices} for protocol in (matching.old, matching.new))
    for name in dict.fromkeys((*old, *new)):
        own = _choosing(matching, name)
        was, now = old.get(name), new.get(name)
        if was is None or now is None:
            one = was or now
            detail = _whole("choice", f"{quoted(name)} ({one.title if one else ''})", gone=now is None)
            yield Change("choice", "removed" if now is None else "added", name, (detail,), own=own)
            continue
        options = [{option.value: title for option, title in one.options} for one in (was, now)]
        if options[0].keys() != options[1].keys():
            lost = [f"{option} ({title})" for option, title in options[0].items() if option not in options[1]]
            gained = [f"{option} ({title})" for option, title in options[1].items() if option not in options[0]]
            yield replace(_said("choice", "options", name, lost, gained), own=own)
        titles = [[one.title, *(each[option] for option in options[0] if option in options[1])]
                  for one, each in ((was, options[0]), (now, options[1]))]  # fmt: skip
        if titles[0] != titles[1]:
            changed = [pair for pair in zip(*titles, strict=True) if pair[0] != pair[1]]
            yield replace(_said("choice", "title", name, [a for a, _ in changed], [b for _, b in changed]), own=own)


def _choosing(matching: Matching, name: str) -> tuple[str, ...]:
    """Who does the steps that depend on a choice."""
    steps = (*matching.old.steps, *matching.new.steps)
    return tuple(
        dict.fromkeys(
            role for step in steps if any(part.name.value == name for part in step.when) for role in people_of(step)
        )
    )


def _roles(protocol: Protocol) -> tuple[str, ...]:
    return tuple(dict.fromkeys(role.value for role in protocol.team))


def _team(old: Protocol, new: Protocol) -> Iterator[Change]:
    was, now = _roles(old), _roles(new)
    for role in dict.fromkeys((*was, *now)):
        if role not in was or role not in now:
            gone = role not in now
            detail = _whole("team", f"{quoted(role)} takes part", gone=gone)
            yield Change("team", "removed" if gone else "added", role, (detail,), own=(role,))


def _phases(matching: Matching) -> Iterator[Change]:
    old, new = ({phase.id.value: phase for phase in protocol.phases} for protocol in (matching.old, matching.new))
    names = phase_names(matching)
    for name, phase in old.items():
        now = new.get(names[name])
        if now is None:
            yield _phase("removed", phase)
            continue
        if phase.title != now.title:
            yield replace(_said("phase", "title", now.id.value, [phase.title], [now.title]), own=_in(phase, now))
        if name != now.id.value:
            detail = Detail("name", THINGS["name"].grade, THINGS["name"].reason, (name,), (now.id.value,))
            yield Change("phase", "reworded", now.id.value, (detail,), was=name)
        warned = [
            [f"{one.kind} caution: {' '.join(one.text.value.split())}" for one in each.cautions]
            for each in (phase, now)
        ]
        if sorted(warned[0]) != sorted(warned[1]):
            lost = [one for one in warned[0] if one not in warned[1]]
            gained = [one for one in warned[1] if one not in warned[0]]
            yield replace(_said("phase", "cautions", now.id.value, lost, gained), own=_in(phase, now))
    for name, phase in new.items():
        if name not in names.values():
            yield _phase("added", phase)


def _phase(kind: str, phase: Phase) -> Change:
    detail = _whole("phase", f"{quoted(phase.id)} ({phase.title})", gone=kind == "removed")
    details: tuple[Detail, ...] = (detail,)
    if phase.cautions:
        grading = WHOLE["cautions"]
        told = tuple(f"{one.kind} caution: {' '.join(one.text.value.split())}" for one in phase.cautions)
        gone = kind == "removed"
        details = (
            detail,
            Detail("cautions", grading.grade, grading.reason, told if gone else (), () if gone else told),
        )
    return Change("phase", kind, phase.id.value, details, own=_in(phase))


def _in(*phases: Phase) -> tuple[str, ...]:
    return tuple(dict.fromkeys(role for phase in phases for step in phase.steps for role in people_of(step)))
