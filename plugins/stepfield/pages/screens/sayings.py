"""What a screen says of a step: short paragraphs, the most urgent first."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from ...language.model import Step
from ..addresses import Links
from ..hands import Hands
from ..reading import Reading
from ..speech import Speech
from ..steps import step_view
from ..views import Arrival, Asked, HandOver, StepView, WaitView
from .paragraphs import SIGN, Paragraph
from .splitting import Card

_NOWHERE = Links("screens/index.html")
"""Screens have no links; the views want to know from where they would lead."""


def taken(step: Step, picked: Mapping[str, str]) -> bool:
    """Whether a step is done with these choices, as far as they decide it."""
    return all(picked.get(part.name.value) in (None, *(option.value for option in part.options)) for part in step.when)


def step_card(reading: Reading, number: int, role: str, picked: Mapping[str, str]) -> Card:
    """A step as the screen of a role shows it."""
    view = step_view(reading, number, _NOWHERE, role)
    said = tuple(_said(reading, reading.steps[number], view, reading.role(role), picked))
    return Card(said, reading.speech.say("Step %(number)s", number=number + 1))


def arrival_card(arrival: Arrival, speech: Speech) -> Card:
    """What somebody else's step brings."""
    name = speech.say("Step %(number)s", number=arrival.number)
    return Card((Paragraph("over", _hand_over(arrival.hand_over, speech), mark=str(arrival.number)),), name)


def _said(reading: Reading, step: Step, view: StepView, role: str, picked: Mapping[str, str]) -> Iterator[Paragraph]:
    speech = reading.speech
    for caution in view.cautions:
        yield Paragraph("warn", caution.text, lead=f"{caution.word}:", signs=("warning",))
    for part in step.when:
        if part.name.value not in picked:
            yield Paragraph("only", speech.say("Only if %(condition)s", condition=reading.condition(part)))
    for wait in view.waits:
        yield Paragraph("wait", _wait(wait, speech))
    for bound in view.bounds:
        yield Paragraph("wait", bound)
    if view.before is not None:
        yield _hands(view.before, view.after, speech)
    who = "" if view.is_own else view.owner
    do = f"{view.do} …" if view.more else view.do  # the rest stands on the page of the role
    yield Paragraph("do", do, lead=f"{who}:" if who else "", mark=str(view.number))
    others = [name for name in view.helpers if name != role]
    if others:
        yield Paragraph("note", speech.say("Together with: %(names)s", names=", ".join(others)))
    for over in view.hand_overs:
        yield Paragraph("over", _hand_over(over, speech))
    if view.asked is not None:
        yield Paragraph("ask", _asked(view.asked, speech), lead=view.asked.question)


def _hands(before: Hands, after: Hands | None, speech: Speech) -> Paragraph:
    said = _state(before)
    if after is not None and after != before:
        then = f"{SIGN}{after.level.word} {_state(after)}"
        said = speech.say("%(before)s, then %(after)s", before=said, after=then)
    return Paragraph("hands", said, lead=speech.say("Hands:"), signs=(before.level.word,))


def _state(hands: Hands) -> str:
    return hands.words if hands.soiled == "no" else f"{SIGN}drop {hands.words}"


def _wait(wait: WaitView, speech: Speech) -> str:
    if wait.done:
        said = speech.say("Wait until the %(who)s has %(done)s", who=wait.who, done=wait.done)
    else:
        said = speech.say(
            "Wait for step %(number)s of the %(who)s: “%(quote)s”", number=wait.number, who=wait.who, quote=wait.quote
        )
    if wait.answer:
        said = speech.say("%(wait)s, and the answer is %(answer)s", wait=said, answer=wait.answer)
    if wait.only_if:
        said = speech.say("%(wait)s (only if %(condition)s)", wait=said, condition="; ".join(wait.only_if))
    return said


def _hand_over(over: HandOver, speech: Speech) -> str:
    values = {"thing": over.thing, "giver": over.giver, "taker": over.taker, "place": over.place}
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
