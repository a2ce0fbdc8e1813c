"""Looking names up: what is declared nowhere is told once and mended with the nearest name, and reading goes on."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from .source import Problem, Text

MOST_NEAR = 4
MOST_PLACES = 8
MOST_GUESSED = 100
"""After so many problems no near names are looked for any more: a file that is all wrong must not take minutes."""


@dataclass(slots=True)
class Lookup:
    """Looks names up for one protocol and keeps its problems. ``sound`` turns False when a name could not be mended.

    A name that is declared nowhere is one slip, however often it is used: the later places are noted beside the first.
    """

    protocol: str | None
    sound: bool = True
    _problems: list[Problem] = field(default_factory=list)
    _told: dict[tuple[str, str], int] = field(default_factory=dict)
    _mended: dict[tuple[str, str], str | None] = field(default_factory=dict)

    @property
    def problems(self) -> tuple[Problem, ...]:
        """The problems so far."""
        return tuple(self._problems)

    def find(self, name: Text, known: Mapping[str, Text], what: str, step: str | None = None) -> Text | None:
        """The name itself if it is known; else, with the problem noted, the nearest one, or None if none comes near."""
        if name.value in known:
            return name
        key = (name.value, what)
        if key in self._told:
            self._again(name, self._told[key])
        else:
            self._told[key] = len(self._problems)
            self._mended[key] = self._unknown(name, known, what, step)
        mended = self._mended[key]
        return None if mended is None else Text(mended, name.span)

    def _unknown(self, name: Text, known: Mapping[str, Text], what: str, step: str | None) -> str | None:
        close = near(name.value, known) if len(self._problems) < MOST_GUESSED else ()
        message = f"no {what} is called {quoted(name.value)}; {_nearest(close)}"
        hint = f"write {quoted(close[0])}" if close else None
        related = tuple((known[other].span, f"{quoted(other)} is declared here") for other in close)
        self._problems.append(
            Problem("unknown-name", name.span, message, self.protocol, step, name.value, hint, related)
        )
        if close:
            return close[0]
        self.sound = False
        return None

    def _again(self, name: Text, number: int) -> None:
        told = self._problems[number]
        if len(told.related) < MOST_PLACES and name.span != told.span:
            place = (name.span, f"{quoted(name.value)} stands here too")
            self._problems[number] = replace(told, related=(*told.related, place))

    def taken(self, name: Text, first: Text, step: str | None = None, around: Iterable[str] = ()) -> None:
        """Notes that a name is declared a second time; ``around`` are the packs it stands in, if it is one of them."""
        packs = list(around)
        if packs:
            way = " → ".join(quoted(pack) for pack in (*packs[packs.index(name.value) :], name.value))
            message, hint = f"the pack {quoted(name.value)} holds itself: {way}", "call what lies inside otherwise"
        else:
            message = f"the name {quoted(name.value)} is declared a second time"
            hint = "give one of the two another name"
        related = ((first.span, "it is declared here first"),)
        self._problems.append(Problem("taken-name", name.span, message, self.protocol, step, name.value, hint, related))


def near(name: str, known: Iterable[str]) -> tuple[str, ...]:
    """At most four known names that look like this one, the likeliest first."""
    from difflib import get_close_matches

    return tuple(get_close_matches(name, sorted(known), MOST_NEAR, 0.6 if len(name) > 3 else 0.5))


def quoted(name: str) -> str:
    """A name as messages show it: on one line, and cut if it is very long."""
    name = " ".join(name.split())
    return f"'{name}'" if len(name) <= 60 else f"'{name[:57]}…'"


def listed(names: Iterable[str], last: str = "or") -> str:
    """Names in a row: 'a', 'b' or 'c'."""
    shown = [quoted(name) for name in names]
    return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} {last} {shown[-1]}"


def _nearest(close: tuple[str, ...]) -> str:
    return f"the nearest name is {listed(close)}" if close else "no name declared comes near"
