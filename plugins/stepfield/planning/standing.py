"""How long opened packs and laid-up fields stand before they are used, and how long fields stand in all.

A field here is a surface or site of the patient under a cover that came sterile.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from ..asepsis.order import Order
from ..language.model import Kind, Level, Protocol, Step

Times = Mapping[int, float] | Sequence[float]
"""Seconds, by the index of the step."""


@dataclass(frozen=True, slots=True)
class Standing:
    """A pack that ``since`` opens, or a field that ``since`` lays up; all steps by their index.

    ``uses`` are the steps of which the first is its first use: for a pack those that handle what it holds; for a field
    those that take something which lies there, or, where nothing is said to lie there, those that use something on
    the patient. ``ends`` are the steps of which the first gives a field up; none for a pack.
    """

    kind: str
    subject: str
    since: int
    uses: tuple[int, ...]
    ends: tuple[int, ...]

    def before_use(self, starts: Times, ends: Times) -> float:
        """How long it stands before it is used, in seconds; ``starts`` and ``ends`` are those of the steps."""
        return max(0.0, min(starts[number] for number in self.uses) - ends[self.since])

    def in_all(self, starts: Times, ends: Times) -> float | None:
        """How long a field stands until it is given up; None where it never is."""
        return max(0.0, min(starts[number] for number in self.ends) - ends[self.since]) if self.ends else None


def standings(protocol: Protocol, order: Order, done: Sequence[bool]) -> tuple[Standing, ...]:
    """Every pack and field of one scenario that is used at all, in the order in which they are written to be opened."""
    here = [number for number, is_done in enumerate(done) if is_done]
    found = [*opened(protocol, here), *_laid_up(protocol, order, here)]
    return tuple(sorted(found, key=lambda one: one.since))


def opened(protocol: Protocol, done: Iterable[int]) -> Iterator[Standing]:
    """The packs that the steps which are done open, if they handle what the packs hold."""
    steps = protocol.steps
    here = [(number, steps[number]) for number in done]
    held: dict[str, set[str]] = {}
    for name, subject in protocol.subjects.items():
        if subject.held_in is not None:
            held.setdefault(subject.held_in, set()).add(name)
    for number, step in here:
        for effect in step.effects:
            pack = effect.thing.value
            if effect.field == "opens" and pack in held:
                uses = tuple(other for other, one in here if other != number and _handles(one, held[pack]))
                if uses:
                    yield Standing("pack", pack, number, uses, ())


def _laid_up(protocol: Protocol, order: Order, done: Sequence[int]) -> Iterator[Standing]:
    ancestors, steps = order.ancestors(), protocol.steps
    for number in done:
        step = steps[number]
        for effect in step.effects:
            name = effect.thing.value
            if effect.field == "covers" and effect.target is not None and _lays_up(protocol, name, effect.target.value):
                later = [(one, steps[one]) for one in done if one != number and not ancestors[number] >> one & 1]
                lying = {item for one in (step, *(one for _, one in later)) for item in _put_on(one, name)}
                uses = tuple(other for other, one in later if _takes(protocol, one, lying))
                ends = tuple(other for other, one in later if _gives_up(one, name))
                if uses:
                    yield Standing("field", name, number, uses, ends)


def _lays_up(protocol: Protocol, target: str, cover: str) -> bool:
    covered, sheet = protocol.subjects.get(target), protocol.subjects.get(cover)
    return (
        covered is not None
        and sheet is not None
        and covered.kind in (Kind.SURFACE, Kind.SITE)
        and sheet.starts is Level.STERILE
    )


def _put_on(step: Step, surface: str) -> Iterator[str]:
    for effect in step.effects:
        if effect.field in ("lays", "presents") and effect.target is not None and effect.target.value == surface:
            yield effect.thing.value


def _takes(protocol: Protocol, step: Step, lying: set[str]) -> bool:
    for effect in step.effects:
        if lying and effect.field in ("uses", "passes", "touches", "dons", "covers"):
            if {effect.thing.value, effect.target.value if effect.target is not None else ""} & lying:
                return True
        elif not lying and effect.field == "uses" and effect.target is not None:
            subject = protocol.subjects.get(effect.target.value)
            if subject is not None and subject.kind is Kind.SITE:
                return True
    return False


def _gives_up(step: Step, surface: str) -> bool:
    return step.ends_field or any(
        effect.field == "uncovers" and effect.thing.value == surface for effect in step.effects
    )


def _handles(step: Step, things: set[str]) -> bool:
    return any(
        name is not None and name.value in things for effect in step.effects for name in (effect.thing, effect.target)
    )
