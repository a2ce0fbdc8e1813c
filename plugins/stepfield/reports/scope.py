"""What a check looked at and what it did not: no report leaves that out."""

from __future__ import annotations

import datetime
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ..asepsis import Count, count_orders
from ..checks import Report, all_rules

SAFE = (
    "No findings is not the same as safe: local policy, manufacturers' instructions and licensed judgement come first."
)
MOST_WRITTEN_OUT = 10**15
"""Beyond this many, a reader is told the power of ten."""
_UNTIL_RULE = (
    ("wait-too-short", "whether waits and durations fit together (they are read, not judged)"),
    ("limit-missed", "whether a step keeps the limits of the requirements it meets"),
    ("requirement-unmet", "whether every adopted requirement is met by some step"),
    ("tailoring-lost", "what tailoring.yaml and upstream.yaml change"),
)
_EVER = (
    "whether the steps are the right ones for the operation, and how well they are done",
    "products, instruments and rooms beyond what the text says of them",
    "anything that happens between the steps",
)


@dataclass(frozen=True, slots=True)
class Unproved:
    """A protocol whose orders were not all tried, and why."""

    protocol: str
    why: str


@dataclass(frozen=True, slots=True)
class Checked:
    """How much was checked. ``complete`` is true when every order of every protocol was tried, or proved by a solver.

    ``solved`` names the protocols whose search grew too wide, so that a closer look, orders drawn at random or a solver
    settled the rest; ``asked`` counts the slips that only the solver did. ``orders`` counts the orders of those
    protocols of which every order was, as ``asepsis.counting`` defines them.
    """

    protocols: int
    steps: int
    scenarios: int
    states: int
    orders: Count
    unproved: tuple[Unproved, ...]
    not_checked: tuple[str, ...]
    today: datetime.date
    solved: tuple[str, ...] = ()
    asked: int = 0

    @property
    def complete(self) -> bool:
        """Whether every order of every protocol was tried or proved."""
        return not self.unproved


def checked_of(reports: Sequence[Report]) -> Checked:
    """What one or more reports looked at. Raises ValueError if there is no report."""
    if not reports:
        raise ValueError("nothing was checked")
    examined = [one for report in reports for one in report.facts.examined]
    proofs = [one.proof for one in examined if one.proof is not None]
    whole = [one.proof for one in examined if one.proof is not None and one.unproved is None]
    passed = [one for report in reports for one in report.facts.protocol_set.passed]
    unreadable = [name for report in reports for name in report.facts.protocol_set.unreadable]
    return Checked(
        protocols=len(examined) + len(passed) + len(unreadable),
        steps=sum(len(one.protocol.steps) for one in examined) + sum(one.steps for one in passed),
        scenarios=sum(proof.scenarios for proof in proofs) + sum(one.scenarios for one in passed),
        states=sum(proof.states for proof in proofs) + sum(one.states for one in passed),
        orders=sum(
            [
                *(count_orders(proof.graph) for proof in whole),
                *(Count(*one.orders) for one in passed),
            ],
            Count.of(0),
        ),
        unproved=(
            *(Unproved(name, "its file cannot be read as meant; mend it first") for name in unreadable),
            *(Unproved(one.protocol.id, one.unproved) for one in examined if one.unproved is not None),
        ),
        not_checked=tuple(not_checked(rule.name for rule in all_rules())),
        today=reports[0].facts.today,
        solved=tuple(one.protocol.id for one in examined if one.solved),
        asked=sum(proof.climbed.solved for proof in proofs if proof.climbed is not None),
    )


def covered(checked: Checked) -> str:
    """How far the verdict reaches; orders that make no difference to one another are covered without being tried."""
    told = ", ".join(checked.solved)
    if checked.asked:
        told += f"; a solver was asked {'once' if checked.asked == 1 else f'of {checked.asked:,} slips'}"
    solved = f" (settled without trying them all: {told})" if told else ""
    counted = f"{orders_in_words(checked.orders)} is covered{solved}"
    if checked.complete:
        return counted
    return f"not every order was tried{f'; of the rest, {counted}' if checked.orders.at_least else ''}"


def orders_in_words(orders: Count) -> str:
    """Of how many orders something holds, as "every one of 1,234 orders" or "every one of more than 10^20 orders"."""
    number = orders.at_least
    if number == 0:
        return "every order"
    if orders.at_most == 1:
        return "the only order"
    if number > MOST_WRITTEN_OUT:
        return f"every one of more than 10^{_power_below(number)} orders"
    told = f"{number:,} order" if number == 1 else f"{number:,} orders"
    return f"every one of {told}" if orders.exact else f"every one of at least {told}"


def _power_below(number: int) -> int:
    """The highest power of ten below a number; without writing it out, which for the largest ones is refused."""
    power = max(0, int(number.bit_length() * math.log10(2)) - 1)
    while 10 ** (power + 1) < number:
        power += 1
    return power


def not_checked(rules: Iterable[str]) -> Iterable[str]:
    """What no rule looks at, in words; a sentence goes when the rule that looks at it is there."""
    known = set(rules)
    yield from (words for rule, words in _UNTIL_RULE if rule not in known)
    yield from _EVER
