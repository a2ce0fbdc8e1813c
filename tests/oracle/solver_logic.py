"""True and false that may be known already or left to the solver; what is known is worked out at once."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import z3


class Formula:
    """Something the solver is to find out: a name, or ``and``, ``or``, ``not``, ``if`` of other formulas."""

    __slots__ = ("kind", "opposite", "parts")

    def __init__(self, kind: str, parts: tuple[Any, ...]) -> None:
        self.kind, self.parts = kind, parts
        self.opposite: Formula | None = None


Bit = bool | Formula


def named(name: str) -> Bit:
    """Something that may be either way."""
    return Formula("name", (name,))


def every(bits: Iterable[Bit]) -> Bit:
    """All of them hold."""
    return _joined("and", bits, neutral=True)


def some(bits: Iterable[Bit]) -> Bit:
    """At least one of them holds."""
    return _joined("or", bits, neutral=False)


def _joined(kind: str, bits: Iterable[Bit], *, neutral: bool) -> Bit:
    left: dict[Formula, None] = {}
    for bit in bits:
        if isinstance(bit, Formula):
            if bit.opposite in left:
                return not neutral
            left[bit] = None
        elif bit is not neutral:
            return not neutral
    if len(left) < 2:
        return next(iter(left), neutral)
    return Formula(kind, tuple(left))


def both(one: Bit, other: Bit) -> Bit:
    """The one and the other."""
    return every((one, other))


def either(one: Bit, other: Bit) -> Bit:
    """The one or the other."""
    return some((one, other))


def negated(bit: Bit) -> Bit:
    """It does not hold."""
    if not isinstance(bit, Formula):
        return not bit
    if bit.opposite is None:
        bit.opposite = Formula("not", (bit,))
        bit.opposite.opposite = bit
    return bit.opposite


def pick(condition: Bit, then: Bit, otherwise: Bit) -> Bit:
    """``then`` where the condition holds, ``otherwise`` where it does not."""
    if then is otherwise or condition is True:
        return then
    if condition is False:
        return otherwise
    if isinstance(then, bool) or isinstance(otherwise, bool):
        return either(both(condition, then), both(negated(condition), otherwise))
    return Formula("if", (condition, then, otherwise))


class Translation:
    """Formulas in the solver's own terms, each translated once."""

    def __init__(self) -> None:
        self.known: dict[Formula, z3.BoolRef] = {}

    def of(self, bit: Bit) -> z3.BoolRef:
        """The solver's term for it; deep formulas are worked through without calling oneself."""
        if isinstance(bit, bool):
            return z3.BoolVal(bit)
        waiting = [bit]
        while waiting:
            formula = waiting[-1]
            lacking = [part for part in formula.parts if isinstance(part, Formula) and part not in self.known]
            if formula.kind != "name" and lacking:
                waiting += lacking
                continue
            waiting.pop()
            if formula not in self.known:
                self.known[formula] = self._term(formula)
        return self.known[bit]

    def _term(self, formula: Formula) -> z3.BoolRef:
        if formula.kind == "name":
            return z3.Bool(formula.parts[0])
        parts = [self.known[part] for part in formula.parts]
        make = {"and": z3.And, "or": z3.Or, "not": z3.Not, "if": z3.If}[formula.kind]
        return make(*parts)
