"""What is written for the whole set and used nowhere: parts, the names they want bound, and the clinic's surfaces."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Set

from .model import Clinic, Passed, Protocol, Step
from .names import quoted
from .renaming import Around, Part, Renaming
from .source import Problem
from .steps import Use


def unused_parts(parts: Iterable[Part], protocols: Iterable[Protocol | Passed]) -> Iterator[Problem]:
    """The parts that none of the protocols uses, directly or through other parts."""
    used = {part for protocol in protocols for part in protocol.parts}
    for part in parts:
        if part.id not in used:
            message = f"the part {quoted(part.id)} is written, but no protocol uses it"
            hint = "take the file out, or add the use of it"
            yield Problem("unused-name", part.title.span, message, subject=part.id, hint=hint)


def unused_surfaces(clinic: Clinic, protocols: Iterable[Protocol | Passed]) -> Iterator[Problem]:
    """The clinic's surfaces that none of the protocols uses."""
    used = {name for protocol in protocols for name in names_used(protocol)}
    for surface in clinic.surfaces:
        if surface.name.value not in used:
            message = f"the clinic's surface {quoted(surface.name.value)} is declared, but no protocol uses it"
            hint = "leave it out, or add the step that uses it"
            yield Problem("unused-name", surface.name.span, message, subject=surface.name.value, hint=hint)


def names_used(protocol: Protocol | Passed) -> Set[str]:
    """Every name that some step needs, acts on or records; of a protocol that passed, the clinic's names alone."""
    return protocol.names if isinstance(protocol, Passed) else names_in(protocol.steps)


def names_in(steps: Iterable[Step]) -> Set[str]:
    """Every name that some of the steps needs, acts on or records."""
    used: set[str] = set()
    for step in steps:
        used.update(need.subject.value for need in step.needs)
        used.update(effect.thing.value for effect in step.effects)
        used.update(effect.target.value for effect in step.effects if effect.target is not None)
        used.update(record.value.split(".")[0] for record in step.records)
    return used


def unused_binds(parts: Iterable[Part], problems: Collection[Problem]) -> Iterator[Problem]:
    """The names under ``for`` that a part never uses.

    A part in which some name is declared nowhere is passed over: the lost use may be the misspelled one.
    """
    misspelled = {problem.span.path for problem in problems if problem.rule == "unknown-name"}
    for part in parts:
        if part.path in misspelled:
            continue
        used = _used(part)
        for name in part.declared:
            if name.value not in used:
                message = f"the part {quoted(part.id)} wants {quoted(name.value)} bound, but none of its steps uses it"
                hint = "take it out here and at every use of the part, or add the step that uses it"
                yield Problem("unused-name", name.span, message, part.id, subject=name.value, hint=hint)


def _used(part: Part) -> set[str]:
    """The bound names that would be replaced if the part were unfolded."""
    renaming = Renaming(Around(part=part, bound={name.value: name for name in part.declared}), frozenset())
    for line in part.lines:
        if isinstance(line, Use):
            for _, value in line.bindings:
                renaming.any(value)
        else:
            renaming.step(line)
    return renaming.met
