"""What differs here: the page of all local changes of an adopted set, grade by grade, protocol by protocol."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import Any

from ..changes.drift import Difference, Drift, Missed, ProtocolDrift
from ..language.model import ProtocolSet
from .addresses import PROBLEMS, Links, team_page
from .local import agreed, anchors, settled_anchor, thing_anchor
from .speech import N_, Speech
from .views import Link

GRADES = {
    "looser": (N_("Looser than the shared protocols"), N_("Something that guards patient or team is less, or gone.")),
    "stricter": (N_("Stricter than the shared protocols"), N_("More is asked for, or for longer.")),
    "neutral": (N_("Neutral"), N_("Other words, names or things; what guards somebody is as it was.")),
}
"""The title of each grade, and what it means."""
_KINDS = {
    "set": N_("Changed:"),
    "drop": N_("Left out here:"),
    "add": N_("Added here:"),
    "thing": N_("Another thing here:"),
    "new-thing": N_("Only here:"),
}


@dataclass(frozen=True, slots=True)
class Entry:
    """One local change. ``link`` leads to the step; ``reasons`` are sentences of the checker, in English.

    ``until`` is the last day for the page's script, which marks it once it is past.
    """

    anchor: str
    grade: str
    kind: str
    link: Link
    name: str
    fields: tuple[tuple[str, str, str], ...]
    told: tuple[str, ...]
    reasons: tuple[str, ...]
    because: str
    agreed: str
    expired: bool
    until: str
    place: str


@dataclass(frozen=True, slots=True)
class Group:
    """The changes of one protocol, or of things that several use."""

    title: Link
    entries: tuple[Entry, ...]


@dataclass(frozen=True, slots=True)
class Section:
    """All changes of one grade, or all that have expired; ``means`` says what that is."""

    anchor: str
    title: str
    means: str
    groups: tuple[Group, ...]


@dataclass(frozen=True, slots=True)
class Choice:
    """A choice that is settled for good, with the texts of the steps that nobody does any more."""

    anchor: str
    protocol: Link
    text: str
    never: tuple[str, ...]


def differs_values(drift: Drift, protocol_set: ProtocolSet, page: str, speech: Speech) -> dict[str, Any]:
    """What the template of the page asks for."""
    making = _Making(drift, protocol_set, Links(page), speech)
    return {
        "clinic": drift.clinic,
        "baseline": drift.baseline,
        "version": drift.version,
        "today": drift.today.isoformat(),
        "sections": tuple(making.sections()),
        "choices": tuple(making.choices()),
        "renamed": drift.renamed,
        "left_out": tuple(one.title for one in drift.in_state("left-out")),
        "own": tuple((f"own_{one.id}", making.link(one)) for one in drift.in_state("own")),
        "unread": tuple(one.id for one in drift.in_state("unreadable")),
        "missed": tuple(map(_missed, drift.missed)),
        "known": drift.unread is None,
        "to_problems": Links(page).to(PROBLEMS),
    }


class _Making:
    def __init__(self, drift: Drift, protocol_set: ProtocolSet, links: Links, speech: Speech) -> None:
        self.drift, self.links, self.speech = drift, links, speech
        self.steps = {one.id: {step.id.value for step in one.steps} for one in protocol_set.protocols}
        self.titles = {name: subject.title for one in protocol_set.protocols for name, subject in one.subjects.items()}

    def link(self, protocol: ProtocolDrift) -> Link:
        """The way to a protocol."""
        return Link(protocol.title, self.links.to(team_page(protocol.id)))

    def sections(self) -> Iterator[Section]:
        """What has expired, then each grade."""
        say = self.speech.say
        groups = [(self.link(one), tuple(self._of(one))) for one in self.drift.protocols]
        groups.insert(0, (Link(say("Things"), ""), tuple(self._thing(one) for one in self._things())))
        expired = _only(groups, lambda one: one.expired)
        if expired:
            means = say("The day up to which these were agreed is past. Agree to them anew, or take them out.")
            yield Section("expired", say("Expired"), means, expired)
        for grade, (title, means) in GRADES.items():
            found = _only(groups, partial(_has, grade))
            if found:
                yield Section(grade, say(title), say(means), found)

    def choices(self) -> Iterator[Choice]:
        """The choices that are settled."""
        for protocol, one in self.drift.settled:
            never = tuple(text for _, text in one.never)
            text = f"{one.title}: {one.option_title}"
            yield Choice(settled_anchor(protocol.id, one), self.link(protocol), text, never)

    def _things(self) -> Iterable[Difference]:
        """The things that differ, each name once: it is one place on the page."""
        return {one.name: one for one in self.drift.things}.values()

    def _of(self, protocol: ProtocolDrift) -> Iterator[Entry]:
        page = team_page(protocol.id)
        for one, anchor in anchors(protocol):
            there = one.name in self.steps.get(protocol.id, set())
            yield self._entry(one, anchor, Link(one.title, self.links.to(page, one.name if there else "")))

    def _thing(self, one: Difference) -> Entry:
        return self._entry(one, thing_anchor(one), Link(self.titles.get(one.name, one.title), ""))

    def _entry(self, one: Difference, anchor: str, link: Link) -> Entry:
        until = one.agreement.until
        return Entry(
            anchor=anchor,
            grade=one.effect.word,
            kind=self.speech.say(_KINDS[one.kind]),
            link=link,
            name=one.name,
            fields=tuple((field.name, field.before, field.after) for field in one.fields),
            told=one.told,
            reasons=one.reasons,
            because=one.agreement.because,
            agreed=agreed(one.agreement, self.speech),
            expired=one.agreement.expired,
            until=until.isoformat() if until is not None and not one.agreement.expired else "",
            place=f"{one.path}:{one.line}",
        )


def _only(groups: Iterable[tuple[Link, tuple[Entry, ...]]], wanted: Callable[[Entry], bool]) -> tuple[Group, ...]:
    """The groups with the entries that are wanted, without those that have none."""
    found = (Group(title, tuple(filter(wanted, entries))) for title, entries in groups)
    return tuple(group for group in found if group.entries)


def _has(grade: str, entry: Entry) -> bool:
    return entry.grade == grade and not entry.expired


def _missed(one: Missed) -> tuple[str, str]:
    return f"{one.path}:{one.line}", one.message
