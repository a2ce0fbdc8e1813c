"""Parts that no protocol uses, and names that a part has bound and never uses."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator

from .model import Protocol
from .names import quoted
from .renaming import Around, Part, Renaming
from .source import Problem
from .steps import Use


def unused_parts(parts: Iterable[Part], protocols: Iterable[Protocol]) -> Iterator[Problem]:
    """The parts that none of the protocols uses, directly or through other parts."""
    used = {part for protocol in protocols for part in protocol.parts}
    for part in parts:
        if part.id not in used:
            message = f"the part {quoted(part.id)} is written, but no protocol uses it"
            hint = "take the file out, or add the use of it"
            yield Problem("unused-name", part.title.span, message, subject=part.id, hint=hint)


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
