"""Words the pages use for levels, hazards, lengths of time and states of approval."""

from __future__ import annotations

import re
from functools import lru_cache

from ..language.model import Duration
from .speech import N_, Speech

HAZARDS = {
    "sharps": N_("Sharps"),
    "fire": N_("Fire"),
    "chemical": N_("Chemical"),
    "splash": N_("Splash"),
    "pressure": N_("Pressure"),
    "electrical": N_("Electricity"),
    "allergy": N_("Allergy"),
    "medicine": N_("Medicine"),
    "general": N_("Take care"),
}
"""The signal word beside the warning sign, by kind of caution."""

STATES = {
    "draft": (N_("Draft"), N_("not approved: for writing and review, not for use")),
    "in-review": (N_("In review"), N_("not approved yet: not for use")),
    "retired": (N_("Retired"), N_("withdrawn: no longer for use")),
}
"""What marks a protocol that is not approved: the word, and what it means."""

FIRST_THINGS = N_("Local policy, manufacturers' instructions and licensed judgement come first.")
"""The caution every page carries."""

STATUS = {"draft": N_("draft"), "in-review": N_("in review"), "approved": N_("approved"), "retired": N_("retired")}
"""How a status is called."""

LEVELS = (N_("contaminated"), N_("clean"), N_("disinfected"), N_("sterile"))
"""How free of germs something is, from the lowest on; the words of the model are those of the catalogue."""

PARTS = {
    "hands": N_("hands"), "body": N_("body"), "face": N_("face"), "head": N_("head"), "feet": N_("feet"),
}  # fmt: skip
"""What the parts of a person are called."""

SEVERITIES = {"error": N_("error"), "warning": N_("warning"), "note": N_("note")}
"""How grave a finding is."""

_END = re.compile(r"[.!?][\"')\]]*\s+(?=\S)")
"""Where a sentence ends and another begins."""
_UNITS = ((86_400, N_("%(number)s d")), (3_600, N_("%(number)s h")), (60, N_("%(number)s min")))
_SECONDS = N_("%(number)s s")


@lru_cache(maxsize=1024)
def length(seconds: float, speech: Speech) -> str:
    """A length of time as people say it, to the hundredth of a second: 2 min 30 s."""
    rest = round(seconds, 2)
    told = []
    for size, unit in _UNITS:
        whole, rest = divmod(rest, size)
        if whole:
            told.append(speech.say(unit, number=f"{whole:.0f}"))
    rest = round(rest, 2)
    if rest or not told:
        told.append(speech.say(_SECONDS, number=speech.number(rest)))
    return " ".join(told)


def span_of(duration: Duration, speech: Speech) -> str:
    """How long something takes: one length, or the range with what is usual."""
    least, likely, most = (length(value, speech) for value in (duration.least, duration.likely, duration.most))
    if least == most:
        return likely
    return speech.say("%(least)s to %(most)s, usually %(likely)s", least=least, most=most, likely=likely)


def in_words(name: str) -> str:
    """A name of the protocol as words: pack-checked is pack checked."""
    return name.replace("-", " ").replace(".", ": ")


def in_sentence(title: str, language: str = "en") -> str:
    """An English title inside a sentence: its first letter small, unless it is an abbreviation or a proper noun."""
    if language.partition("-")[0].lower() != "en":
        return title
    first = title.split(" ", 1)[0]
    return title if first[1:] != first[1:].lower() else title[:1].lower() + title[1:]


def one_of(words: list[str], speech: Speech) -> str:
    """Words as alternatives: a, b or c."""
    if len(words) == 1:
        return words[0]
    return speech.say("%(others)s or %(last)s", others=", ".join(words[:-1]), last=words[-1])


@lru_cache(maxsize=1024)
def split(text: str) -> tuple[str, str]:
    """A text as its first sentence and the rest."""
    line = " ".join(text.split())
    found = _END.search(line)
    return (line[: found.end()].rstrip(), line[found.end() :]) if found is not None else (line, "")


def opening(text: str, most: int = 90) -> str:
    """The first sentence of a text on one line, cut between words where it grows too long to glance at."""
    line, _ = split(text)
    if len(line) <= most:
        return line
    short = line[: most - 1]
    return (short.rpartition(" ")[0] or short).rstrip(" ,;:") + "…"
