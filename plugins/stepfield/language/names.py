"""Looking names up: what is declared nowhere is told once and mended with the nearest name, so that reading can go on."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from .source import Problem, Text

MOST_NEAR = 4


@dataclass(slots=True)
class Lookup:
    """Looks names up for one protocol and keeps its problems. ``sound`` turns False when a name could not be mended."""

    protocol: str | None
    problems: list[Problem] = field(default_factory=list)
    sound: bool = True

    def find(self, name: Text, known: Mapping[str, Text], what: str, step: str | None = None) -> Text | None:
        """The name itself if it is known; else, with the problem noted, the nearest one, or None if none comes near."""
        if name.value in known:
            return name
        close = near(name.value, known)
        message = f"no {what} is called {quoted(name.value)}; {_nearest(close)}"
        hint = f"write {quoted(close[0])}" if close else None
        related = tuple((known[other].span, f"{quoted(other)} is declared here") for other in close)
        self.problems.append(Problem("unknown-name", name.span, message, self.protocol, step, name.value, hint, related))
        if close:
            return Text(close[0], name.span)
        self.sound = False
        return None

    def taken(self, name: Text, first: Text, step: str | None = None) -> None:
        """Notes that a name is declared a second time."""
        message = f"the name {quoted(name.value)} is declared a second time"
        related = ((first.span, "it is declared here first"),)
        self.problems.append(
            Problem("taken-name", name.span, message, self.protocol, step, name.value, "give one of the two another name", related)
        )


def near(name: str, known: Iterable[str]) -> tuple[str, ...]:
    """At most four known names that look like this one, the likeliest first."""
    from difflib import get_close_matches

    return tuple(get_close_matches(name, sorted(known), MOST_NEAR))


def quoted(name: str) -> str:
    """A name as messages show it, cut if it is very long."""
    return f"'{name}'" if len(name) <= 60 else f"'{name[:57]}…'"


def listed(names: Iterable[str], last: str = "or") -> str:
    """Names in a row: 'a', 'b' or 'c'."""
    shown = [quoted(name) for name in names]
    return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} {last} {shown[-1]}"


def _nearest(close: tuple[str, ...]) -> str:
    return f"the nearest name is {listed(close)}" if close else "no name declared comes near"
