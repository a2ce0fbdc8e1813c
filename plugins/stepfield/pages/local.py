"""What marks a local change wherever it shows: in a clinic that adopted its protocols, what differs and why."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from ..changes.drift import Agreement, Difference, ProtocolDrift, Settled, drift_of_protocol, is_adopted
from ..checks.deviations import Effect
from ..language.leaving_out import people_of
from ..language.model import Protocol, ProtocolSet
from .speech import Speech
from .words import opening

WRITTEN_DOWN = frozenset({"records", "counts", "asks"})
"""Fields that decide what stands on the record sheet."""


_BRIEF = 70
"""So many letters of a reason, or of what is left out, stand on a wall."""
Said = tuple[tuple[str, bool], ...]
"""Words in turn, each with whether they are the clinic's own."""


@dataclass(frozen=True, slots=True)
class Mark:
    """One local change as a page tells it.

    ``said`` are its words in turn, each with whether it is the clinic's own; the first stand out. ``until`` says who
    agreed until when, empty if nobody has to. ``anchor`` is its place on the page of all differences. ``roles`` are
    those it concerns; everybody if empty. ``brief`` is what there is room for on a wall: what stands out, and the rest.
    """

    grade: str
    said: Said
    until: str
    expired: bool
    anchor: str
    brief: tuple[str, str]
    roles: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Marks:
    """The marks of one protocol: ``heads`` are told before its steps, ``steps`` at the step of a name.

    ``records`` are told on the record sheet alone, where the steps do not stand.
    """

    heads: tuple[Mark, ...] = ()
    steps: Mapping[str, tuple[Mark, ...]] = field(default_factory=dict)
    records: tuple[Mark, ...] = ()

    def of_role(self, role: str) -> tuple[Mark, ...]:
        """What one role is told before its steps."""
        return tuple(mark for mark in self.heads if not mark.roles or role in mark.roles)


NONE = Marks()


def marks_of(protocol_set: ProtocolSet, protocol: Protocol, today: datetime.date, speech: Speech) -> Marks:
    """The marks of a protocol; none where the set was not adopted from another, or nothing in it differs."""
    if not is_adopted(protocol_set):
        return NONE
    found = drift_of_protocol(protocol_set, protocol, today)
    return _Marking(found, protocol, speech).marks() if found.differs else NONE


def anchors(drift: ProtocolDrift) -> tuple[tuple[Difference, str], ...]:
    """The local changes of a protocol's steps, each with its place on the page of all differences."""
    seen: dict[str, int] = {}
    found = []
    for one in drift.differences:
        number = seen[one.name] = seen.get(one.name, 0) + 1
        found.append((one, f"{drift.id}_{one.name}_{number}"))
    return tuple(found)


def thing_anchor(thing: Difference) -> str:
    """The place of a thing on the page of all differences."""
    return f"thing_{thing.name}"


def settled_anchor(protocol: str, choice: Settled) -> str:
    """The place of a settled choice on the page of all differences."""
    return f"{protocol}_choice_{choice.choice}"


def agreed(agreement: Agreement, speech: Speech) -> str:
    """Who agreed, and until when; empty if nothing is said of it."""
    who, until = agreement.by, agreement.until
    if until is None:
        return speech.say("Agreed by %(who)s.", who=who) if who else ""
    day = until.isoformat()
    if agreement.expired:
        return speech.say("This was agreed only until %(day)s: it must be looked at again.", day=day)
    if who:
        return speech.say("Agreed by %(who)s, until %(day)s.", who=who, day=day)
    return speech.say("It holds until %(day)s.", day=day)


class _Marking:
    """Puts the differences of one protocol into marks."""

    def __init__(self, drift: ProtocolDrift, protocol: Protocol, speech: Speech) -> None:
        self.drift, self.protocol, self.say, self.speech = drift, protocol, speech.say, speech
        self.steps = {step.id.value: step for step in protocol.steps}

    def marks(self) -> Marks:
        """What is to be told of it all."""
        steps: dict[str, list[Mark]] = {}
        heads, records = list(self._own()), []
        for one, anchor in anchors(self.drift):
            step = self.steps.get(one.name)
            if step is None:
                heads.append(self._head(one, anchor, self.say("Left out here:"), one.title, one.roles))
                continue
            steps.setdefault(one.name, []).append(self._at_step(one, anchor))
            text = " ".join(step.do.value.split())
            gone = one.roles - people_of(step)
            if gone:
                lead = self.say("No longer done by the same people here:")
                heads.append(self._head(one, anchor, lead, text, gone))
            if any(each.name in WRITTEN_DOWN for each in one.fields):
                records.append(self._head(one, anchor, self.say("Differs here:"), text, frozenset()))
        heads += self._settled()
        heads += self._things()
        return Marks(tuple(heads), {name: tuple(found) for name, found in steps.items()}, tuple(records))

    def _own(self) -> Iterator[Mark]:
        if self.drift.state == "own":
            lead = self.say("This protocol is the clinic's own: the shared set does not have it.")
            yield Mark("neutral", ((lead, False),), "", False, f"own_{self.drift.id}", (lead, ""))

    def _settled(self) -> Iterator[Mark]:
        for choice in self.drift.settled:
            lead, what = self.say("Settled here for good:"), f"{choice.title}: {choice.option_title}"
            said = [(lead, False), (what, True)]
            if choice.never:
                number = len(choice.never)
                never = self.speech.count(
                    "(%(number)s step is never done here)", "(%(number)s steps are never done here)", number
                )
                said.append((never, False))
            anchor = settled_anchor(self.drift.id, choice)
            yield Mark("settled", tuple(said), "", False, anchor, (lead, what))

    def _things(self) -> Iterator[Mark]:
        for one in self.drift.things:
            subject = self.protocol.subjects.get(one.name)
            title = subject.title if subject is not None else one.title
            lead = self.say("Only here:") if one.kind == "new-thing" else self.say("Another thing here:")
            was = "" if title == one.title else self.say("(in the shared protocol: %(thing)s)", thing=one.title)
            yield self._head(one, thing_anchor(one), lead, title, one.roles, was)

    def _at_step(self, one: Difference, anchor: str) -> Mark:
        """The mark that stands at the step itself."""
        say, because, is_new = self.say, one.agreement.because, one.kind == "add"
        brief = say("Only here:") if is_new else say("Differs here:")
        if because:
            lead = (
                say("Only here, not in the shared protocol, because:")
                if is_new
                else say("Differs here from the shared protocol, because:")
            )
            return self._mark(one, anchor, ((lead, False), (because, True)), (brief, opening(because, _BRIEF)))
        lead = (
            say("Only here, not in the shared protocol; no reason is given.")
            if is_new
            else say("Differs here from the shared protocol; no reason is given.")
        )
        return self._mark(one, anchor, ((lead, False),), (brief, say("no reason is given")))

    def _head(self, one: Difference, anchor: str, lead: str, what: str, roles: frozenset[str], was: str = "") -> Mark:
        """A mark that stands before the steps."""
        because = one.agreement.because
        said = [(lead, False), (what, True), *([(was, False)] if was else [])]
        said += [(self.say("Because:"), False), (because, True)] if because else []
        brief = " – ".join(opening(text, _BRIEF) for text in (what, because) if text)
        return self._mark(one, anchor, tuple(said), (lead, brief), roles)

    def _mark(
        self, one: Difference, anchor: str, said: Said, brief: tuple[str, str], roles: frozenset[str] = frozenset()
    ) -> Mark:
        # Only what is looser has to be agreed to; what is over is told of everything.
        tells = one.effect is Effect.LOOSER or one.agreement.expired
        until = agreed(one.agreement, self.speech) if tells else ""
        return Mark(one.effect.word, said, until, one.agreement.expired, anchor, brief, roles)
