"""Questions about one protocol: what holds before a step, whether something can be so, and what a breach would do.

Names that are not there are told with the nearest that are.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

from ..asepsis import Exploration, compile_protocol, explore, order_of
from ..asepsis.breach import Breach, breach_of
from ..asepsis.queries import STATES, Before, Can, before_step, can_be
from ..language.model import Clinic, Protocol, ProtocolSet
from ..language.names import near
from .facts import why_not_explored
from .words import listed, quoted

ASK_LIMIT = 20_000
"""How many states one search for an answer looks at before it gives up and the answer says so."""


class QuestionError(ValueError):
    """A question that cannot be asked: it names what is not there, or the protocol has to be mended first."""


@dataclass(frozen=True, slots=True)
class Answer:
    """The answer to one question about a protocol, and what stands behind it.

    ``states`` were looked at. Where ``proved`` is false the limit on them was reached: what is said then holds of the
    orders tried, and nothing is proved of the others.
    """

    protocol: Protocol
    clinic: Clinic | None
    result: Before | Can | Breach
    states: int
    proved: bool


def ask_before(protocol_set: ProtocolSet, protocol: str, step: str, *, limit: int = ASK_LIMIT) -> Answer:
    """How everybody stands just before a step, and what each may touch. Raises QuestionError."""
    asked = _Asked(protocol_set, protocol, limit)
    number = asked.step(step)
    return asked.answer(before_step(asked.explored, number))


def ask_can(protocol_set: ProtocolSet, protocol: str, claim: str, at: str, *, limit: int = ASK_LIMIT) -> Answer:
    """Whether a claim such as "surgeon.hands sterile" holds just before the step ``at``. Raises QuestionError."""
    asked = _Asked(protocol_set, protocol, limit)
    subject, state = asked.claim(claim)
    number = asked.step(at)
    return asked.answer(can_be(asked.explored, subject, state, number))


def ask_breach(protocol_set: ProtocolSet, protocol: str, subject: str, at: str, *, limit: int = ASK_LIMIT) -> Answer:
    """What becomes of the case if a subject is contaminated just before the step ``at``. Raises QuestionError."""
    asked = _Asked(protocol_set, protocol, limit)
    thing, number = asked.subject(subject), asked.step(at)
    # Where not even the orders without the breach could all be tried, the rest is no proof and need not take as long.
    onward = limit if asked.explored.complete else limit // 4
    result = breach_of(asked.explored, thing, number, onward)
    return asked.answer(result, result.complete)


def explored_of(protocol_set: ProtocolSet, protocol: str, limit: int = ASK_LIMIT) -> Exploration:
    """Every order of a protocol, tried once, up to so many states. Raises QuestionError where it can't be explored."""
    return _Asked(protocol_set, protocol, limit).explored


class _Asked:
    """One protocol of a set, ready for questions."""

    def __init__(self, protocol_set: ProtocolSet, protocol: str, limit: int) -> None:
        self.protocol_set, self.limit = protocol_set, limit
        self.protocol = _protocol(protocol_set, protocol)
        reason = why_not_explored(self.protocol, protocol_set, order_of(self.protocol))
        if reason is not None:
            raise QuestionError(f"Nothing can be asked of {quoted(self.protocol.id)} yet: {reason}.")
        self.graph = compile_protocol(self.protocol, protocol_set.requirements)

    @cached_property
    def explored(self) -> Exploration:
        """Every order, tried once."""
        return explore(self.graph, self.limit, reduced=False)

    def answer(self, result: Before | Can | Breach, complete: bool = True) -> Answer:
        """The result with what stands behind it."""
        found = self.explored
        return Answer(self.protocol, self.protocol_set.clinic, result, len(found.done), found.complete and complete)

    def step(self, name: str) -> int:
        """The number of a step."""
        return _find(name, self.graph.index, f"no step of {quoted(self.protocol.id)}")

    def subject(self, name: str) -> int:
        """The number of a subject."""
        return _find(name, self.graph.number, f"nothing in {quoted(self.protocol.id)}")

    def claim(self, text: str) -> tuple[int, str]:
        """The subject and the state that a claim speaks of; a word "is" or "are" between them is passed over."""
        words = [word for word in text.split() if word not in ("is", "are")]
        if len(words) != 2:
            raise QuestionError(
                f"{quoted(text)} is not a thing and a state, such as 'surgeon.hands sterile'. "
                f"The states: {', '.join(STATES)}."
            )
        if words[1] not in STATES:
            close = near(words[1], STATES)
            hint = f"The nearest: {listed(close, 'or')}" if close else f"The states: {', '.join(STATES)}"
            raise QuestionError(f"There is no state {quoted(words[1])}. {hint}.")
        return self.subject(words[0]), words[1]


def _protocol(protocol_set: ProtocolSet, name: str) -> Protocol:
    known = {protocol.id: protocol for protocol in protocol_set.protocols}
    if name in known:
        return known[name]
    if name in protocol_set.unreadable:
        raise QuestionError(f"The protocol {quoted(name)} cannot be read as meant: check it, and mend it first.")
    raise QuestionError(f"There is no protocol {quoted(name)}. {_hint(name, known)}")


def _find(name: str, known: Mapping[str, int], what: str) -> int:
    if name not in known:
        raise QuestionError(f"There is {what} called {quoted(name)}. {_hint(name, known)}")
    return known[name]


def _hint(name: str, known: Iterable[str]) -> str:
    """The nearest names; a name may also be what another one ends with, as steps of a part do."""
    known = list(known)
    close = [other for other in known if other.endswith(f".{name}")][:4] or near(name, known)
    if close:
        return f"The nearest: {listed([quoted(other) for other in close], 'or')}."
    return f"None comes near. The names: {listed(map(quoted, known), most=12) or 'none'}."
