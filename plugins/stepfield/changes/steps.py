"""What differs between a step and the same step of the other text, field by field, in phrases and with its grade."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping

from ..checks.clocks import time_of
from ..checks.words import Naming, folded, quoted
from ..language.model import Effect, Protocol, Step
from .grades import Grade, guards, is_sterile, of_field
from .matching import Matching
from .model import Detail

_PHRASES: Mapping[str, str] = {
    "opens": "opens {thing}",
    "touches": "touches {thing}",
    "passes": "passes {thing} to {target}",
    "uses": "uses {thing} on {target}",
    "lays": "lays {thing} on {target}",
    "presents": "presents {thing} onto {target}",
    "covers": "covers {thing} with {target}",
    "dons": "puts on {thing}",
    "uncovers": "uncovers {thing}",
    "doffs": "takes off {thing}",
    "makes": "makes {thing} {level}",
    "wets": "wets {thing}",
    "contaminates": "contaminates {thing}",
    "soils": "soils {thing}",
    "counts": "counts {thing}",
    "discards": "discards {thing} into {target}",
    "hands_over": "hands over {thing}",
}
_CONTACTS = frozenset({"opens", "touches", "passes", "uses", "lays", "presents"})
_UNORDERED = frozenset({"confirms", "withdraws"})
Names = Callable[[str], str]


def same(name: str) -> str:
    """The name as it is."""
    return name


class Phrases:
    """Says of one text's steps what their fields ask, with names as the new text has them."""

    def __init__(self, protocol: Protocol, naming: Naming, step: Names = same, thing: Names = same) -> None:
        self.protocol, self.naming, self.step, self.thing = protocol, naming, step, thing

    def of(self, one: Step) -> dict[str, tuple[str, ...]]:
        """The phrases of every field but the words of the step; a field that is not there has none."""
        found: dict[str, tuple[str, ...]] = {
            "role": () if one.role is None else (f"done by {self._role(one.role)}",),
            "with": tuple(sorted(f"together with {self._role(role)}" for role in one.helpers)),
            "when": tuple(sorted(self._when(one))),
            "needs": tuple(sorted(f"needs {self._thing(need.subject)} {need.level.word}" for need in one.needs)),
            "requires": tuple(sorted(f"only once {quoted(fact)} holds" for fact in one.requires)),
            "confirms": tuple(sorted(f"says that {quoted(fact)} holds" for fact in one.confirms)),
            "withdraws": tuple(sorted(f"ends that {quoted(fact)} holds" for fact in one.withdraws)),
            "repeat": tuple(self._repeat(one)),
            "takes": tuple(self._takes(one)),
            "waits": tuple(f"at least {time_of(one_)} after {quoted(name)}" for name, one_ in self.waits(one).items()),
            "within": tuple(f"at most {time_of(one_)} after {quoted(name)}" for name, one_ in self.within(one).items()),
            "cautions": tuple(sorted(f"{caution.kind} caution: {_line(caution.text)}" for caution in one.cautions)),
            "records": tuple(sorted(f"records {quoted(self.thing(name.value))}" for name in one.records)),
            "meets": tuple(sorted(f"meets {quoted(name)}" for name in one.meets)),
            "keeps": tuple(sorted(f"keeps {kept.amount} for {quoted(kept.requirement)}" for kept in one.keeps)),
            "ignition": ("a heat or spark source is in use",) if one.ignition else (),
            "ends_field": ("the sterile field is given up here",) if one.ends_field else (),
        }
        if one.asks is not None:
            found["asks"] = (f"answers {', '.join(sorted(answer.value for answer in one.asks.answers))}",)
        for effect in one.effects:
            found[effect.field] = (*found.get(effect.field, ()), self._effect(effect))
        return found

    def waits(self, one: Step) -> dict[str, float]:
        """The least times to wait, by the step they count from."""
        return {self.step(wait.step.value): wait.seconds for wait in one.waits}

    def within(self, one: Step) -> dict[str, float]:
        """The most times allowed, by the step they count from."""
        return {self.step(wait.step.value): wait.seconds for wait in one.within}

    def conditions(self, one: Step) -> dict[str, frozenset[str]]:
        """What must have been chosen or answered, by the choice or the step that asks."""
        return {self.step(part.name.value): frozenset(opt.value for opt in part.options) for part in one.when}

    def _effect(self, effect: Effect) -> str:
        phrase = _PHRASES.get(effect.field, f"{effect.field} {{thing}}")
        if effect.target is None:
            phrase = phrase.partition(" into ")[0] if effect.field == "discards" else phrase
        target = "" if effect.target is None else self._thing(effect.target)
        level = "" if effect.level is None else effect.level.word
        return phrase.format(thing=self._thing(effect.thing), target=target, level=level)

    def _when(self, one: Step) -> Iterator[str]:
        for name, options in self.conditions(one).items():
            yield f"only if {quoted(name)} is {' or '.join(sorted(options))}"

    def _repeat(self, one: Step) -> Iterator[str]:
        if one.repeat is not None:
            yield f"back to {quoted(self.step(one.repeat.start.value))} if {quoted(one.repeat.answer)}"

    @staticmethod
    def _takes(one: Step) -> Iterator[str]:
        if one.takes is not None:
            times = dict.fromkeys((one.takes.least, one.takes.likely, one.takes.most))
            yield f"takes {' – '.join(map(time_of, times))}"

    def _role(self, role: object) -> str:
        return quoted(role)

    def _thing(self, name: object) -> str:
        return quoted(self.thing(str(name)))


def details_of(matching: Matching, old: Step, new: Step, naming: tuple[Naming, Naming]) -> Iterator[Detail]:
    """Every field in which two steps that belong together differ; not where they stand."""
    before = Phrases(matching.old, naming[0], matching.step, matching.thing)
    after = Phrases(matching.new, naming[1])
    yield from _words(old, new)
    sterile = is_sterile(old, matching.old) or is_sterile(new, matching.new)
    guarded = guards(old, matching.old)
    lost_of, gained_of = before.of(old), after.of(new)
    for field in dict.fromkeys((*lost_of, *gained_of)):
        was, now = lost_of.get(field, ()), gained_of.get(field, ())
        if was == now:
            continue
        grading = of_field(field)
        grade, reason = grading.grade, grading.reason
        if sterile and (field in _CONTACTS or field in ("role", "with")):
            grade, reason = Grade.SAFETY, "The step asks for something disinfected or sterile, or handles it."
        elif field == "when" and guarded and _is_narrower(before.conditions(old), after.conditions(new)):
            grade, reason = Grade.SAFETY, "A step that keeps somebody safe is left out in more cases."
        elif field == "waits" and any(
            after.waits(new).get(name, 0) < least for name, least in before.waits(old).items()
        ):
            grade, reason = Grade.SAFETY, "Somebody may go on earlier than before."
        elif field == "within" and any(
            after.within(new).get(name, float("inf")) > most for name, most in before.within(old).items()
        ):
            grade, reason = Grade.SAFETY, "It may be done later than before."
        lost, gained = _without(was, now), _without(now, was)
        if not lost and not gained:
            lost, gained = ("in the order " + ", ".join(was),), ("in the order " + ", ".join(now),)
        yield Detail(field, grade, reason, lost, gained)


def whole_step(step: Step, protocol: Protocol, naming: Naming, *, gone: bool) -> Detail:
    """What is told of a step that is new or gone."""
    safe = guards(step, protocol)
    grade = Grade.SAFETY if safe else Grade.WORKING
    reason = "It keeps somebody safe." if safe else "Something is done that was not, or the other way round."
    fields = Phrases(protocol, naming).of(step)
    told = (folded(step.do.value), *(phrase for field in fields.values() for phrase in field))
    return Detail("step", grade, reason, told if gone else (), () if gone else told)


def _words(old: Step, new: Step) -> Iterator[Detail]:
    """Where only the words of a step differ."""
    texts = [
        ("id", old.id.value, new.id.value),
        ("do", _line(old.do), _line(new.do)),
        ("why", _line(old.why or ""), _line(new.why or "")),
        ("question", _line(old.asks.question if old.asks else ""), _line(new.asks.question if new.asks else "")),
    ]
    for field, was, now in texts:
        if was != now:
            grading = of_field(field)
            yield Detail(field, grading.grade, grading.reason, (was,) if was else (), (now,) if now else ())


def _is_narrower(before: Mapping[str, frozenset[str]], after: Mapping[str, frozenset[str]]) -> bool:
    """Whether there are cases in which the step was done and is done no longer."""
    return any(name not in before or not before[name] <= options for name, options in after.items())


def _without(some: Iterable[str], others: Iterable[str]) -> tuple[str, ...]:
    known = set(others)
    return tuple(phrase for phrase in some if phrase not in known)


def _line(text: object) -> str:
    return " ".join(str(text).split())
