"""A review in words, the same for every form it is written in."""

from __future__ import annotations

from collections.abc import Iterator

from ..checks.words import listed, quoted
from .grades import Grade
from .model import Change, Detail, Duty, Review, Reviewed, Version

GRADES = {
    Grade.WORDING: "the same is done, told otherwise",
    Grade.WORKING: "something is done otherwise",
    Grade.SAFETY: "something that keeps patient or team safe is other than before",
}
_FIELDS = {
    "do": "What to do",
    "why": "Why",
    "id": "Name",
    "name": "Name",
    "title": "Title",
    "purpose": "Purpose",
    "owner": "Owner",
    "question": "Question",
    "requirement": "Requirement",
    "retired": "Status",
}


def opening(review: Review) -> str:
    """What the change comes to, in a sentence or two."""
    if review.grade is None and not review.protocols:
        return "Nothing changed that anybody works by."
    count = sum(one.state != "unreadable" and one.grade is not None for one in review.protocols)
    told = f"{count} {'protocol' if count == 1 else 'protocols'} changed"
    if review.grade is None:
        return f"{told}; nothing that anybody works by."
    return f"{told}. The gravest change is one of {review.grade.word}: {GRADES[review.grade]}."


def heading(change: Change) -> str:
    """What was changed, and how."""
    was = f", until now {quoted(change.was)}" if change.was is not None else ""
    what = "" if change.what == "protocol" else f"{change.what} "
    return f"{what}{quoted(change.name)} {change.kind}{was}"


def detail(one: Detail) -> str:
    """One field in plain words."""
    if one.field in _FIELDS:
        was, now = " / ".join(one.lost), " / ".join(one.gained)
        if was and now:
            return (
                f"{_FIELDS[one.field]} was: {was} Now: {now}"
                if was[-1:] in ".!?"
                else f"{_FIELDS[one.field]} was {was}, now {now}"
            )
        return f"{_FIELDS[one.field]} new: {now}" if now else f"{_FIELDS[one.field]} left out: {was}"
    return one.say


def version(one: Version) -> str:
    """Whether the version was raised far enough."""
    if one.before is None or one.after is None:
        return ""
    step = f"Version {one.before}, unchanged" if one.before == one.after else f"Version {one.before} → {one.after}"
    if one.asked is None:
        return f"{step}."
    asked = {"patch": "its third number raised", "minor": "its second number raised"}.get(
        one.asked, "its first number raised, or the approval renewed"
    )
    return f"{step}; the change asks for {asked}: {'done' if one.raised else 'NOT done'}."


def duty(one: Duty, review: Reviewed) -> Iterator[str]:
    """What changes for one role, a line each: first its own work, then what it waits for or is handed."""
    for change in one.own:
        yield f"{_at(change)}: {_done(change)}"
    for change in one.near:
        who = listed(change.own, most=6)
        yield f"{_at(change)}, which you wait for or are handed something in ({who}): {_done(change)}"
    if not one.own and not one.near:
        yield "Nothing changes." if review.state == "changed" else "Read it whole."


def readers(one: Reviewed) -> str:
    """Who must read the protocol again."""
    names = [each.title for each in one.duties if each.must_read]
    if names:
        return f"Must read it again: {listed(names, most=12)}."
    return "Nobody must read it again: only words changed." if one.changes else ""


def _at(change: Change) -> str:
    return "The protocol" if change.what == "protocol" else f"{change.what.capitalize()} {quoted(change.name)}"


def _done(change: Change) -> str:
    kind = {"added": "is new", "removed": "is left out"}.get(change.kind)
    told = " ".join(f"{detail(one).rstrip('.')}." for one in change.details)
    if kind is None:
        return told
    phrases = [phrase for one in change.details for phrase in (*one.lost, *one.gained)]
    return f"{kind}. {'It was' if change.kind == 'removed' else 'It is'}: {'; '.join(phrases).rstrip('.')}."
