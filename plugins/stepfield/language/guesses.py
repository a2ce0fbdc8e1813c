"""What somebody probably meant by a value that does not fit."""

from __future__ import annotations

import re
import unicodedata
from typing import Any

from .names import near, quoted
from .schemas import Misfit

_CURLY = "\u2018\u2019\u201a\u201c\u201d\u201e"
_LOOSE_DURATION = re.compile(r"\s*([0-9]{1,9}(?:[.,][0-9]{1,6})?)\s*([a-z]{1,8})\.?\s*", re.IGNORECASE)
_UNITS = {
    "s": ("s", "sec", "secs", "second", "seconds"),
    "min": ("m", "min", "mins", "minute", "minutes"),
    "h": ("h", "hr", "hrs", "hour", "hours"),
    "d": ("d", "day", "days"),
}
_YES = frozenset(("yes", "y", "on", "true"))
_NO = frozenset(("no", "n", "off", "false"))


def stands(value: Any) -> str:
    """How a message calls a value that stands somewhere."""
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return f"{str(value).lower()} (a yes-or-no value)"
    if isinstance(value, str):
        return f"the text {quoted(value)}"
    if isinstance(value, int | float):
        return f"the number {value}"
    return "a list" if isinstance(value, list) else "a mapping"


def guess(misfit: Misfit) -> str | None:
    """What to write instead, if that can be guessed."""
    value = misfit.instance
    if value is None:
        return "fill it in, or take the key out" if misfit.route else None
    if isinstance(value, str):
        return _for_text(value.strip(), misfit)
    if isinstance(value, bool | int | float) and misfit.keyword == "type" and misfit.wanted == "string":
        quotes_help = all(re.search(layer.get("pattern", ""), str(value)) for layer in misfit.layers)
        return "put it in quotes" if quotes_help else None
    if isinstance(value, list) and len(value) == 1 and misfit.keyword == "type" and misfit.wanted == "string":
        return f"write {value[0]} without brackets"
    return None


def _for_text(value: str, misfit: Misfit) -> str | None:
    if any(end.isspace() and end not in " \t\n" for end in (misfit.instance[:1], misfit.instance[-1:])):
        return "delete the space beside it, which is read as a letter, and type an ordinary one"
    if value[:1] in _CURLY or value[-1:] in _CURLY:
        return "take the curly quotes out: they are read as letters"
    if misfit.keyword == "enum":
        close = near(value.lower(), [word for word in misfit.wanted if isinstance(word, str)])
        return f"write {quoted(close[0])}" if close else None
    if misfit.keyword == "const":
        return f"write {quoted(str(misfit.wanted))}"
    if misfit.keyword == "type":
        return _for_type(value, misfit.wanted)
    if misfit.keyword == "pattern":
        return _for_pattern(value, str(misfit.wanted))
    return None


def _for_type(value: str, wanted: Any) -> str | None:
    if wanted == "boolean":
        word = value.lower()
        return "write true" if word in _YES else "write false" if word in _NO else None
    if wanted == "array":
        return f"write [{value}]" if value and len(value) <= 40 and re.fullmatch(r"[a-z0-9.-]*", value) else None
    if wanted == "integer" and value.isdecimal():
        return f"write {value} without quotes"
    return None


def _for_pattern(value: str, pattern: str) -> str | None:
    """A text that fits the pattern and is close to the one that does not, or the letter that is not what it seems."""
    foreign = next((sign for sign in value if sign.isalpha() and not sign.isascii()), None)
    if foreign and re.search(pattern, value.replace(foreign, "a")):
        return f"type {quoted(foreign)} again: it is the letter {unicodedata.name(foreign, 'without a name').lower()}"
    slug = re.sub(r"[^a-z0-9]+", "-", value[:60].lower()).strip("-")
    for candidate in (_duration(value), slug):
        if candidate and candidate != value and re.search(pattern, candidate):
            return f"write {quoted(candidate)}"
    return None


def _duration(value: str) -> str | None:
    match = _LOOSE_DURATION.fullmatch(value[:40])
    if match is None:
        return None
    unit = next((unit for unit, words in _UNITS.items() if match[2].lower() in words), None)
    return f"{match[1].replace(',', '.')} {unit}" if unit else None
