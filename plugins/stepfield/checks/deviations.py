"""Grading what a clinic changes in an adopted set, by what the change does and never by what it says of itself.

Each field of a step has a way in which it guards somebody: what is asked for may grow or shrink, a time may be longer
or shorter. ``FIELDS`` says which way is the looser one. A change that is looser in one field and stricter in another
is looser.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from enum import IntEnum
from functools import partial
from typing import Any

from ..language.model import Level, Step, Subject
from ..language.names import quoted
from ..language.tailored import Deviation
from ..language.tailoring_fields import bare


class Effect(IntEnum):
    """What a change does to those it protects; a higher one outweighs a lower one."""

    NEUTRAL = 0
    STRICTER = 1
    LOOSER = 2

    @property
    def word(self) -> str:
        """The grade as reports write it."""
        return self.name.lower()


@dataclass(frozen=True, slots=True)
class Graded:
    """What a change of one field does, and the reason in a few words that follow on 'looser:'."""

    effect: Effect
    field: str
    reason: str


Amounts = Mapping[str, float]
"""How much of each thing is asked for; what is not there is not asked for."""
_L, _S, _N = Effect.LOOSER, Effect.STRICTER, Effect.NEUTRAL


@dataclass(frozen=True, slots=True)
class Way:
    """How a field is read as amounts, what more and less of one do, and the reasons."""

    amounts: Callable[[Step], Amounts]
    less: Effect
    more: Effect
    of_less: str = ""
    of_more: str = ""


def _effects(field: str, step: Step) -> Amounts:
    """Effects of one field; for levels the level that is reached, counted from 1."""
    return {
        f"{one.thing} {one.target or ''}": 1.0 if one.level is None else 1.0 + one.level
        for one in step.effects
        if one.field == field
    }


def _names(attribute: str, step: Step) -> Amounts:
    return {name.value: 1.0 for name in getattr(step, attribute)}


def _needs(step: Step) -> Amounts:
    """Levels that are needed; those of the owner's hands and body are the same whoever the owner is."""
    own = f"{step.role}."
    # A need of the lowest level always holds: it asks for nothing.
    asking = (need for need in step.needs if need.level > Level.CONTAMINATED)
    return {
        f"own.{need.subject.value.removeprefix(own)}"
        if need.subject.value.startswith(own)
        else need.subject.value: float(need.level)
        for need in asking
    }


def _cautions(step: Step) -> Amounts:
    return {kind: float(count) for kind, count in Counter(one.kind.value for one in step.cautions).items()}


def _waits(step: Step) -> Amounts:
    return {wait.step.value: wait.seconds for wait in step.waits}


def _within(step: Step) -> Amounts:
    """Time limits, the shorter the more is asked for."""
    return {limit.step.value: 1.0 / (1.0 + limit.seconds) for limit in step.within}


def _least(step: Step) -> Amounts:
    return {} if step.takes is None else {"": step.takes.least}


def _keeps(step: Step) -> Amounts:
    """The values themselves: which way a limit goes is not known here."""
    return {f"{kept.requirement} {kept.amount}": 1.0 for kept in step.keeps}


def _answers(step: Step) -> Amounts:
    return {} if step.asks is None else {answer.value: 1.0 for answer in step.asks.answers}


def _repeat(step: Step) -> Amounts:
    return {} if step.repeat is None else {f"{step.repeat.start} {step.repeat.answer}": 1.0}


def _flag(attribute: str, step: Step) -> Amounts:
    return {"": 1.0} if getattr(step, attribute) else {}


def _nothing(_: Step) -> Amounts:
    return {}


_TOLD = "the text no longer tells of it, so that nobody reckons with it"
_WORDS = Way(_nothing, _N, _N)


def _free(field: str) -> Way:
    return Way(partial(_effects, field), _N, _N)


FIELDS: dict[str, Way] = {
    "do": _WORDS,
    "why": _WORDS,
    "role": _WORDS,
    "with": _WORDS,
    "when": _WORDS,  # judged apart: it depends on what the step does
    "after": Way(partial(_names, "after"), _L, _S, "it may be done earlier than it was"),
    "needs": Way(_needs, _L, _S, "a level that was needed is needed no more, or a lower one"),
    "requires": Way(partial(_names, "requires"), _L, _S, "a fact that had to hold need not hold"),
    "confirms": Way(partial(_names, "confirms"), _L, _S, "a check is gone"),
    "withdraws": Way(partial(_names, "withdraws"), _L, _S, "a fact holds on after it was to end"),
    "makes": Way(partial(_effects, "makes"), _L, _S, "a reset is gone, or it reaches less"),
    "counts": Way(partial(_effects, "counts"), _L, _S, "a count is gone"),
    "cautions": Way(_cautions, _L, _S, "a caution is gone"),
    "meets": Way(partial(_names, "meets"), _L, _S, "a requirement is met here no more"),
    "keeps": Way(_keeps, _L, _S, "a value that was kept is another one, or gone"),
    "records": Way(partial(_names, "records"), _L, _S, "a line of the record sheet is gone"),
    "waits": Way(_waits, _L, _S, "a least time is shorter or gone"),
    "within": Way(_within, _L, _S, "a most time is longer or gone"),
    "takes": Way(_least, _L, _S, "the least time it takes is shorter"),
    "asks": Way(_answers, _L, _S, "an answer can be given no more"),
    "repeat": Way(_repeat, _L, _S, "what fails is not done again as it was"),
    "covers": Way(partial(_effects, "covers"), _L, _S, "a cover is gone"),
    "dons": Way(partial(_effects, "dons"), _L, _S, "something that protects is not put on"),
    "uncovers": Way(partial(_effects, "uncovers"), _N, _L, "", "a cover is taken off"),
    "doffs": Way(partial(_effects, "doffs"), _N, _L, "", "something that protects is taken off"),
    "wets": Way(partial(_effects, "wets"), _L, _S, _TOLD),
    "contaminates": Way(partial(_effects, "contaminates"), _L, _S, _TOLD),
    "soils": Way(partial(_effects, "soils"), _L, _S, _TOLD),
    "discards": Way(partial(_effects, "discards"), _L, _S, "something is not thrown away, or elsewhere"),
    "hands_over": Way(partial(_effects, "hands_over"), _L, _S, "something is not handed over to reprocessing"),
    "opens": _free("opens"),
    "touches": _free("touches"),
    "passes": _free("passes"),
    "uses": _free("uses"),
    "lays": _free("lays"),
    "presents": _free("presents"),
    "ignition": Way(partial(_flag, "ignition"), _L, _S, "a source of sparks is told of no more"),
    "ends_field": Way(partial(_flag, "ends_field"), _S, _L, "", "the sterile field is given up here"),
}
"""Every field of a step but its name; what ``sterile`` stands for is among the needs."""
_WHOLE_STEP = frozenset({"after", "when", "takes", "uncovers", "doffs"})
"""Fields that say nothing for or against a step that is added or left out as a whole.

Order through a step that is left out is kept, and what is taken off in an added one the search of all orders judges.
"""

_THING: Mapping[str, tuple[Callable[[Any], float], str]] = {
    "starts": (lambda level: -float(level), "it is taken to be cleaner at the beginning than it was"),
    "fluid_proof": (lambda proof: -float(proof), "it is taken to keep out what went through it"),
    "counted": (float, "it is no longer counted"),
    "sharp": (float, "it is no longer told to be sharp"),
    "sharps": (lambda box: -float(box), "it is taken to be a container for sharp things"),
    "reusable": (float, "it no longer goes to reprocessing"),
    "hazard": (lambda hazard: float(bool(hazard)), "its danger is told of no more"),
}
"""Attributes of a thing as an amount of care; what is less of it is looser."""


def grades_of(deviation: Deviation) -> tuple[Graded, ...]:
    """What the change does, field by field, the looser ones first; at least one, if only that it is neutral."""
    before, after = deviation.before, deviation.after
    if isinstance(before, Subject) and isinstance(after, Subject):
        found = list(_of_thing(before, after))
    elif isinstance(before, Step) and isinstance(after, Step):
        found = list(_of_step(before, after))
    else:
        found = list(_of_whole(before, after))
    if deviation.timed:
        found.append(Graded(Effect.LOOSER, "waits", f"{quoted(deviation.timed[0])} counts a time from it"))
    if deviation.emptied is not None:
        reason = f"no step of the phase {quoted(deviation.emptied)} is left, and its cautions go with it"
        found.append(Graded(Effect.LOOSER, "cautions", reason))
    return tuple(sorted(found, key=lambda one: -one.effect)) or (Graded(Effect.NEUTRAL, "", ""),)


def grade_of(deviation: Deviation) -> Effect:
    """The grade of the whole change."""
    return grades_of(deviation)[0].effect


def guards(step: Step) -> bool:
    """Whether leaving the step out is looser."""
    return any(one.effect is Effect.LOOSER for one in _of_whole(step, None))


def _of_step(before: Step, after: Step) -> Iterator[Graded]:
    for field, way in FIELDS.items():
        yield from _judged(field, way, way.amounts(before), way.amounts(after))
    if bare(before.when) != bare(after.when) and (guards(before) or guards(after)):
        narrower = _is_narrower(before, after)
        reason = "it guards somebody, and is left out in more cases" if narrower else ""
        yield Graded(Effect.LOOSER if narrower else Effect.STRICTER, "when", reason)


def _of_whole(before: Step | Subject | None, after: Step | Subject | None) -> Iterator[Graded]:
    for field, way in FIELDS.items():
        if field not in _WHOLE_STEP:
            was = way.amounts(before) if isinstance(before, Step) else {}
            now = way.amounts(after) if isinstance(after, Step) else {}
            yield from _judged(field, way, was, now)


def _judged(field: str, way: Way, was: Amounts, now: Amounts) -> Iterator[Graded]:
    names = {*was, *now}
    if any(now.get(name, 0.0) < was.get(name, 0.0) for name in names) and way.less is not _N:
        yield Graded(way.less, field, way.of_less)
    if any(now.get(name, 0.0) > was.get(name, 0.0) for name in names) and way.more is not _N:
        yield Graded(way.more, field, way.of_more)


def _of_thing(before: Subject, after: Subject) -> Iterator[Graded]:
    for field, (care, reason) in _THING.items():
        was, now = care(getattr(before, field)), care(getattr(after, field))
        if was != now:
            yield Graded(Effect.LOOSER if now < was else Effect.STRICTER, field, reason if now < was else "")
        elif getattr(before, field) != getattr(after, field):
            yield Graded(Effect.LOOSER, field, reason)


def _is_narrower(before: Step, after: Step) -> bool:
    """Whether there are cases in which the step was done and is done no longer."""
    was = {part.name.value: {option.value for option in part.options} for part in before.when}
    now = {part.name.value: {option.value for option in part.options} for part in after.when}
    return any(name not in was or not was[name] <= options for name, options in now.items())
