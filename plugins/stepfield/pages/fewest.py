"""How few people can do a protocol, in words: a row for every team, with its time or why it cannot."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import groupby

from ..planning.slipping import Slipping
from ..planning.teams import MOST_STATES, AtOnce, Judged, Reason, Team, Teams
from .speech import N_, Speech
from .words import length

MOST_TOLD = 12
"""So many teams of one size are told, the quickest first; the rest are counted."""


@dataclass(frozen=True, slots=True)
class Names:
    """How roles, things and steps are called where the rows are read, each by its id."""

    speech: Speech
    role: Callable[[str], str]
    thing: Callable[[str], str]
    step: Callable[[str], str]


@dataclass(frozen=True, slots=True)
class TeamRow:
    """One team: ``people`` names the roles of each, ``verdict`` is yes, no or unknown, ``told`` what there is to say.

    ``steps`` are the steps that ``told`` names. ``order`` is an order that keeps asepsis, where not every one does.
    """

    people: tuple[str, ...]
    verdict: str
    time: str
    told: tuple[str, ...]
    steps: tuple[str, ...]
    order: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Size:
    """The teams of one size; ``headline`` is the best that can be said of any, ``more`` are teams not told."""

    people: int
    verdict: str
    headline: str
    rows: tuple[TeamRow, ...]
    more: int


@dataclass(frozen=True, slots=True)
class Fewest:
    """Everything on one protocol: one sentence, the sizes, and what to know of this one beside it."""

    smallest: str
    sizes: tuple[Size, ...]
    notes: tuple[str, ...]


def fewest_of(teams: Teams, names: Names, now: Team = ()) -> Fewest:
    """The teams of a protocol in words; ``now`` is the one that the clinic has put down, if any."""
    return Fewest(_smallest(teams, names), tuple(_sizes(teams, names, now)), tuple(_notes(teams, names)))


def notes_of(speech: Speech) -> tuple[str, ...]:
    """What to know of the times and verdicts of any protocol."""
    return (
        speech.say(
            "A time is the shortest there can be: usual durations, everybody begins as soon as possible, one person "
            "does one step at a time, and the longest scenario counts. Questions are answered so that nobody goes back."
        ),
        speech.say(
            "That a team can do it says that some order keeps asepsis, as far as the protocol tells. It says nothing "
            "of fatigue, supervision or what the law and the unit's policy ask, and it is no word on safety."
        ),
    )


def _smallest(teams: Teams, names: Names) -> str:
    speech = names.speech
    if teams.smallest is None:
        told = speech.say("No team was found that can do it.")
    else:
        told = speech.count(
            "The smallest team has %(number)s person.", "The smallest team has %(number)s people.", teams.smallest
        )
    if teams.settled:
        return told
    unsure = speech.say("Of some smaller teams it was not found out.")
    return f"{told} {unsure}"


def _sizes(teams: Teams, names: Names, now: Team) -> Iterator[Size]:
    for people, some in groupby(teams.judged, lambda one: len(one.people)):
        ranked = sorted(some, key=_rank)
        rows = tuple(_marked(_row(one, names), _is(one.people, now), names) for one in ranked[:MOST_TOLD])
        best = rows[0]
        yield Size(people, best.verdict, best.time or _word(best, names.speech), rows, len(ranked) - len(rows))


def _is(team: Team, now: Team) -> bool:
    """Whether a team is that of the clinic, in which roles may stand that have nothing to do."""
    roles = {role for own in team for role in own}
    return {frozenset(own) for own in team} == {frozenset(own) & roles for own in now} - {frozenset()}


def _marked(row: TeamRow, is_now: bool, names: Names) -> TeamRow:
    if not is_now:
        return row
    return replace(row, told=(names.speech.say("This is the team that the clinic has put down."), *row.told))


def _word(row: TeamRow, speech: Speech) -> str:
    return speech.say("impossible") if row.verdict == "no" else speech.say("not found out: too many orders")


def _rank(one: Judged) -> tuple[int, float]:
    """The possible first and of these the quickest, then those of which nothing is known."""
    place = {True: 0, None: 1, False: 2}[one.possible]
    return (place, (one.least if one.most is None else one.most) if one.possible else 0.0)


def _row(one: Judged, names: Names) -> TeamRow:
    speech, worst = names.speech, one.worst
    people = tuple(" + ".join(names.role(role) for role in own) for own in one.people)
    if one.possible is None:
        told = speech.say("More than %(number)s states: whether some order keeps asepsis was not found out.",
                          number=f"{MOST_STATES:,}")  # fmt: skip
        return TeamRow(people, "unknown", "", (told,), (), ())
    if not one.possible:
        known = [sentence for reason in worst.reasons for sentence in _reason(reason, names)]
        if any(verdict.possible for verdict in one.verdicts):
            settled = ", ".join(f"{name}: {option}" for name, option in worst.settled.items())
            known.append(speech.say("This is so with: %(settled)s.", settled=settled))
        return TeamRow(people, "no", "", tuple(known), tuple(_steps(worst.reasons)), ())
    if one.always:
        return TeamRow(people, "yes", _time(one, speech), (speech.say("Every order keeps asepsis."),), (), ())
    told = speech.say("Not every order keeps asepsis: who does what first has to be agreed.")
    return TeamRow(people, "yes", _time(one, speech), (told,), (), worst.order)


def _time(one: Judged, speech: Speech) -> str:
    least = _length(one.least, speech)
    if one.most is None:
        return speech.say("at least %(least)s; no plan is known that keeps every time limit", least=least)
    if one.most == one.least:
        return least
    return speech.say("between %(least)s and %(most)s", least=least, most=_length(one.most, speech))


def _length(seconds: float, speech: Speech) -> str:
    """To the minute, or to the second below ten minutes."""
    return length(round(seconds / 60) * 60 if seconds >= 600 else round(seconds), speech)


def _reason(reason: Reason, names: Names) -> Iterator[str]:
    say = names.speech.say
    if isinstance(reason, AtOnce):
        roles = ", ".join(names.role(role) for role in reason.roles)
        yield say("Step %(step)s takes two of one person's roles at the same moment: %(roles)s.",
                  step=names.step(reason.step), roles=roles)  # fmt: skip
    elif not isinstance(reason, Slipping):
        yield say("Waits and time limits cannot all be kept; there are such in the steps %(steps)s.",
                  steps=", ".join(names.step(step) for step in reason.steps))  # fmt: skip
    elif reason.other is None or reason.against is None:
        yield say("No order keeps asepsis. In the one that comes farthest: %(what)s.", what=_what(reason, names))
    else:
        two = {
            "one": names.step(reason.other), "role": names.role(reason.other_role or ""),
            "two": names.step(reason.against), "other": names.role(reason.role or ""),
        }  # fmt: skip
        if reason.level is not None:
            yield say(
                "Between step %(one)s (as %(role)s) and step %(two)s (as %(other)s) one person would have to be "
                "%(level)s and not.", level=say(reason.level), **two,
            )  # fmt: skip
        else:
            yield say("One person does step %(one)s (as %(role)s) and step %(two)s (as %(other)s).", **two)
        yield say("No order keeps asepsis. In the one that comes farthest: %(what)s.", what=_what(reason, names))


_WHAT = {
    "needs-not-met": N_("%(thing)s: not %(level)s before step %(step)s"),
    "field-broken": N_("%(thing)s: part of the sterile field, and touched by what is not sterile in step %(step)s"),
    "not-available": N_("%(thing)s: not there in step %(step)s"),
    "fact-missing": N_("%(thing)s: not confirmed before step %(step)s"),
    "skin-exposed": N_("%(thing)s: bare skin, soiled in step %(step)s"),
    "left-soiled": N_("%(thing)s: left soiled at the end, since step %(step)s"),
    "left-on": N_("%(thing)s: left on or covered at the end"),
    "cover-missing": N_("%(thing)s: to be taken off in step %(step)s, and not there or not on top"),
    "sharp-loose": N_("%(thing)s: a sharp thing, left loose"),
    "count-missing": N_("%(thing)s: used without a count before it and after it"),
    "fire-risk": N_("%(thing)s: not dry yet in step %(step)s, which makes sparks"),
}
"""What is wrong, by the rule of the finding it would be."""


def _what(reason: Slipping, names: Names) -> str:
    at = reason.step or reason.cause
    return names.speech.say(
        _WHAT[reason.rule],
        thing=names.thing(reason.subject),
        level=names.speech.say(reason.level) if reason.level is not None else "",
        step=names.step(at) if at is not None else "",
    )


def _steps(reasons: tuple[Reason, ...]) -> Iterator[str]:
    found: list[str | None] = []
    for reason in reasons:
        if isinstance(reason, AtOnce):
            found.append(reason.step)
        elif isinstance(reason, Slipping):
            found += [reason.other, reason.against, reason.step]
        else:
            found += reason.steps
    yield from dict.fromkeys(step for step in found if step is not None)


def _notes(teams: Teams, names: Names) -> Iterator[str]:
    speech = names.speech
    if teams.foreseen:
        yield speech.say("Answers that change what is done are taken as known beforehand: steps %(steps)s.",
                         steps=", ".join(names.step(step) for step in teams.foreseen))  # fmt: skip
    if teams.unknown:
        yield speech.count(
            "%(number)s step says no duration and counts as taking no time.",
            "%(number)s steps say no duration and count as taking no time.",
            teams.unknown,
        )
    if not teams.all_scenarios:
        yield speech.say("There are more scenarios than were looked at; in the others it may be otherwise.")
    if not teams.solver and any(one.possible and one.most != one.least for one in teams.judged):
        yield speech.say("Where two bounds stand for a time, the optional planner is not installed that narrows them.")
