"""What a screen tells of a protocol, in groups of cards: an overview, then every phase."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from ...checks import Report
from ...language.model import Case, Choice, Day, Phase
from ..frame import Frame, Framing
from ..reading import Reading, warn
from ..speech import Speech
from ..views import Arrival
from ..words import one_of, opening
from .paragraphs import Paragraph
from .sayings import arrival_card, local, step_card, taken
from .splitting import Card


@dataclass(frozen=True, slots=True)
class Group:
    """Cards under one head. ``marks`` warn of what is not for use; ``foot`` stands below every screenful."""

    who: str
    phase: str
    title: str
    marks: str
    foot: str
    cards: tuple[Card, ...]

    @property
    def words(self) -> int:
        """How many words the head has."""
        return len(f"{self.who} {self.phase} {self.marks}".split())


class Telling:
    """Tells the protocols of one set to its screens."""

    def __init__(self, report: Report) -> None:
        self.framing = Framing(report)
        self.facts = report.facts
        self.readings = {one.protocol.id: Reading(one, report.facts) for one in report.facts.examined}
        self.speech: Speech = self.framing.speech

    def protocol(
        self, reading: Reading, role: str, picked: Mapping[str, str], case: str | None = None
    ) -> Iterator[Group]:
        """The groups of a protocol for a role; ``case`` says which case of a day it is."""
        overview = self.overview(reading, role, picked, case)
        yield overview
        first, count, empty = 0, len(reading.protocol.phases), True
        for number, phase in enumerate(reading.protocol.phases, start=1):
            steps = range(first, first + len(phase.steps))
            first += len(phase.steps)
            cards = tuple(_steps(reading, steps, role, picked))
            if cards:
                empty = False
                head = self.speech.say(
                    "Phase %(number)s of %(count)s: %(title)s", number=number, count=count, title=phase.title
                )
                yield replace(overview, phase=head, cards=(*_opening(phase, self.speech), *cards))
        if empty:
            said = self.speech.say("Nothing to do: this protocol has no step for this role.")
            yield replace(overview, cards=(_one("note", said),))

    def overview(self, reading: Reading, role: str | None, picked: Mapping[str, str], case: str | None) -> Group:
        """What is to be known of a protocol before its steps, for a role or for the whole team (None)."""
        who = self.speech.say("Whole team") if role is None else reading.role(role)
        frame = self.framing.of_protocol("screens/index.html", reading.protocol, ())
        cards = tuple(self._overview(reading, frame, role, picked))
        title = reading.protocol.title.value
        return Group(who, case or self.speech.say("Overview"), title, self._marks(frame), self._foot(frame), cards)

    def day(self, day: Day, role: str | None) -> Iterator[Group]:
        """The groups of a day: its list, then every case; for the whole team (None) without the steps."""
        who = self._title_of(role) if role is not None else self.speech.say("Whole team")
        count = len(day.cases)
        cards = tuple(self._listed(case, number) for number, case in enumerate(day.cases, start=1))
        first_things = self.framing.of_site("screens/index.html", tells_errors=False).first_things
        yield Group(who, day.title, self.speech.say("Cases of the day"), "", first_things, cards)
        for number, case in enumerate(day.cases, start=1):
            place = self.speech.say("Case %(number)s of %(count)s", number=number, count=count)
            reading = self.readings.get(case.protocol.value)
            if reading is None:
                continue
            picked = dict(known_choices(case, reading.protocol.choices))
            if role is None:
                yield self.overview(reading, None, picked, place)
            else:
                yield from self.protocol(reading, role, picked, place)

    def _title_of(self, role: str) -> str:
        return next((reading.role(role) for reading in self.readings.values()), role)

    def _listed(self, case: Case, number: int) -> Card:
        """A case as the list of the day shows it."""
        name = case.protocol.value
        reading = self.readings.get(name)
        mark, label = str(number), self.speech.say("Case %(number)s", number=number)
        if reading is None:
            lost = name in self.facts.protocol_set.unreadable
            said = (
                self.speech.say("The protocol “%(name)s” cannot be read. Its steps are not shown.", name=name)
                if lost
                else self.speech.say("There is no protocol “%(name)s”. Its steps are not shown.", name=name)
            )
            warns = Paragraph("warn", said, signs=("warning",))
            return Card((Paragraph("do", name, mark=mark), warns), label)
        settled = known_choices(case, reading.protocol.choices)
        told = [Paragraph("do", reading.protocol.title.value, mark=mark)]
        marks = self._marks(self.framing.of_protocol("screens/index.html", reading.protocol, ()))
        if marks:
            told.append(Paragraph("warn", marks, signs=("warning",)))
        told += [Paragraph("note", text) for text in _settled(reading.protocol.choices, dict(settled), self.speech)]
        for choice, option in case.choices:
            if (choice.value, option.value) not in settled:
                text = self.speech.say(
                    "Not known here and passed over: %(choice)s: %(option)s", choice=choice.value, option=option.value
                )
                told.append(Paragraph("warn", text, signs=("warning",)))
        return Card(tuple(told), label)

    def _overview(self, reading: Reading, frame: Frame, role: str | None, picked: Mapping[str, str]) -> Iterator[Card]:
        speech = self.speech
        who = speech.say("Whole team") if role is None else reading.role(role)
        yield _one("title", reading.protocol.title.value, lead=f"{who}:")
        for banner in frame.banners:
            said = (
                speech.say("Errors were found. Do not work from this screen before they are mended.")
                if banner.kind == "error"
                else speech.say("Not every order of these steps was checked.")
            )
            yield _one("warn", said, warns=True)
        standing = frame.standing
        for mark in standing.marks if standing is not None else ():
            yield _one("warn", mark.meaning, lead=f"{mark.word}:", warns=True)
        choices = tuple(_settled(reading.protocol.choices, picked, speech))
        if choices:
            yield Card(tuple(Paragraph("note", text) for text in choices), speech.say("Choices"))
        marks = reading.local.heads if role is None else reading.local.of_role(role)
        if marks:
            yield Card(tuple(map(local, marks)), speech.say("What differs here"))
        if standing is not None:
            approved = standing.approved or speech.say("not yet")
            lines = (
                (speech.say("Version"), standing.version),
                (speech.say("Status"), standing.status),
                (speech.say("Approved"), approved),
                (speech.say("Review by"), standing.review_by or speech.say("not set")),
                (speech.say("Looked after by"), standing.owner),
            )
            told = tuple(Paragraph("small", text, lead=f"{label}:") for label, text in lines)
            yield Card(told, speech.say("Version"))
        if frame.notice:
            yield _one("small", frame.notice)

    def _marks(self, frame: Frame) -> str:
        marks = [mark.word for mark in frame.standing.marks] if frame.standing is not None else []
        kinds = {banner.kind for banner in frame.banners}
        if "error" in kinds:
            marks.insert(0, self.speech.say("Errors: do not use"))
        if "unproved" in kinds:
            marks.append(self.speech.say("Not every order checked"))
        return " · ".join(marks)

    def _foot(self, frame: Frame) -> str:
        standing = frame.standing
        if standing is None:
            return frame.first_things
        version = self.speech.say("Version %(version)s, %(status)s", version=standing.version, status=standing.status)
        return f"{version} · {frame.first_things}"


def _opening(phase: Phase, speech: Speech) -> Iterator[Card]:
    """What stands before the steps of a phase: its cautions."""
    cautions = [warn(caution.kind.value, caution.text.value, speech) for caution in phase.cautions]
    if cautions:
        said = tuple(Paragraph("warn", one.text, lead=f"{one.word}:", signs=("warning",)) for one in cautions)
        yield Card(said, opening(phase.title, 30))


def _one(kind: str, text: str, lead: str = "", *, warns: bool = False) -> Card:
    """A card of one paragraph."""
    return Card((Paragraph(kind, text, lead=lead, signs=("warning",) if warns else ()),), opening(lead or text, 30))


def known_choices(case: Case, choices: tuple[Choice, ...]) -> tuple[tuple[str, str], ...]:
    """What a case settles, as far as the protocol has such choices."""
    options = {choice.id.value: {option.value for option, _ in choice.options} for choice in choices}
    return tuple(
        (name.value, option.value) for name, option in case.choices if option.value in options.get(name.value, ())
    )


def _settled(choices: tuple[Choice, ...], picked: Mapping[str, str], speech: Speech) -> Iterator[str]:
    for choice in choices:
        titles = {option.value: title for option, title in choice.options}
        if choice.id.value in picked:
            yield speech.say("%(choice)s: %(option)s", choice=choice.title, option=titles[picked[choice.id.value]])
        else:
            yield speech.say(
                "%(choice)s is to be settled: %(options)s",
                choice=choice.title,
                options=one_of(list(titles.values()), speech),
            )


def _steps(reading: Reading, numbers: range, role: str, picked: Mapping[str, str]) -> Iterator[Card]:
    for number in numbers:
        step = reading.steps[number]
        if not taken(step, picked):
            continue
        if role in reading.people(step):
            yield step_card(reading, number, role, picked)
            continue
        for over in reading.hand_overs(step, role):
            marks = reading.local.steps.get(step.id.value, ())
            yield arrival_card(Arrival(over, number + 1, "", marks), reading.speech)
