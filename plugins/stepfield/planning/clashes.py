"""Which waits and time limits of a protocol can't be kept together, and by which chain of steps.

Two questions, in every scenario: can they be kept at all, if every step is as quick as it may be; and are the limits
still kept if every step takes as long as it may. A step without a duration counts as taking no time.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from ..asepsis.order import Order
from ..language.model import Protocol
from .network import Bound, Network
from .scenarios import done_in, scenarios_of

MOST_SCENARIOS = 4096
"""How many settlings of the choices and answers that matter are looked at for one protocol."""


@dataclass(frozen=True, slots=True)
class Link:
    """One link of a clash: ``kind`` is "takes", "order", "wait" or "limit".

    ``step`` is the step it leads to (for "takes" the step itself), ``of`` the one it starts from, ``seconds`` how long.
    """

    kind: str
    step: int
    of: int
    seconds: float


@dataclass(frozen=True, slots=True)
class Clash:
    """A limit (or, where ``limit`` is None, a wait) that can't be kept.

    ``chain`` tells what takes time, from the earliest to the latest; ``needed`` are the seconds it comes to. ``slow``
    tells that this is so only if steps take their longest. ``scenario`` is the first one found.
    """

    limit: Link | None
    wait: Link | None
    chain: tuple[Link, ...]
    needed: float
    slow: bool
    scenario: Mapping[str, str]


def clashes(protocol: Protocol, order: Order) -> tuple[Clash, ...]:
    """Every limit and wait that can't be kept, each once, impossible ones first; needs an order without loops."""
    times = _Times(protocol, order)
    if not times.can_clash():
        return ()
    found: list[Clash] = []
    for slow in (False, True):
        for scenario in times.scenarios():
            found += times.clashing(scenario, slow, [one.limit or one.wait for one in found])
    return tuple(found)


class _Times:
    """The network of one protocol: moment 2n is the start of step n, moment 2n + 1 its end."""

    def __init__(self, protocol: Protocol, order: Order) -> None:
        self.protocol, self.steps, self.order = protocol, protocol.steps, order
        self.index = {step.id.value: number for number, step in enumerate(self.steps)}
        self.waits = [
            Link("wait", number, self.index[wait.step.value], wait.seconds)
            for number, step in enumerate(self.steps)
            for wait in step.waits
            if wait.step.value in self.index
        ]
        self.limits = [
            Link("limit", number, self.index[wait.step.value], wait.seconds)
            for number, step in enumerate(self.steps)
            for wait in step.within
            if wait.step.value in self.index
        ]

    def can_clash(self) -> bool:
        """A first look that settles most protocols: all steps at once, each at its longest, ask for the most."""
        if not self.waits and not self.limits:
            return False
        return bool(Network(self._moments(), self._bounds([True] * len(self.steps), True, [])).clash())

    def _moments(self) -> int:
        return 2 * len(self.steps) + len(set(self.order.phase_of)) + 1

    def scenarios(self) -> Iterator[dict[str, str]]:
        """The settlings of the choices and answers that steps look at, up to MOST_SCENARIOS."""
        return itertools.islice(scenarios_of(self.protocol), MOST_SCENARIOS)

    def clashing(self, scenario: Mapping[str, str], slow: bool, known: list[Link | None]) -> Iterator[Clash]:
        """The clashes of one scenario; each is told by a limit (or a wait) that is then left out, to find the next."""
        left_out = [one for one in known if one is not None]
        while True:
            chain = self._network(scenario, slow, left_out).clash()
            if not chain:
                return
            links = [bound.reason for bound in chain]
            limits = [one for one in links if one.kind == "limit"]
            waits = [one for one in links if one.kind == "wait"]
            blamed = max(limits or waits, key=lambda one: one.step)
            left_out.append(blamed)
            forward = _told(self._longest(scenario, slow, left_out, blamed) or links, blamed)
            yield Clash(
                limit=blamed if limits else None,
                wait=None if limits else blamed,
                chain=forward,
                needed=sum(one.seconds for one in forward if one.kind in ("takes", "wait")),
                slow=slow,
                scenario=scenario,
            )

    def _longest(self, scenario: Mapping[str, str], slow: bool, left_out: list[Link], blamed: Link) -> list[Link]:
        """The chain that asks for the most time against a limit; empty where other clashes stand in the way."""
        if blamed.kind != "limit":
            return []
        try:
            chain = self._network(scenario, slow, left_out).tightest(2 * blamed.step + 1, 2 * blamed.of + 1)
        except ValueError:
            return []
        return [*(bound.reason for bound in chain), blamed]

    def _network(self, scenario: Mapping[str, str], slow: bool, left_out: list[Link]) -> Network[Link]:
        present = done_in(self.protocol, scenario)
        return Network(self._moments(), self._bounds(present, slow, left_out))

    def _bounds(self, present: list[bool], slow: bool, left_out: list[Link]) -> Iterator[Bound[Link]]:
        """Later steps first: distances run against the clock, and settle the sooner."""
        for link in self.order.links:
            yield Bound(2 * link.later, 2 * link.earlier + 1, 0.0, Link("order", link.later, link.earlier, 0.0))
        for number in reversed(range(len(self.steps))):
            yield from self._of_step(number, present[number], slow)
        for one in (*self.waits, *self.limits):
            if present[one.step] and present[one.of] and one not in left_out:
                if one.kind == "wait":
                    yield Bound(2 * one.step, 2 * one.of + 1, -one.seconds, one)
                else:
                    yield Bound(2 * one.of + 1, 2 * one.step + 1, one.seconds, one)

    def _of_step(self, number: int, is_done: bool, slow: bool) -> Iterator[Bound[Link]]:
        """How long a step takes, and that it lies between the beginning and the end of its phase."""
        takes = self.steps[number].takes if is_done else None
        least = 0.0 if takes is None else takes.most if slow else takes.least
        if takes is not None:
            yield Bound(2 * number, 2 * number + 1, takes.most, Link("takes", number, number, takes.most))
        begins = 2 * len(self.steps) + self.order.phase_of[number]
        order = Link("order", number, number, 0.0)
        yield Bound(begins + 1, 2 * number + 1, 0.0, order)
        yield Bound(2 * number + 1, 2 * number, -least, Link("takes", number, number, least))
        yield Bound(2 * number, begins, 0.0, order)


def _told(links: list[Link], blamed: Link) -> tuple[Link, ...]:
    """What takes time on the way from the beginning of the blamed bound to its end.

    A cycle runs against the clock wherever it says "at least": told the other way round it runs with it.
    """
    turned = list(reversed(links))
    at = turned.index(blamed)
    return tuple(link for link in (*turned[at + 1 :], *turned[:at]) if link.kind != "order" and link.seconds > 0)
