"""True and false that may be known already or left to a solver; what is known is worked out at once."""

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


class Solver:
    """Finds out what is left open."""

    def __init__(self, seconds: float) -> None:
        self._terms: dict[Formula, Any] = {}
        self._solver = z3.SolverFor("QF_FD")
        self._solver.set("timeout", int(seconds * 1000))
        self._model: Any = None

    def know(self, *bits: Bit) -> None:
        """From now on these hold."""
        self._solver.add(*map(self._term, bits))

    def can(self, *bits: Bit) -> bool:
        """Whether these can hold together with what is known. Raises TimeoutError if that takes too long."""
        result = self._solver.check(*map(self._literal, bits))
        if result == z3.unknown:
            raise TimeoutError
        self._model = self._solver.model() if result == z3.sat else None
        return bool(result == z3.sat)

    def holds(self, bit: Bit) -> bool:
        """Whether it holds in the case that the last ``can`` found."""
        return bool(z3.is_true(self._model.eval(self._term(bit), model_completion=True)))

    def _literal(self, bit: Bit) -> Any:
        """A name that stands for the formula: only names can be assumed for one question."""
        name = z3.FreshBool()
        self._solver.add(name == self._term(bit))
        return name

    def _term(self, bit: Bit) -> Any:
        """The solver's term for it; deep formulas are worked through without calling oneself."""
        if isinstance(bit, bool):
            return z3.BoolVal(bit)
        waiting = [bit]
        while waiting:
            formula = waiting[-1]
            lacking = [part for part in formula.parts if isinstance(part, Formula) and part not in self._terms]
            if formula.kind != "name" and lacking:
                waiting += lacking
                continue
            waiting.pop()
            if formula not in self._terms:
                self._terms[formula] = self._made(formula)
        return self._terms[bit]

    def _made(self, formula: Formula) -> Any:
        if formula.kind == "name":
            return z3.Bool(formula.parts[0])
        parts = [self._terms[part] for part in formula.parts]
        return {"and": z3.And, "or": z3.Or, "not": z3.Not, "if": z3.If}[formula.kind](*parts)
