"""Single fields of a step as a file would write them: for entries of tailoring.yaml, and to show them to people."""

from __future__ import annotations

from collections.abc import Iterable

from .model import Duration, Step, Wait
from .schemas import effect_forms
from .source import Text
from .tailoring_fields import sterile_needs
from .yaml_nodes import Plain

_UNITS = ((86_400.0, "d"), (3_600.0, "h"), (60.0, "min"), (1.0, "s"))
_LISTS = {
    "with": "helpers",
    **{name: name for name in ("after", "requires", "confirms", "withdraws", "records", "meets")},
}


def written_field(step: Step, field: str) -> Plain:
    """The value of a field, written as the language writes it; None where nothing is said that could be written.

    Empty lists and mappings, and flags that are not set, can be written; a role, a reason, a question, a way back or a
    duration that is not there cannot.
    """
    if field in _LISTS:
        return _names(getattr(step, _LISTS[field]))
    if field in ("ignition", "ends_field"):
        return bool(getattr(step, field))
    if field in ("do", "why", "role"):
        value = getattr(step, field)
        return None if value is None else " ".join(str(value).split())
    if field in _WRITTEN:
        return _WRITTEN[field](step)
    return _effects(step, field)


def written_time(seconds: float) -> str:
    """A length of time as the language writes it, in the largest unit that needs no fraction: 90 s, 3 min."""
    for size, unit in _UNITS:
        if seconds and seconds % size == 0:
            return f"{seconds / size:.0f} {unit}"
    return f"{seconds:.6f}".rstrip("0").rstrip(".") + " s"


def _names(names: Iterable[Text]) -> Plain:
    return [name.value for name in names]


def _when(step: Step) -> Plain:
    return {
        part.name.value: part.options[0].value if len(part.options) == 1 else _names(part.options) for part in step.when
    }


def _needs(step: Step) -> Plain:
    own = sterile_needs(step)
    return {need.subject.value: need.level.word for need in step.needs if need not in own}


def _asks(step: Step) -> Plain:
    if step.asks is None:
        return None
    return {"question": " ".join(str(step.asks.question).split()), "answers": _names(step.asks.answers)}


def _repeat(step: Step) -> Plain:
    return None if step.repeat is None else {"from": step.repeat.start.value, "answer": step.repeat.answer.value}


def _takes(step: Step) -> Plain:
    return None if step.takes is None else _duration(step.takes)


def _duration(takes: Duration) -> Plain:
    if takes.least == takes.most:
        return written_time(takes.least)
    return {name: written_time(getattr(takes, name)) for name in ("least", "likely", "most")}


def _waits(waits: Iterable[Wait], step: str, bound: str) -> Plain:
    return [{step: wait.step.value, bound: written_time(wait.seconds)} for wait in waits]


def _keeps(step: Step) -> Plain:
    return {kept.requirement.value: str(kept.amount) for kept in step.keeps}


def _cautions(step: Step) -> Plain:
    return [{"kind": one.kind.value, "text": " ".join(str(one.text).split())} for one in step.cautions]


_WRITTEN = {
    "when": _when,
    "needs": _needs,
    "sterile": lambda step: bool(sterile_needs(step)),
    "asks": _asks,
    "repeat": _repeat,
    "takes": _takes,
    "waits": lambda step: _waits(step.waits, "for", "at_least"),
    "within": lambda step: _waits(step.within, "of", "at_most"),
    "cautions": _cautions,
    "keeps": _keeps,
}


def _effects(step: Step, field: str) -> Plain:
    form = next(form.form for form in effect_forms() if form.field == field)
    found = [one for one in step.effects if one.field == field]
    if form == "levels":
        return {one.thing.value: one.level.word for one in found if one.level is not None}
    if form == "map" or (found and found[0].target is not None):
        return {one.thing.value: str(one.target) for one in found}
    return _names(one.thing for one in found)
