"""The review of a change: two texts of a protocol set held against each other. Nothing is read from disk here."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

from ..asepsis import DEFAULT_LIMIT
from ..checks import Finding, check_set
from ..checks.words import Naming, quoted
from ..language.model import Clinic, Protocol, ProtocolSet
from .compare import phase_names, requirement_changes, step_changes, thing_changes, whole_changes
from .grades import THINGS, WHOLE, Grade
from .matching import Matching, match
from .model import Change, Detail, Duty, PhaseView, Review, Reviewed
from .orders import people_of
from .plain import plain
from .steps import Phrases
from .version import finding_of, version_of


def review_sets(
    old: ProtocolSet,
    new: ProtocolSet,
    names: tuple[str, str],
    today: datetime.date,
    *,
    limit: int = DEFAULT_LIMIT,
    judged: bool = True,
) -> Review:
    """The review of the change from one text of a set to another; ``names`` is what they are called.

    Without ``judged`` only the texts are compared: no findings appear or vanish.
    """
    before, after = ({one.id: one for one in each.protocols} for each in (old, new))
    evidence = plain(old.requirements) != plain(new.requirements)
    reviewed: list[Reviewed] = []
    unraised: list[Finding] = []
    matchings: dict[str, Matching] = {}
    touched: set[str] = set()
    for name in sorted({*before, *after, *old.unreadable, *new.unreadable}):
        one, other = before.get(name), after.get(name)
        if name in old.unreadable or name in new.unreadable or one is None or other is None:
            touched.add(name)
            reviewed.append(_whole(name, one, other, old, new))
            continue
        if plain(one) == plain(other) and not evidence:
            continue
        touched.add(name)
        matchings[name] = match(one, other)
        found = _reviewed(matchings[name], old, new)
        if found.changes or found.version.before != found.version.after:
            reviewed.append(found)
        if found.grade is not None and not found.version.raised:
            unraised.append(finding_of(other, found.version, found.grade))
    appeared, vanished = _findings(old, new, touched, matchings, today, limit) if judged else ((), ())
    clinic = tuple(_clinic(old.clinic, new.clinic))
    return Review(*names, tuple(reviewed), appeared, vanished, tuple(unraised), clinic)


def _reviewed(matching: Matching, old: ProtocolSet, new: ProtocolSet) -> Reviewed:
    clinics = (old.clinic, new.clinic)
    changes = (
        *whole_changes(matching),
        *requirement_changes(old.requirements, new.requirements, matching.new),
        *thing_changes(matching, clinics),
        *step_changes(matching, clinics),
    )
    protocol = matching.new
    grade = max((change.grade for change in changes), default=None)
    return Reviewed(
        protocol.id,
        protocol.title.value,
        "changed",
        changes,
        tuple(_duties(changes, matching, new.clinic or old.clinic)),
        version_of(matching.old, protocol, grade),
        tuple(_phases(matching, changes)),
    )


def _whole(name: str, one: Protocol | None, other: Protocol | None, old: ProtocolSet, new: ProtocolSet) -> Reviewed:
    """A protocol that is new, gone, or cannot be read in one of the texts."""
    there = other or one
    title = there.title.value if there is not None else name
    if name in old.unreadable or name in new.unreadable:
        return Reviewed(name, title, "unreadable", ())
    grading = WHOLE["team"]
    told = f"the protocol {quoted(name)} with {len(there.steps) if there is not None else 0} steps"
    gone = other is None
    detail = Detail("protocol", Grade.SAFETY, grading.reason, (told,) if gone else (), () if gone else (told,))
    detail = replace(detail, reason="A whole protocol comes or goes.")
    roles = tuple(dict.fromkeys(role.value for role in there.team)) if there is not None else ()
    change = Change("protocol", "removed" if gone else "added", name, (detail,), title=title, own=roles)
    titles = _titles(new.clinic or old.clinic)
    duties = tuple(Duty(role, titles.get(role, role), (change,), ()) for role in roles)
    return Reviewed(name, title, "removed" if gone else "added", (change,), duties)


def _duties(changes: Iterable[Change], matching: Matching, clinic: Clinic | None) -> Iterator[Duty]:
    """For each role of either team what changes for it, gravest first."""
    titles = _titles(clinic)
    known = [change for change in changes if change.own or change.near]
    roles = dict.fromkeys(role.value for role in (*matching.new.team, *matching.old.team))
    for role in roles:
        own = sorted((one for one in known if role in one.own), key=lambda one: -one.grade)
        near = sorted((one for one in known if role in one.near and role not in one.own), key=lambda one: -one.grade)
        yield Duty(role, titles.get(role, role), tuple(own), tuple(near))


def _phases(matching: Matching, changes: Iterable[Change]) -> Iterator[PhaseView]:
    """The phases in which a step is gone, new or different, as lines of text."""
    names = phase_names(matching)
    gone = {change.name for change in changes if change.what == "step" and change.kind == "removed"}
    other = {change.name for change in changes if change.what == "step" and change.kind != "removed"}
    old = {phase.id.value: (number, phase) for number, phase in enumerate(matching.old.phases)}
    new = {phase.id.value: (number, phase) for number, phase in enumerate(matching.new.phases)}
    back = {now: was for was, now in names.items()}
    for name in dict.fromkeys((*new, *(names[one] for one in old))):
        was, now = old.get(back.get(name, name)), new.get(name)
        touched = (was is not None and any(step.id.value in gone for step in was[1].steps)) or (
            now is not None and any(step.id.value in other for step in now[1].steps)
        )
        if touched:
            there = (now or was)[1] if (now or was) is not None else None  # type: ignore[index]
            yield PhaseView(
                name,
                there.title if there is not None else name,
                tuple(_lines(matching.old, was[0])) if was is not None else (),
                tuple(_lines(matching.new, now[0])) if now is not None else (),
                was[0] if was is not None else None,
                now[0] if now is not None else None,
            )


def _lines(protocol: Protocol, number: int) -> Iterator[str]:
    """The steps of a phase, a line each: who, which step, whom it waits for, and what it asks for and does."""
    phrases = Phrases(protocol, Naming(protocol, None))
    for step in protocol.phases[number].steps:
        waits = f" (after {', '.join(name.value for name in step.after)})" if step.after else ""
        told = [
            phrase for field, found in phrases.of(step).items() if field not in ("role", "with") for phrase in found
        ]
        yield f"{' + '.join(people_of(step))}: {step.id}{waits}{': ' if told else ''}{'; '.join(told)}"


def _clinic(old: Clinic | None, new: Clinic | None) -> Iterator[Change]:
    """The clinic's roles that are gone, new or called otherwise."""
    was, now = _titles(old), _titles(new)
    for role in dict.fromkeys((*was, *now)):
        if role not in was or role not in now:
            gone = role not in now
            told = (f"the role {quoted(role)} ({was.get(role) or now.get(role)})",)
            detail = Detail(
                "team", WHOLE["team"].grade, WHOLE["team"].reason, told if gone else (), () if gone else told
            )
            yield Change("role", "removed" if gone else "added", role, (detail,), own=(role,))
        elif was[role] != now[role]:
            grading = THINGS["title"]
            detail = Detail("title", grading.grade, grading.reason, (was[role],), (now[role],))
            yield Change("role", "reworded", role, (detail,), own=(role,))


def _titles(clinic: Clinic | None) -> dict[str, str]:
    return {role.id.value: role.title for role in clinic.roles} if clinic is not None else {}


def _findings(
    old: ProtocolSet,
    new: ProtocolSet,
    touched: set[str],
    matchings: Mapping[str, Matching],
    today: datetime.date,
    limit: int,
) -> tuple[tuple[Finding, ...], tuple[Finding, ...]]:
    """The findings that appear and those that vanish; a protocol that did not change keeps its own."""
    reports = [
        check_set(
            replace(each, protocols=tuple(one for one in each.protocols if one.id in touched)), today, limit=limit
        )
        for each in (old, new)
    ]
    before = {_key(finding, matchings.get(finding.protocol or "")): finding for finding in reports[0].findings}
    after = {_key(finding, None): finding for finding in reports[1].findings}
    appeared = tuple(finding for key, finding in after.items() if key not in before)
    return appeared, tuple(finding for key, finding in before.items() if key not in after)


def _key(finding: Finding, matching: Matching | None) -> tuple[str, ...]:
    """What recognises a finding in the new text, where steps and things may have other names."""
    rule, protocol, step, subject = finding.key
    if matching is not None:
        step, subject = matching.step(step), matching.step(matching.thing(subject))
    return rule, protocol, step, subject
