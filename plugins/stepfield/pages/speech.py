"""The words of the interface in the clinic's language, from message catalogues; protocol text is never translated.

The one place that knows the library for catalogues. A message that a catalogue lacks is said in English.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from io import BytesIO
from pathlib import Path

from babel import Locale
from babel.core import UnknownLocaleError
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po
from babel.support import NullTranslations, Translations

_FOLDER = Path(__file__).parent / "languages"


@dataclass(frozen=True)
class Speech:
    """Says things in one language. ``direction`` is "ltr" or "rtl", the way its script runs."""

    language: str
    direction: str
    catalogue: NullTranslations

    def say(self, message: str, **values: object) -> str:
        """A message in this language, its %(names)s filled in."""
        said = self.catalogue.gettext(message)
        return said % values if values else said

    def count(self, one: str, many: str, number: int, **values: object) -> str:
        """A message that depends on a number, which fills in %(number)s."""
        return self.catalogue.ngettext(one, many, number) % {"number": number, **values}


@cache
def speech(language: str) -> Speech:
    """The speech of a language, given as a BCP 47 tag; English words where there is no catalogue of it."""
    code = language.partition("-")[0].lower()
    return Speech(language, _direction(language), _catalogue(code))


def languages() -> tuple[str, ...]:
    """The languages that have a catalogue, English first."""
    return ("en", *sorted(path.stem for path in _FOLDER.glob("*.po")))


def _direction(language: str) -> str:
    try:
        return str(Locale.parse(language, sep="-").text_direction)
    except (ValueError, UnknownLocaleError):
        return "ltr"


def _catalogue(code: str) -> NullTranslations:
    path = _FOLDER / f"{code}.po"
    if code not in languages() or not path.is_file():
        return NullTranslations()
    with path.open("rb") as file:
        messages = read_po(file, locale=code, abort_invalid=True)
    compiled = BytesIO()
    write_mo(compiled, messages)
    compiled.seek(0)
    return Translations(compiled)
