"""Words the pages use for levels, hazards, lengths of time and states of approval."""

from __future__ import annotations

import re

from ..language.model import Duration

HAZARDS = {
    "sharps": "Sharps",
    "fire": "Fire",
    "chemical": "Chemical",
    "splash": "Splash",
    "pressure": "Pressure",
    "electrical": "Electricity",
    "allergy": "Allergy",
    "medicine": "Medicine",
    "general": "Take care",
}
"""The signal word beside the warning sign, by kind of caution."""

STATES = {
    "draft": ("Draft", "not approved: for writing and review, not for use"),
    "in-review": ("In review", "not approved yet: not for use"),
    "retired": ("Retired", "withdrawn: no longer for use"),
}
"""What marks a protocol that is not approved: the word, and what it means."""

FIRST_THINGS = "Local policy, manufacturers' instructions and licensed judgement come first."
"""The caution every page carries."""

_END = re.compile(r"[.!?][\"')\]]*\s+(?=\S)")
"""Where a sentence ends and another begins."""
_UNITS = ((86_400, "d"), (3_600, "h"), (60, "min"), (1, "s"))


def length(seconds: float) -> str:
    """A length of time as people say it, to the hundredth of a second: 2 min 30 s."""
    rest = round(seconds, 2)
    told = []
    for size, unit in _UNITS[:-1]:
        whole, rest = divmod(rest, size)
        if whole:
            told.append(f"{whole:.0f} {unit}")
    rest = round(rest, 2)
    if rest or not told:
        told.append(f"{rest:g} s")
    return " ".join(told)


def span_of(duration: Duration) -> str:
    """How long something takes: one length, or the range with what is usual."""
    least, likely, most = (length(value) for value in (duration.least, duration.likely, duration.most))
    if least == most:
        return likely
    return f"{least} to {most}, usually {likely}"


def in_words(name: str) -> str:
    """A name of the protocol as words: pack-checked is pack checked."""
    return name.replace("-", " ").replace(".", ": ")


def in_sentence(title: str) -> str:
    """A title inside a sentence: its first letter small, unless it is an abbreviation or a proper noun."""
    first = title.split(" ", 1)[0]
    return title if first[1:] != first[1:].lower() else title[:1].lower() + title[1:]


def one_of(words: list[str]) -> str:
    """Words as alternatives: a, b or c."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"


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
