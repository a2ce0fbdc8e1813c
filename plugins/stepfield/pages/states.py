"""How a person stands, in words that say what to do about it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from ..language.model import Level, Step
from .hands import Hands
from .reading import Reading
from .speech import Speech


@dataclass(frozen=True, slots=True)
class State:
    """A part of a person at one moment: the level's name for its sign, whether soiled, the words and what to mind.

    ``scrubbed`` are bare hands that are kept for a sterile gown or gloves.
    """

    part: str
    level: str
    soiled: bool
    words: str
    advice: str
    scrubbed: bool = False


def state_of(speech: Speech, part: str, seen: Hands, *, scrubbed: bool = False) -> State:
    """A state in words; ``scrubbed`` tells that bare disinfected hands are kept for a sterile gown or gloves."""
    bare = part == "hands" and seen.covered == "no" and seen.soiled == "no"
    ready = scrubbed and bare and seen.level is Level.DISINFECTED and not seen.varies
    words = speech.say("Hands scrubbed") if ready else _words(speech, part, seen)
    if seen.soiled == "yes":
        words = speech.say("%(state)s, soiled", state=words)
    elif seen.soiled == "maybe":
        words = speech.say("%(state)s, perhaps soiled", state=words)
    return State(part, seen.level.word, seen.soiled != "no", words, _advice(speech, part, seen, ready), ready)


def in_brief(speech: Speech, hands: Hands) -> str:
    """The state of hands, the level first: at least clean, gloved, perhaps soiled."""
    if hands.glove:
        covered = {"yes": speech.say("gloved"), "maybe": speech.say("gloved in some orders"), "no": ""}
    else:
        covered = {"yes": speech.say("covered"), "maybe": speech.say("covered in some orders"), "no": ""}
    soiled = {"yes": speech.say("soiled"), "maybe": speech.say("perhaps soiled"), "no": ""}
    told = (_levels(speech)[hands.level, hands.varies], covered[hands.covered], soiled[hands.soiled])
    return ", ".join(word for word in told if word)


def _words(speech: Speech, part: str, seen: Hands) -> str:
    if seen.covered == "yes":
        worn = part if seen.glove else f"{part} covered"
    else:
        worn = f"{part} {'bare' if seen.covered == 'no' else 'perhaps covered'}"
    exact = _exact(speech).get((worn, seen.level))
    if exact is not None and not seen.varies:
        return exact
    noun, level = _nouns(speech)[worn], _levels(speech)[seen.level, seen.varies]
    return speech.say("%(what)s: %(level)s", what=noun, level=level)


@cache
def _exact(speech: Speech) -> dict[tuple[str, Level], str]:
    return {
        ("hands", Level.STERILE): speech.say("Sterile gloves"),
        ("hands", Level.DISINFECTED): speech.say("Disinfected gloves"),
        ("hands", Level.CLEAN): speech.say("Clean gloves"),
        ("hands", Level.CONTAMINATED): speech.say("Contaminated gloves"),
        ("hands bare", Level.DISINFECTED): speech.say("Disinfected hands"),
        ("hands bare", Level.CLEAN): speech.say("Clean hands"),
        ("hands bare", Level.CONTAMINATED): speech.say("Contaminated hands"),
        ("body", Level.STERILE): speech.say("Sterile gown"),
        ("body", Level.CLEAN): speech.say("Clean gown"),
        ("body", Level.CONTAMINATED): speech.say("Contaminated gown"),
    }


@cache
def _nouns(speech: Speech) -> dict[str, str]:
    return {
        "hands": speech.say("Gloves"),
        "hands bare": speech.say("Hands"),
        "hands covered": speech.say("Covered hands"),
        "hands perhaps covered": speech.say("Hands or gloves"),
        "body": speech.say("Gown"),
        "body bare": speech.say("Clothes"),
        "body covered": speech.say("Covered body"),
        "body perhaps covered": speech.say("Clothes or gown"),
    }


@cache
def _levels(speech: Speech) -> dict[tuple[Level, bool], str]:
    return {
        (Level.STERILE, False): speech.say("sterile"),
        (Level.DISINFECTED, False): speech.say("disinfected"),
        (Level.CLEAN, False): speech.say("clean"),
        (Level.CONTAMINATED, False): speech.say("contaminated"),
        (Level.DISINFECTED, True): speech.say("at least disinfected"),
        (Level.CLEAN, True): speech.say("at least clean"),
        (Level.CONTAMINATED, True): speech.say("perhaps contaminated"),
    }


def _advice(speech: Speech, part: str, seen: Hands, ready: bool) -> str:
    if part == "body":
        return speech.say("Let only what is sterile touch it.") if seen.level is Level.STERILE else ""
    if seen.soiled != "no":
        return speech.say("What you touch gets soiled too.")
    if ready:
        return speech.say("Keep them up, touch nothing but what the step puts into them.")
    return {
        Level.STERILE: speech.say("Keep your hands up, touch only what is sterile."),
        Level.DISINFECTED: speech.say("Touch nothing sterile, and nothing that is not disinfected."),
        Level.CLEAN: speech.say("Touch nothing sterile, and nothing contaminated."),
        Level.CONTAMINATED: speech.say("Touch nothing that has to stay clean."),
    }[seen.level]


def is_scrubbed(reading: Reading, number: int, role: str, *, after: bool) -> bool:
    """Whether the next thing that happens to these hands is a sterile gown or glove, before they are washed again."""
    hands = f"{role}.hands"
    for step in reading.steps[number + after :]:
        if any(effect.field == "makes" and effect.thing.value == hands for effect in step.effects):
            return False
        if _dresses(reading, step, role):
            return True
    return False


def _dresses(reading: Reading, step: Step, role: str) -> bool:
    for effect in step.effects:
        if effect.field == "dons" and step.role is not None and step.role.value == role:
            item = reading.protocol.subjects.get(effect.thing.value)
            if item is not None and item.worn_on in ("hands", "body") and item.starts is Level.STERILE:
                return True
        if effect.field == "covers" and effect.target is not None:
            item = reading.protocol.subjects.get(effect.target.value)
            on_role = effect.thing.value in (f"{role}.hands", f"{role}.body")
            if on_role and item is not None and item.starts is Level.STERILE:
                return True
    return False
