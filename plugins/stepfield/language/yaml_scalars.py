"""What a scalar without quotes means: the core schema of YAML 1.2 (1.2.2, chapter 10.3.2), with one thing left out.

A number with a needless leading zero (``012``) stays text, since people write codes that way; so do all the words and
forms that older YAML gave a meaning: ``no``, ``on``, ``2:30``, ``2026-10-01``.
"""

from __future__ import annotations

import math
import re

from .yaml_nodes import Value

_WORDS: dict[str, Value] = {
    "": None,
    "~": None,
    **dict.fromkeys(("null", "Null", "NULL"), None),
    **dict.fromkeys(("true", "True", "TRUE"), True),
    **dict.fromkeys(("false", "False", "FALSE"), False),
}
_FIRST = frozenset("+-.0123456789")
_INT = re.compile(r"[-+]?(?:0|[1-9][0-9]*)")
_OCTAL = re.compile(r"0o[0-7]+")
_HEXADECIMAL = re.compile(r"0x[0-9a-fA-F]+")
_FLOAT = re.compile(r"[-+]?(?:\.[0-9]+|(?:0|[1-9][0-9]*)(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?")
_ENDLESS = re.compile(r"[-+]?\.(?:inf|Inf|INF)|\.(?:nan|NaN|NAN)")
MOST_DIGITS = 18


class UnusableNumberError(ValueError):
    """A number that cannot be kept exactly: too many digits, or not finite."""


def typed(text: str) -> Value:
    """The value of a plain scalar. Raises UnusableNumberError for a number of too many digits or that is not finite."""
    if text in _WORDS:
        return _WORDS[text]
    if text[0] not in _FIRST:
        return text
    for pattern, base in ((_INT, 10), (_OCTAL, 8), (_HEXADECIMAL, 16)):
        if pattern.fullmatch(text):
            digits = text.lstrip("+-") if base == 10 else text[2:]
            if len(digits) > MOST_DIGITS:
                raise UnusableNumberError(f"a number of {len(digits)} digits")
            return int(digits if text[0] != "-" else "-" + digits, base)
    if _FLOAT.fullmatch(text):
        if len(text) > 4 * MOST_DIGITS or not math.isfinite(float(text)):
            raise UnusableNumberError("a number too long or too large to be kept exactly")
        return float(text)
    if _ENDLESS.fullmatch(text):
        raise UnusableNumberError("a number that is not finite")
    return text
