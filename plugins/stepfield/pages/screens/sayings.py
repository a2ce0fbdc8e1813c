"""What a screen says of a step: short paragraphs, the most urgent first."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from ...language.model import Step
from ..addresses import Links
from ..hands import Hands
from ..local import Mark
from ..reading import Reading, warn
from ..speech import Speech
from ..states import in_brief
from ..views import Arrival, Asked, HandOver, WaitView
from ..words import PARTS, split
from .paragraphs import SIGN, Paragraph
from .splitting import Card

LOCAL = "local"
"""The sign of what differs here."""
_NOWHERE = Links("screens/index.html")
"""Screens have no links; the views want to know from where they would lead."""


def taken(step: Step, picked: Mapping[str, str]) -> bool:
    """Whether a step is done with these choices, as far as they decide it."""
    return all(picked.get(part.name.value) in (None, *(option.value for option in part.options)) for part in step.when)


def step_card(reading: Reading, number: int, role: str, picked: Mapping[str, str]) -> Card:
    """A step as the screen of a role shows it."""
    said = tuple(_said(reading, number, role, picked))
    return Card(said, reading.speech.say("Step %(number)s", number=number + 1))


def arrival_card(arrival: Arrival, speech: Speech) -> Card:
    """What somebody else's step brings."""
    name = speech.say("Step %(number)s", number=arrival.number)
    over = Paragraph("over", _hand_over(arrival.hand_over, speech), mark=str(arrival.number))
    return Card((over, *map(local, arrival.local)), name)


def local(mark: Mark) -> Paragraph:
    """What differs here from the shared protocol, in the short form that a wall has room for."""
    lead, rest = mark.brief
    text = f"{rest} {mark.until}".strip() if mark.expired else rest
    return Paragraph("note", text, lead=lead, signs=(LOCAL,))


def _said(reading: Reading, number: int, role: str, picked: Mapping[str, str]) -> Iterator[Paragraph]:
    step, speech = reading.steps[number], reading.speech
    for caution in step.cautions:
        found = warn(caution.kind.value, caution.text.value, speech)
        yield Paragraph("warn", found.text, lead=f"{found.word}:", signs=("warning",))
    for part in step.when:
        if part.name.value not in picked:
            yield Paragraph("only", speech.say("Only if %(condition)s", condition=reading.condition(part)))
    untils = [wait.until for wait in reading.waits_at.get(number, ()) if wait.role == role]
    for wait in dict.fromkeys(reading.wait_view(number, role, until, _NOWHERE) for until in untils):
        yield Paragraph("wait", _wait(wait, speech))
    for bound in reading.bounds(step):
        yield Paragraph("wait", bound)
    before = reading.hands.at(number, role) if reading.hands is not None else None
    if reading.hands is not None and before is not None:
        yield _hands(before, reading.hands.at(number, role, after=True), speech)
    yield from _deed(reading, number, role)
    yield from map(local, reading.local.steps.get(step.id.value, ()))
    for over in reading.hand_overs(step, role):
        yield Paragraph("over", _hand_over(over, speech))
    asked = reading.asked(number, _NOWHERE, role)
    if asked is not None:
        yield Paragraph("ask", _asked(asked, speech), lead=asked.question)


def _deed(reading: Reading, number: int, role: str) -> Iterator[Paragraph]:
    """What is to be done, by whom if it is somebody else's step, and together with whom."""
    step, speech = reading.steps[number], reading.speech
    do, more = split(step.do.value)
    own = step.role is not None and step.role.value == role
    owner = reading.role(step.role) if step.role is not None else speech.say("Nobody yet")
    text = f"{do} …" if more else do  # the rest stands on the page of the role
    yield Paragraph("do", text, lead="" if own else f"{owner}:", mark=str(number + 1))
    people = reading.people(step)
    others = [reading.role(person) for person in (people[1:] if step.role is not None else people) if person != role]
    if others:
        yield Paragraph("note", speech.say("Together with: %(names)s", names=", ".join(others)))


def _hands(before: Hands, after: Hands | None, speech: Speech) -> Paragraph:
    said = _state(before, speech)
    if after is not None and after != before:
        then = f"{SIGN}{after.level.word} {_state(after, speech)}"
        said = speech.say("%(before)s, then %(after)s", before=said, after=then)
    return Paragraph("hands", said, lead=speech.say("Hands:"), signs=(before.level.word,))


def _state(hands: Hands, speech: Speech) -> str:
    words = in_brief(speech, hands)
    return words if hands.soiled == "no" else f"{SIGN}drop {words}"


def _wait(wait: WaitView, speech: Speech) -> str:
    if wait.done:
        said = speech.say("Wait until the %(who)s has %(done)s", who=wait.who, done=wait.done)
    else:
        said = speech.say(
            "Wait for step %(number)s of the %(who)s: “%(quote)s”", number=wait.number, who=wait.who, quote=wait.quote
        )
    if wait.answer:
        said = speech.say("%(wait)s, and the answer is not %(answer)s", wait=said, answer=wait.answer)
    if wait.only_if:
        said = speech.say("%(wait)s (only if %(condition)s)", wait=said, condition="; ".join(wait.only_if))
    return said


def _hand_over(over: HandOver, speech: Speech) -> str:
    values = {
        "thing": over.thing,
        "giver": over.giver,
        "taker": over.taker,
        "place": speech.say(PARTS.get(over.place, over.place)),
    }
    if over.kind == "give":
        if over.inward:
            return speech.say("You get %(thing)s from: %(giver)s", **values)
        return speech.say("Hand %(thing)s to: %(taker)s", **values)
    if over.inward:
        return speech.say("%(thing)s is put on your %(place)s by: %(giver)s", **values)
    return speech.say("Put %(thing)s on the %(place)s of: %(taker)s", **values)


def _asked(asked: Asked, speech: Speech) -> str:
    said = [
        speech.say("%(answer)s: back to step %(step)s", answer=answer.text, step=answer.back.text.partition(":")[0])
        if answer.back is not None
        else answer.text
        for answer in asked.answers
    ]
    return " / ".join(said)
