"""How few people can do a protocol: every way of putting its roles on people, judged by the engine and by the clock.

One person who has several roles does what each of them does, each in its own order and mixed as that person likes, one
step at a time. A team can do a protocol if in each scenario some order keeps asepsis; that fewer people can do it does
not follow from more being able to, nor the other way round, so each team is judged for itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from ..asepsis.graph import compile_protocol
from ..asepsis.order import order_of
from ..language.leaving_out import people_of
from ..language.model import Person, Protocol, Requirement
from ..language.source import Text
from .orders import orders_of
from .settled import in_scenario, scenarios_without_repeats
from .shortest import Scheduler, Shortest, shortest
from .slipping import Slipping, slipping
from .work import work_of

MOST_ROLES = 7
"""So many roles can be put on people in 877 ways; eight in 4,140."""
MOST_SCENARIOS = 256
MOST_STATES = 40_000
"""How many states are looked at in one scenario with one team."""

Team = tuple[tuple[str, ...], ...]
"""The roles of each person."""


@dataclass(frozen=True, slots=True)
class AtOnce:
    """``step`` takes two of one person's ``roles`` at the same moment."""

    step: str
    roles: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Late:
    """Asepsis can be kept, but not the waits and time limits of these ``steps``."""

    steps: tuple[str, ...]


Reason = AtOnce | Slipping | Late


@dataclass(frozen=True, slots=True)
class Verdict:
    """One team in one scenario. ``possible`` is None where the bound on states was reached.

    ``order`` is an order that keeps asepsis, in a plan that takes the ``most`` seconds; see Shortest for the times.
    ``always`` tells that every order keeps asepsis, so that nobody need heed more than the protocol says.
    """

    settled: Mapping[str, str]
    possible: bool | None
    reasons: tuple[Reason, ...] = ()
    order: tuple[str, ...] = ()
    always: bool = False
    least: float = 0.0
    most: float | None = None


@dataclass(frozen=True, slots=True)
class Judged:
    """One team in all scenarios; ``worst`` is the scenario that decides: the first impossible one, or the longest."""

    people: Team
    verdicts: tuple[Verdict, ...]

    @property
    def possible(self) -> bool | None:
        """Whether it can be done in every scenario; None where that was not found out."""
        found = {verdict.possible for verdict in self.verdicts}
        return False if False in found else None if None in found else True

    @property
    def worst(self) -> Verdict:
        """The scenario that decides."""
        for wanted in (False, None):
            for verdict in self.verdicts:
                if verdict.possible is wanted:
                    return verdict
        return max(self.verdicts, key=lambda one: (one.most is None, one.most or one.least))

    @property
    def always(self) -> bool:
        """Whether every order keeps asepsis in every scenario."""
        return all(verdict.always for verdict in self.verdicts)

    @property
    def least(self) -> float:
        """The longest scenario takes at least so many seconds."""
        return max(verdict.least for verdict in self.verdicts)

    @property
    def most(self) -> float | None:
        """It takes no more than so many seconds; None where no plan was found that keeps all time limits."""
        known = [verdict.most for verdict in self.verdicts if verdict.most is not None]
        return max(known) if len(known) == len(self.verdicts) else None


@dataclass(frozen=True, slots=True)
class Teams:
    """Every team of a protocol, the smallest first. ``roles`` are those that do something in it.

    ``foreseen`` and ``all_scenarios`` are as for Scenarios. ``unknown`` counts the steps that say no duration and count
    as taking no time; ``solver`` tells whether there was one for the shortest times.
    """

    roles: tuple[str, ...]
    judged: tuple[Judged, ...]
    foreseen: tuple[str, ...]
    all_scenarios: bool
    unknown: int
    solver: bool

    @property
    def smallest(self) -> int | None:
        """How many people can do it at least; None where no team was found that can."""
        return min((len(one.people) for one in self.judged if one.possible), default=None)

    @property
    def settled(self) -> bool:
        """Whether it is known of every team that is smaller than the smallest found whether it can do it."""
        return all(one.possible is not None for one in self.judged if len(one.people) < (self.smallest or 99))


class TooManyRolesError(ValueError):
    """There are more ways of putting the roles on people than are looked at."""


def teams_of(
    protocol: Protocol,
    requirements: Iterable[Requirement],
    solve: Scheduler | None,
    *,
    limit: int = MOST_STATES,
    scenarios: int = MOST_SCENARIOS,
) -> Teams:
    """Judges every team of a protocol whose names are resolved, whose steps have owners and whose order has no loop.

    Who has several roles in this clinic makes no difference. Raises TooManyRolesError.
    """
    roles = tuple(role.value for role in protocol.team if any(role.value in people_of(step) for step in protocol.steps))
    if len(roles) > MOST_ROLES:
        raise TooManyRolesError(f"{len(roles)} roles can be put on people in too many ways; up to {MOST_ROLES} are.")
    found = scenarios_without_repeats(protocol, scenarios)
    plain = [(settled, in_scenario(protocol, settled)) for settled in found.settled]
    known = tuple(requirements)
    teams = sorted(partitions(roles), key=lambda team: (len(team), team))
    judged = tuple(
        Judged(
            team, tuple(_verdict(with_people(one, team), settled, team, known, solve, limit) for settled, one in plain)
        )
        for team in teams
    )
    unknown = sum(step.takes is None for step in protocol.steps)
    return Teams(roles, judged, found.foreseen, found.all, unknown, solve is not None)


def partitions(roles: Sequence[str]) -> Iterator[Team]:
    """Every way of putting roles on people who are not told apart; the roles of each stay in their order."""
    if not roles:
        yield ()
        return
    for team in partitions(roles[:-1]):
        for at, own in enumerate(team):
            yield (*team[:at], (*own, roles[-1]), *team[at + 1 :])
        yield (*team, (roles[-1],))


def team_now(protocol: Protocol) -> Team:
    """The team as the protocol's clinic has put several roles on one person; empty where it has not."""
    together = {
        role.value: tuple(one.value for one in person.roles) for person in protocol.people for role in person.roles
    }
    own = [together.get(role.value, (role.value,)) for role in protocol.team]
    return tuple(dict.fromkeys(own)) if together else ()


def with_people(protocol: Protocol, team: Team) -> Protocol:
    """The protocol done by a team."""
    people = tuple(
        Person(Text(f"person-{number}", protocol.span), tuple(Text(role, protocol.span) for role in own))
        for number, own in enumerate(team)
        if len(own) > 1
    )
    return replace(protocol, people=people)


def _verdict(
    protocol: Protocol,
    settled: Mapping[str, str],
    team: Team,
    requirements: tuple[Requirement, ...],
    solve: Scheduler | None,
    limit: int,
) -> Verdict:
    graph = compile_protocol(protocol, requirements)
    found = orders_of(graph, limit)
    reasons: list[Reason] = list(_at_once(protocol, team))
    if found.clean is None and found.complete:
        reasons.append(slipping(graph, found, team))
    if reasons:
        return Verdict(settled, False, tuple(reasons))
    if found.clean is None:
        return Verdict(settled, None)
    steps = protocol.steps
    try:
        work = work_of(protocol, order_of(protocol), team)
        quickest = shortest(graph, work, found, limit, solve)
    except ValueError:
        quickest = Shortest(0.0, None, None, impossible=True)
    if quickest.impossible:
        late = [step.id.value for step in steps if step.within] or [step.id.value for step in steps if step.waits]
        return Verdict(settled, False, (Late(tuple(late)),))
    starts = quickest.starts
    sequence = found.clean if starts is None else sorted(range(len(steps)), key=lambda step: starts[step])
    return Verdict(
        settled,
        possible=True,
        order=tuple(steps[step].id.value for step in sequence),
        always=not found.failures,
        least=quickest.least,
        most=quickest.most,
    )


def _at_once(protocol: Protocol, team: Team) -> Iterator[AtOnce]:
    """The first step, for each person, that takes two of the person's roles at the same moment."""
    for own in team:
        for step in protocol.steps:
            both = tuple(role for role in own if role in people_of(step))
            if len(both) > 1:
                yield AtOnce(step.id.value, both)
                break
