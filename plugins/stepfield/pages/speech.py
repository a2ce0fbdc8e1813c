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
from babel.numbers import format_decimal
from babel.support import NullTranslations, Translations

_FOLDER = Path(__file__).parent / "languages"


@dataclass(frozen=True)
class Speech:
    """Says things in the language of a clinic, or in English where there is no catalogue of it.

    ``language`` is the clinic's, in which its protocols are written; ``spoken`` is the one in which things are said,
    and ``direction`` is "ltr" or "rtl", the way the script of that one runs.
    """

    language: str
    spoken: str
    direction: str
    catalogue: NullTranslations

    def say(self, message: str, **values: object) -> str:
        """A message in this language, its %(names)s filled in."""
        said = self.catalogue.gettext(message)
        return said % values if values else said

    def count(self, one: str, many: str, number: int, **values: object) -> str:
        """A message that depends on a number, which fills in %(number)s."""
        return self.catalogue.ngettext(one, many, number) % {"number": number, **values}

    def number(self, value: float) -> str:
        """A number with its decimal sign, to the hundredth: 2.5 or 2,5."""
        return format_decimal(round(value, 2), format="0.##", locale=self.spoken.partition("-")[0])


@cache
def speech(language: str) -> Speech:
    """The speech of a language, given as a BCP 47 tag; English words where there is no catalogue of it."""
    code = language.partition("-")[0].lower()
    spoken = language if code in languages() else "en"
    return Speech(language, spoken, _direction(spoken), _catalogue(code))


def N_(message: str) -> str:  # noqa: N802 - the usual name for this
    """Marks a message that is said elsewhere, so that it is found for the catalogues."""
    return message


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
