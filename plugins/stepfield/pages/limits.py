"""Limits, sources and states of requirements in the clinic's language."""

from __future__ import annotations

from ..checks.tracing import Traced
from ..language.model import Requirement
from ..language.quantities import Limit, Quantity
from .speech import N_, Speech

STATES = {
    "met": N_("adopted, and answered"),
    "unmet": N_("adopted, and no step answers it"),
    "extra": N_("answered, though not adopted"),
}
"""How a protocol stands to a requirement."""
_SIGNS = {
    "s": N_("%(number)s s"), "min": N_("%(number)s min"), "h": N_("%(number)s h"), "d": N_("%(number)s d"),
    "in": N_("%(number)s inch"), "degC": N_("%(number)s °C"), "degF": N_("%(number)s °F"),
    "ACH": N_("%(number)s air changes an hour"), "CFU/mL": N_("%(number)s colonies per millilitre"),
}  # fmt: skip
"""How units are shown that are not shown as they are written."""


def limit_words(limit: Limit | None, speech: Speech) -> str:
    """A limit in the clinic's language; empty where there is none."""
    if limit is None:
        return ""
    told = []
    if limit.at_least is not None:
        told.append(speech.say("at least %(amount)s", amount=amount(limit.at_least, speech)))
    if limit.at_most is not None:
        told.append(speech.say("at most %(amount)s", amount=amount(limit.at_most, speech)))
    return ", ".join(told)


def amount(quantity: Quantity, speech: Speech) -> str:
    """A quantity in the clinic's language: 2.5 cm or 2,5 cm."""
    number = speech.number(float(quantity.value))
    sign = _SIGNS.get(quantity.unit)
    return speech.say(sign, number=number) if sign is not None else f"{number} {quantity.unit}"


def source_line(one: Requirement) -> str:
    """Source, section and year."""
    return ", ".join(part for part in (one.source, one.section, str(one.year) if one.year else None) if part)


def state_of(row: Traced, protocol: str) -> str:
    """How a protocol stands to a requirement: met, unmet or extra."""
    if protocol not in row.met:
        return "unmet"
    return "met" if protocol in row.adopted else "extra"
